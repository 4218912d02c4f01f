// A table over one or two settings, as the command line writes it: CSV to save, the first rows to look at.
import {h, field, fill, choice, table} from './dom.mjs';
import {columnLabel, two, typeset, shortLabel} from './words.mjs';
import {csvRows, axisText} from './map.mjs';
import {saveText, fileName} from './export.mjs';

const kMostPoints = 2000;

export function buildSweep(node, app) {
  const out = h('div', {'aria-live': 'polite'});
  const axis = (name, of) => ({
    key: choice([['', '(none)'], ...app.numericKeys().map((key) => [key.path, shortLabel(key.path)])], of.key.path),
    from: h('input', {type: 'text', value: axisText(of, of.values[0])}),
    to: h('input', {type: 'text', value: axisText(of, of.values.at(-1))}),
    points: h('input', {type: 'text', inputmode: 'numeric', value: '5'}),
    name,
  });
  const axes = [axis('first', app.axes.x), axis('second', app.axes.y)];
  const tier = choice(
    [
      ['quick', 'without tension (quick)'],
      ['own', 'as the case says (ten times as long)'],
    ],
    'quick',
  );
  const columns = choice(
    [
      ['short', 'the few that one reads'],
      ['all', 'all'],
    ],
    'short',
  );
  const run = async () => {
    const vary = [];
    let points = 1;
    for (const each of axes) {
      if (!each.key.value) continue;
      const count = Number(each.points.value);
      if (!(Number.isInteger(count) && count >= 1)) {
        fill(out, h('p', {class: 'wrong'}, `Points of the ${each.name} setting: a whole number from 1`));
        return;
      }
      points *= count;
      vary.push(
        `--vary=${each.key.value}=${count === 1 ? each.from.value : `${each.from.value}..${each.to.value}:${count}`}`,
      );
    }
    if (!vary.length) {
      fill(out, h('p', {class: 'wrong'}, 'Choose a setting to vary.'));
      return;
    }
    if (points > kMostPoints) {
      fill(
        out,
        h(
          'p',
          {class: 'wrong'},
          `${points} points are more than the ${kMostPoints} that a page should compute; the command line takes any number.`,
        ),
      );
      return;
    }
    const parts = Math.max(1, Math.min(16, Math.ceil(points / 6))),
      files = {};
    let done = 0;
    const said = h('p', {class: 'busy'}, `${points} points \u2026`);
    fill(out, said);
    const answers = await Promise.all(
      Array.from({length: parts}, async (_, k) => {
        const share = `share-${k + 1}.csv`;
        const answer = await app.ask(
          'sweep',
          [
            ...vary,
            '-o',
            share,
            '--quiet',
            `--columns=${columns.value}`,
            ...(parts > 1 ? [`--part=${k + 1}/${parts}`] : []),
          ],
          {rank: 'map', group: 'table', quick: tier.value === 'quick', read: [share, `${share}-metadata.json`]},
        );
        said.textContent = `${Math.round((100 * ++done) / parts)} % of ${points} points`;
        return answer;
      }),
    );
    if (answers.some((answer) => !answer)) return;
    const bad = answers.find((answer) => answer.exit === 2 || !Object.keys(answer.files).length);
    if (bad) {
      fill(out, h('p', {class: 'wrong'}, typeset(bad.err)));
      return;
    }
    for (const answer of answers) Object.assign(files, answer.files);
    let csv = answers[0].files['share-1.csv'];
    if (parts > 1) {
      const joined = await app.askPlain(
        ['merge', ...answers.map((_, k) => `share-${k + 1}.csv`), '-o', 'sweep.csv', '--quiet'],
        {files, read: ['sweep.csv'], rank: 'table', group: 'table'},
      );
      if (!joined || !joined.files['sweep.csv']) {
        fill(out, h('p', {class: 'wrong'}, typeset(joined?.err ?? 'not joined')));
        return;
      }
      csv = joined.files['sweep.csv'];
    }
    const rows = csvRows(csv),
      names = Object.keys(rows[0] ?? {}).slice(0, 9);
    fill(
      out,
      h('p', {class: 'lead'}, `${rows.length} rows.`),
      h(
        'button',
        {type: 'button', id: 'table-save', onclick: () => saveText(fileName(app.name, 'sweep.csv'), csv, 'text/csv')},
        'Save as CSV',
      ),
      table(
        'The first rows',
        names.map(columnLabel),
        rows
          .slice(0, 12)
          .map((row) =>
            names.map((name) =>
              row[name] !== '' && Number.isFinite(Number(row[name])) ? two(Number(row[name]), 4) : row[name],
            ),
          ),
      ),
    );
  };
  fill(
    node,
    h('p', {}, 'The answer over a grid of settings, one row a setting.'),
    h(
      'div',
      {class: 'fields'},
      axes.flatMap((each) => [
        field(`table-${each.name}-key`, `The ${each.name} setting`, each.key),
        field(`table-${each.name}-from`, 'from', each.from),
        field(`table-${each.name}-to`, 'to', each.to),
        field(`table-${each.name}-points`, 'points', each.points),
      ]),
      field('table-tier', 'Computed', tier),
      field('table-columns', 'Columns', columns),
    ),
    h('div', {class: 'row'}, h('button', {type: 'button', id: 'table-run', onclick: run}, 'Compute the table')),
    out,
  );
}
