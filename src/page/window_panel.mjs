// Which settings give the wanted fibre: the region of two settings, where to try first, what stands in the way where nothing does.
import {h, field, fill, choice, table} from './dom.mjs';
import {el, picture, text, palette} from './svg.mjs';
import {two, size, percent, shortLabel, typeset, unit, label} from './words.mjs';
import {parts, withNumber, valueAt} from './keys.mjs';
import {saveText, fileName} from './export.mjs';
import {saveButton} from './save_dialog.mjs';

export function wantedText(wanted) {
  if (wanted.low > 0 && Number.isFinite(wanted.high)) return `${wanted.low} um..${wanted.high} um`;
  return wanted.low > 0 ? `${wanted.low} um..` : `..${wanted.high} um`;
}

export const isWanted = (wanted) => Boolean(wanted && (wanted.low > 0 || wanted.high > 0));

function drawWindow(answer, colours, width, height) {
  const [ax, ay] = answer.axes,
    left = 66,
    bottom = 46,
    right = width - 10,
    floor = height - bottom,
    parts_ = [];
  const place = (axis, value) =>
    axis.spacing === 'log'
      ? Math.log(value / axis.from) / Math.log(axis.to / axis.from)
      : (value - axis.from) / (axis.to - axis.from);
  const x = (value) => left + (right - left) * place(ax, value),
    y = (value) => floor - (floor - 8) * place(ay, value);
  const slice = answer.slices[0];
  parts_.push(el('rect', {x: left, y: 8, width: right - left, height: floor - 8, fill: colours.faint}));
  const d = slice.rings
    .map(
      (ring) =>
        ring.points.map(([px, py], i) => `${i ? 'L' : 'M'}${x(px).toFixed(1)} ${y(py).toFixed(1)}`).join('') + 'Z',
    )
    .join('');
  if (d)
    parts_.push(el('path', {d, fill: colours.zone, 'fill-rule': 'evenodd', stroke: colours.meets, 'stroke-width': 2}));
  for (const contour of slice.probability?.contours ?? []) {
    if (![0.5, 0.75, 0.9].includes(contour.probability)) continue;
    for (const line of contour.lines)
      parts_.push(
        el('path', {
          d: line.map(([px, py], i) => `${i ? 'L' : 'M'}${x(px).toFixed(1)} ${y(py).toFixed(1)}`).join(''),
          fill: 'none',
          stroke: colours.ink,
          'stroke-dasharray': '5 3',
        }),
      );
  }
  for (let i = 0; i <= 4; ++i) {
    const vx = ax.spacing === 'log' ? ax.from * (ax.to / ax.from) ** (i / 4) : ax.from + ((ax.to - ax.from) * i) / 4,
      vy = ay.spacing === 'log' ? ay.from * (ay.to / ay.from) ** (i / 4) : ay.from + ((ay.to - ay.from) * i) / 4;
    parts_.push(
      text(x(vx), floor + 18, two(vx, 3), {
        'text-anchor': i === 4 ? 'end' : 'middle',
        fill: colours.ink,
        'font-size': 12,
      }),
      text(left - 6, y(vy) + 4, two(vy, 3), {'text-anchor': 'end', fill: colours.ink, 'font-size': 12}),
    );
  }
  (answer.trials ?? []).forEach((trial, i) => {
    parts_.push(
      el('circle', {
        cx: x(trial.at[0]),
        cy: y(trial.at[1]),
        r: 11,
        fill: colours.paper,
        stroke: colours.ink,
        'stroke-width': 2,
      }),
      text(x(trial.at[0]), y(trial.at[1]) + 4.5, String(i + 1), {
        'text-anchor': 'middle',
        fill: colours.ink,
        'font-weight': 600,
      }),
    );
  });
  parts_.push(
    text((left + right) / 2, height - 8, `${shortLabel(ax.key)}, ${unit(ax.unit)}`, {
      'text-anchor': 'middle',
      fill: colours.ink,
    }),
    el(
      'text',
      {transform: `translate(14 ${floor / 2}) rotate(-90)`, 'text-anchor': 'middle', fill: colours.ink},
      `${shortLabel(ay.key)}, ${unit(ay.unit)}`,
    ),
  );
  return picture(
    width,
    height,
    `Region of settings that give the wanted fibre: ${percent(answer.share)} of the range`,
    ...parts_,
  );
}

