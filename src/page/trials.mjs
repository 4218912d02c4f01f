// Trials of one's own: a table pasted, dropped or chosen, what it teaches, and what to try next.
import {h, field, fill, table, choice} from './dom.mjs';
import {two, size, percent, typeset, label, columnLabel, unit, kMicro} from './words.mjs';
import {valueAt, withNumber} from './keys.mjs';
import {saveText, fileName} from './export.mjs';

export function buildTrials(node, app, example) {
  const out = h('div', {'aria-live': 'polite', id: 'trials-out'});
  const area = h('textarea', {
    rows: 7,
    spellcheck: 'false',
    maxlength: 200000,
    oninput: () => {
      app.trials = area.value;
      app.keepLater();
    },
  });
  area.value = app.trials ?? '';
  const file = h('input', {
    type: 'file',
    accept: '.csv,.tsv,.txt,text/csv,text/plain',
    onchange: () => take(file.files[0]),
  });
  const count = choice(
    [
      ['1', '1'],
      ['2', '2'],
      ['3', '3'],
      ['5', '5'],
    ],
    '3',
  );
  const take = async (one) => {
    if (!one) return;
    if (one.size > 200000) {
      fill(out, h('p', {class: 'wrong'}, `${one.name}: larger than 200 kB`));
      return;
    }
    area.value = app.trials = await one.text();
    app.keepLater();
  };
  const drop = h(
    'div',
    {
      class: 'drop',
      ondragover: (event) => {
        event.preventDefault();
        drop.classList.add('over');
      },
      ondragleave: () => drop.classList.remove('over'),
      ondrop: (event) => {
        event.preventDefault();
        drop.classList.remove('over');
        take(event.dataTransfer.files[0]);
      },
    },
    field(
      'trials-text',
      'Table of trials',
      area,
      'Paste from a spreadsheet or drop a CSV file here: one row a trial, settings by name with their unit in brackets, and \u201cMean diameter (um)\u201d. A row without diameter is predicted.',
    ),
    field('trials-file', 'or choose a file', file),
  );
  const run = async () => {
    if (!area.value.trim()) {
      fill(
        out,
        h('p', {class: 'wrong'}, 'There is no table yet. \u201cShow an example\u201d puts an invented one in.'),
      );
      return;
    }
    fill(out, h('p', {class: 'busy'}, 'Learning from the trials \u2026'));
    const result = await app.ask(
      'calibrate',
      ['trials.csv', '-o', 'law.json', '--json', '--next-trials', count.value, ...app.wantedArguments()],
      {rank: 'table', group: 'trials', plain: true, files: {'trials.csv': area.value}, read: ['law.json']},
    );
    if (!result) return;
    let answer;
    try {
      answer = JSON.parse(result.out);
    } catch {
      fill(out, h('p', {class: 'wrong'}, typeset(result.err || 'no answer')));
      return;
    }
    show(answer, result.files?.['law.json']);
  };
  const show = (answer, law) => {
    const next = answer.next_trials?.trials ?? [],
      learned = answer.law;
    fill(
      out,
      h(
        'p',
        {class: 'lead'},
        learned
          ? typeset(`Law: ${learned.used}; one trial scatters by ${two(100 * learned.scatter)} % about it.`)
          : 'Numbers of the model were fitted.',
      ),
      learned ? h('p', {class: 'equation'}, typeset(learned.formula ?? '')) : null,
      learned?.misfit ? h('p', {class: 'wrong'}, typeset(learned.misfit)) : null,
      learned
        ? table(
            'Directions: the diameter goes as setting to the power n',
            ['setting', 'your trials (90 %)', 'model', 'published'],
            learned.settings.map((each) => [
              columnLabel(each.column ?? each.key),
              `${two(each.exponent)} (${two(each.low)} to ${two(each.high)}), ${each.exponent < -0.1 ? 'finer' : each.exponent > 0.1 ? 'coarser' : 'hardly any effect'}`,
              each.model === undefined ? '\u2013' : two(each.model),
              each.published === undefined ? '\u2013' : `${two(each.published)} \u00b1 ${two(each.published_sd)}`,
            ]),
          )
        : null,
      table(
        `Trials, ${kMicro}`,
        ['trial', 'measured', 'model before', 'law', 'from the others'],
        answer.trials.map((each) => [
          each.name,
          two(each.measured_um),
          two(each.before_um),
          two(each.after_um),
          each.left_out_um > 0 ? two(each.left_out_um) : '\u2013',
        ]),
      ),
      (answer.predictions ?? []).length
        ? h(
            'p',
            {},
            'Predicted: ' +
              answer.predictions
                .map((each) => `${each.name} ${size(each.diameter_um)} (${two(each.low_um)} to ${two(each.high_um)})`)
                .join('; '),
          )
        : null,
      next.length ? h('h3', {}, 'What to try next') : null,
      next.length
        ? h(
            'ol',
            {class: 'trials'},
            next.map((each) =>
              h(
                'li',
                {},
                Object.entries(each)
                  .filter(([key]) => !['expected_um', 'narrowing'].includes(key))
                  .map(([key, value]) => `${columnLabel(key)}: ${two(value, 4)}`)
                  .join('; ') +
                  (each.expected_um < 1e4
                    ? `; expected ${size(each.expected_um)}`
                    : '; no size can be foretold there') +
                  (each.narrowing > 0 ? `, leaves ${percent(each.narrowing)} of the doubt ` : ' '),
                h('button', {type: 'button', class: 'plain', onclick: () => useIt(each)}, 'Use it'),
              ),
            ),
          )
        : h('p', {}, typeset(answer.next_trials?.message ?? '')),
      h(
        'ul',
        {},
        (answer.remarks ?? []).map((words) => h('li', {}, typeset(words))),
      ),
      h(
        'div',
        {class: 'row'},
        law
          ? h(
              'button',
              {
                type: 'button',
                id: 'law-use',
                onclick: () => {
                  app.useLaw(law, `${answer.trials.length} trials of your own`);
                  window.scrollTo({top: 0});
                },
              },
              'Use this in every answer',
            )
          : null,
        law
          ? h(
              'button',
              {
                type: 'button',
                class: 'plain',
                onclick: () => saveText(fileName(app.name, 'law.json'), law, 'application/json'),
              },
              'Save for the command line',
            )
          : null,
      ),
    );
  };
  const useIt = (row) => {
    for (const [column, value] of Object.entries(row)) {
      const key = app.keys.find(
        (each) => each.name !== 'measured' && column.startsWith(each.name + '_') && !each.words,
      );
      if (key && valueAt(app.document, key.path) !== undefined)
        app.set(key.path, withNumber(valueAt(app.document, key.path), value));
    }
    window.scrollTo({top: 0});
  };
  fill(
    node,
    drop,
    h(
      'div',
      {class: 'row'},
      field('trials-next', 'Trials to suggest', count),
      h('button', {type: 'button', id: 'trials-run', onclick: run}, 'Learn from them'),
      h(
        'button',
        {
          type: 'button',
          class: 'plain',
          id: 'trials-example',
          onclick: () => {
            area.value = app.trials = example.text;
            app.keepLater();
          },
        },
        'Show an example (invented)',
      ),
    ),
    out,
  );
}
