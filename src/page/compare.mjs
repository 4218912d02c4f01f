// Two settings side by side, and why one is finer than the other.
import {h, fill, table, shown} from './dom.mjs';
import {two, size, percent, typeset, label, answerWords, unit} from './words.mjs';
import {chanceOf} from './chance.mjs';
import {isWanted} from './window_panel.mjs';
import {valueAt} from './keys.mjs';

function differences(app, a, b) {
  return app.keys
    .map((key) => [key, valueAt(a, key.path), valueAt(b, key.path)])
    .filter(([, x, y]) => String(x ?? '') !== String(y ?? ''));
}

export function buildCompare(node, app) {
  const out = h('div', {'aria-live': 'polite'});
  const pins = () =>
    [0, 1].map((i) => {
      const pin = app.pins[i],
        letter = 'AB'[i];
      return h(
        'div',
        {class: 'pin'},
        h('h3', {}, `Setting ${letter}`),
        h('p', {}, pin ? pin.name : 'nothing pinned yet'),
        h(
          'div',
          {class: 'row'},
          h(
            'button',
            {
              type: 'button',
              id: `pin-${letter}`,
              onclick: () => {
                app.pin(i);
                paint();
              },
            },
            `Pin the present setting as ${letter}`,
          ),
          pin
            ? h(
                'button',
                {type: 'button', class: 'plain', onclick: () => app.open(pin.document, app.name)},
                `Go to ${letter}`,
              )
            : null,
        ),
      );
    });
  const run = async () => {
    const [a, b] = app.pins;
    if (!a || !b) {
      fill(out, h('p', {class: 'wrong'}, 'Pin two settings first.'));
      return;
    }
    fill(out, h('p', {class: 'busy'}, 'Computing both \u2026'));
    const both = await Promise.all(
      [a, b].map((pin) =>
        app.ask('estimate', ['--json', '--without-variants', '--without-run'], {rank: 'table', group: 'compare', document: pin.document, quick: true}),
      ),
    );
    if (both.some((each) => !each)) return;
    let estimates;
    try {
      estimates = both.map((each) => JSON.parse(each.out));
    } catch {
      fill(out, h('p', {class: 'wrong'}, typeset(both.map((each) => each.err).join(' '))));
      return;
    }
    const row = (words, of) => [words, ...estimates.map(of)];
    const answer = (e, i) => {
      const found = e.answers?.[i];
      return found
        ? `${found.diameter_um > 0 ? `${size(found.diameter_um)} (${two(found.diameter_low_um)} to ${two(found.diameter_high_um)})` : 'no fibre'}; ${answerWords(found.answer)}, ${percent(found.probability)}`
        : '\u2013';
    };
    const changed = differences(app, a.document, b.document);
    fill(
      out,
      table(
        'What was changed',
        ['key', 'A', 'B'],
        changed.map(([key, x, y]) => [
          label(key.path),
          unit(String(x ?? `(${key.leftOut})`)),
          unit(String(y ?? `(${key.leftOut})`)),
        ]),
      ),
      table(
        'What comes out',
        ['', 'A', 'B'],
        [
          row('likelier answer', (e) => answer(e, 0)),
          row('other answer', (e) => answer(e, 1)),
          row('outcome', (e) => `${e.class ?? e.status}, lands ${e.landing ?? '\u2013'}`),
          row('polymer per hour', (e) => `${two(e.results?.polymer_throughput_g_h)} g/h`),
          row('run time', (e) => `${two(e.results?.run_time_s)} s`),
          ...(isWanted(app.wanted)
            ? [row(`chance of ${app.wantedWords()}`, (e) => percent(chanceOf(e.answers ?? [], app.wanted)))]
            : []),
        ],
      ),
      h('p', {class: 'busy', id: 'compare-why'}, 'Splitting the change into its parts \u2026'),
    );
    const why = await app.ask('explain', ['b.json', '--format', 'html'], {
      rank: 'table',
      group: 'compare',
      document: a.document,
      quick: true,
      files: {'b.json': JSON.stringify(b.document)},
    });
    const place = out.querySelector('#compare-why');
    if (!why || !place) return;
    place.replaceWith(
      why.exit === 2 || !why.out
        ? h('p', {class: 'wrong'}, typeset(why.err))
        : h('div', {class: 'document'}, shown(why.out, typeset)),
    );
  };
  const paint = () =>
    fill(
      node,
      h('p', {}, 'Pin a setting, change something, pin again. Computed without tension along the jet.'),
      h('div', {class: 'pins'}, pins()),
      h('div', {class: 'row'}, h('button', {type: 'button', id: 'compare-run', onclick: run}, 'Compare and explain')),
      out,
    );
  paint();
}