export function buildWindow(node, app) {
  const out = h('div', {'aria-live': 'polite'});
  const kinds = choice(
    [
      ['continuous', 'even fibre'],
      ['continuous,beaded', 'even fibre or fibre with beads'],
    ],
    'continuous',
  );
  const landings = choice(
    [
      ['dry,firm', 'dry or firm'],
      ['dry', 'dry'],
      ['any', 'however it lands'],
    ],
    'dry,firm',
  );
  const samples = choice(
    [
      ['', 'no: the likelier answer only'],
      ['8', 'with 8 samples for each point (slow)'],
    ],
    '',
  );
  const run = async () => {
    if (!isWanted(app.wanted)) {
      fill(out, h('p', {class: 'wrong'}, 'Say first which diameter is wanted, in the row of settings above.'));
      return;
    }
    fill(out, h('p', {class: 'busy'}, 'Trying some hundred settings \u2026 this takes a minute.'));
    const rest = [
      '--json',
      '--quiet',
      `--diameter=${wantedText(app.wanted)}`,
      `--class=${kinds.value}`,
      `--landing=${landings.value}`,
    ];
    for (const axis of [app.axes.x, app.axes.y]) {
      const [low, high] = [axis.values[0], axis.values.at(-1)];
      rest.push(`--over=${axis.key.path}=${low} ${axis.unit}..${high} ${axis.unit}`);
    }
    if (samples.value) rest.push('--uncertainty', samples.value);
    const result = await app.ask('window', rest, {rank: 'table', group: 'window', quick: true});
    if (!result) return;
    let answer;
    try {
      answer = JSON.parse(result.out);
    } catch {
      fill(out, h('p', {class: 'wrong'}, typeset(result.err || 'no answer')));
      return;
    }
    show(answer, result.out);
  };
  const useIt = (settings) => {
    for (const axis of [app.axes.x, app.axes.y]) {
      const column = Object.keys(settings).find((name) => name.startsWith(axis.key.name));
      if (column) app.set(axis.key.path, withNumber(valueAt(app.document, axis.key.path), settings[column]));
    }
    window.scrollTo({top: 0});
  };
  const show = (answer, raw) => {
    const trials = answer.trials ?? [],
      miss = answer.nearest_miss;
    fill(
      out,
      h(
        'p',
        {class: 'lead'},
        answer.met
          ? `${percent(answer.share)} of this range gives ${app.wantedWords()}, by the likelier answer.`
          : `Nothing in this range gives ${app.wantedWords()}.`,
      ),
      miss
        ? h(
            'p',
            {},
            'Nearest: ' +
              Object.entries(miss.settings)
                .map(([key, value]) => `${label(key)} ${two(value, 4)}`)
                .join(', ') +
              (miss.unmet ?? []).map((each) => `; not met: ${typeset(each.text)}`).join(''),
          )
        : null,
      h('div', {class: 'picture'}, drawWindow(answer, palette(), 560, 380)),
      saveButton(app, 'the region', () => ({
        draw: (colours) => drawWindow(answer, colours, 560, 380),
        words: `Region of settings that give ${app.wantedWords()}, by the likelier answer: ${percent(answer.share)} of the range; numbers: runs to try first.`,
        name: 'window',
        quick: true,
      })),
      trials.length
        ? h(
            'ol',
            {class: 'trials'},
            trials.map((trial) =>
              h(
                'li',
                {},
                h('strong', {}, trial.why),
                ': ' +
                  Object.entries(trial.settings)
                    .map(
                      ([key, value]) =>
                        `${label(key.replace(/_(rpm|MPa|mm|percent)$/, ''))} ${two(value, 4)} ${unit(/_(rpm|MPa|mm|percent)$/.exec(key)?.[1].replace('percent', '%') ?? '')}`,
                    )
                    .join(', ') +
                  `: ${trial.class}${trial.dry_diameter_um > 0 ? ', ' + size(trial.dry_diameter_um) : ''}` +
                  (trial.torn
                    ? ` (threads, ${percent(trial.tearing_probability)}; else ${size(trial.other_diameter_um)})`
                    : '') +
                  `; ${two(trial.tolerance)} setting errors from the nearest boundary. `,
                h('button', {type: 'button', class: 'plain', onclick: () => useIt(trial.settings)}, 'Use it'),
              ),
            ),
          )
        : null,
      answer.uncertainty?.likeliest
        ? h(
            'p',
            {},
            `Likeliest setting over all doubts: ${Object.entries(answer.uncertainty.likeliest.settings)
              .map(([key, value]) => `${label(key)} ${two(value, 4)}`)
              .join(', ')}, chance ${percent(answer.uncertainty.likeliest.probability)}.`,
          )
        : null,
      h(
        'ul',
        {},
        (answer.notes ?? [])
          .filter((words) => !/^set by --set/.test(words))
          .map((words) => h('li', {}, typeset(words))),
      ),
      h(
        'p',
        {class: 'caution'},
        'The range is arithmetic, not permission: stay below what the maker rates for rotor, vessel and charge.',
      ),
      h(
        'button',
        {
          type: 'button',
          class: 'plain',
          onclick: () => saveText(fileName(app.name, 'window.json'), raw, 'application/json'),
        },
        'Save as JSON',
      ),
    );
  };
  fill(
    node,
    h('p', {}, 'Over the two settings and the range of the map above, for the wanted diameter above.'),
    h(
      'div',
      {class: 'fields'},
      field('window-class', 'What will do', kinds),
      field('window-landing', 'Lands', landings),
      field('window-samples', 'Probability', samples),
    ),
    h('div', {class: 'row'}, h('button', {type: 'button', id: 'window-run', onclick: run}, 'Find the settings')),
    out,
  );
}
