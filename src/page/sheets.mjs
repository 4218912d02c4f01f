// Whole documents of the program: why the fibre is what it is, the sheet for the bench, every number.
import {h, fill, shown, table, field} from './dom.mjs';
import {typeset, two, unit, label, columnLabel, kMicro} from './words.mjs';
import {saveText, fileName} from './export.mjs';
import {say} from './strip.mjs';

export function buildWhy(node, app) {
  const out = h('div', {class: 'document', 'aria-live': 'polite'});
  const run = async (rest, words) => {
    fill(out, h('p', {class: 'busy'}, words));
    const answer = await app.ask('explain', rest, {rank: 'table', group: 'why', quick: true});
    if (!answer) return;
    if (answer.exit === 2 || !answer.out) fill(out, h('p', {class: 'wrong'}, typeset(answer.err)));
    else fill(out, shown(answer.out, typeset));
  };
  fill(
    node,
    h(
      'p',
      {},
      'Where the diameter comes from, which setting moves it by how much, which doubt matters. Computed without tension along the jet, which takes a tenth of the time.',
    ),
    h(
      'div',
      {class: 'row'},
      h(
        'button',
        {type: 'button', onclick: () => run(['--format', 'html'], 'Turning each setting a little both ways \u2026')},
        'Explain this setting',
      ),
      h(
        'button',
        {
          type: 'button',
          class: 'plain',
          onclick: async () => {
            const answer = await app.ask('explain', ['--format', 'latex'], {rank: 'table', group: 'why', quick: true});
            if (answer?.out) saveText(fileName(app.name, 'why.tex'), answer.out, 'application/x-tex');
          },
        },
        'Save as LaTeX',
      ),
    ),
    out,
  );
  return {explainBoth: run};
}

const kRecipe = [
  ['runs', 'Runs', '1', 'how many in a row'],
  ['allowance', 'Left in bottle and syringe', '10 %', ''],
  ['interval', 'From start to start', '30 min', ''],
  ['room-volume', 'Room', '30 m3', 'volume of air'],
  ['air-changes', 'Fresh air', '6 h-1', 'changes an hour'],
  ['mixing-factor', 'Mixing factor', '3', '1 perfect to 10 poor'],
  ['collector-height', 'Height of the collector band', '', 'such as 40 mm'],
  ['safety-factor', 'Safety factor of the rotor', '4', ''],
];

export function buildRecipe(node, app) {
  const out = h('div', {class: 'document sheet'}),
    inputs = {};
  const fields = kRecipe.map(([name, words, value, help]) => {
    inputs[name] = h('input', {type: 'text', value, maxlength: 60, autocomplete: 'off'});
    return field(`recipe-${name}`, words, inputs[name], help);
  });
  const run = async () => {
    fill(out, h('p', {class: 'busy'}, 'Weighing out \u2026'));
    const rest = ['--format', 'html'];
    for (const [name] of kRecipe) if (inputs[name].value.trim()) rest.push(`--${name}=${inputs[name].value.trim()}`);
    const answer = await app.ask('recipe', rest, {rank: 'table', group: 'recipe'});
    if (!answer) return;
    if (answer.exit === 2 || !answer.out) {
      fill(out, h('p', {class: 'wrong'}, typeset(answer.err)));
      return;
    }
    const title = new DOMParser().parseFromString(answer.out, 'text/html').querySelector('h1')?.textContent ?? 'Recipe';
    fill(out, h('h2', {}, typeset(title)), shown(answer.out, typeset));
  };
  fill(
    node,
    h(
      'p',
      {class: 'screen'},
      'Weights, settings, vapour against published limits, gas energy and rotor stress, to print and to write on. It is no permission to run: local rules and licensed people decide.',
    ),
    h('div', {class: 'fields screen'}, fields),
    h(
      'div',
      {class: 'row screen'},
      h('button', {type: 'button', id: 'recipe-make', onclick: run}, 'Make the sheet'),
      h(
        'button',
        {
          type: 'button',
          class: 'plain',
          id: 'recipe-print',
          onclick: async () => {
            if (!out.querySelector('h2')) await run();
            document.body.classList.add('sheet-only');
            window.print();
            document.body.classList.remove('sheet-only');
          },
        },
        'Print',
      ),
    ),
    out,
  );
}

/// One line in other air, with gas and without: computed after the answer.
function companions(whole, e) {
  if (e.status !== 'done') return null;
  if (!whole) return h('p', {class: 'busy', id: 'companions'}, 'The spread over the run, one line in other air, with gas and without: being computed \u2026');
  const rows = (list) =>
    list.map((each) => [
      each.change,
      each.status !== 'done' ? 'no result' : each.dry_diameter_um > 0 ? two(each.dry_diameter_um, 3) : 'does not arrive',
      each.line_speed_m_s > 0 ? two(each.line_speed_m_s, 3) : '\u2013',
    ]);
  const one = (title, list) =>
    list?.length ? table(title, ['changed', `dry diameter, ${kMicro}`, 'line speed, m/s'], rows(list)) : null;
  return h(
    'div',
    {id: 'companions'},
    one('One line in other air', whole.air_variants),
    one('One line when half of the liquid left at break-through has gone', whole.gas?.variants),
  );
}

/// Every number of the answer, with symbols and units; the physics one click deeper than the first screen.
export function buildNumbers(node, app) {
  const whole = app.wholeEstimate(),
    e = app.estimate && (whole ?? app.estimate);
  if (!e) {
    fill(node, h('p', {}, 'Nothing has been computed yet.'));
    return;
  }
  const results = Object.entries(e.results ?? {}).map(([key, value]) => [
    columnLabel(key),
    typeof value === 'number' ? two(value, 4) : value === true ? 'yes' : value === false ? 'no' : String(value),
  ]);
  const properties = Object.entries(e.properties ?? {}).map(([key, p]) => [
    label(key),
    `${two(p.value, 4)} ${p.unit === '1' ? '' : unit(p.unit)}`,
    p.origin,
    p.relative_sd ? `\u00b1${two(100 * p.relative_sd)} %` : '',
    p.source,
  ]);
  const groups = (e.groups ?? []).map((group) => [
    label(group.key),
    group.symbol,
    two(group.value, 3),
    group.definition,
  ]);
  const samples = app.samples?.all;
  fill(
    node,
    h(
      'p',
      {},
      typeset(
        `${e.tier === 'inertial' ? 'Without tension along the jet' : 'With tension along the jet'}, drying ${e.drying}. ${e.reason ?? ''}. ${e.convergence ?? ''}`,
      ),
    ),
    h(
      'ul',
      {},
      (e.decided_by ?? []).map((words) => h('li', {}, typeset(words))),
    ),
    h('h3', {}, 'Doubts and warnings'),
    h(
      'ul',
      {id: 'warnings'},
      [
        ...(e.warnings ?? []).map((w) => w.text),
        ...(e.notes ?? []).filter((words) => !/^set by --set/.test(words)),
      ].map((words) => h('li', {}, typeset(words))),
    ),
    samples
      ? table(
          `Samples of every doubt (${samples.samples}, without tension)`,
          ['quantity', '5 % below', 'middle', '5 % above'],
          [
            'dry_diameter_um',
            'thread_diameter_um',
            'line_diameter_um',
            'polymer_throughput_g_h',
            'run_time_s',
            'residual_solvent',
          ]
            .filter((key) => samples.bands[key])
            .map((key) => [columnLabel(key), ...['p05', 'median', 'p95'].map((q) => two(samples.bands[key][q], 3))]),
        )
      : null,
    table('Results', ['quantity', 'value'], results),
    table('Properties it rests on', ['property', 'value', 'from', 'one standard deviation', 'source'], properties),
    companions(whole, e),
    table('Groups', ['group', 'symbol', 'value', 'definition'], groups),
    h(
      'div',
      {class: 'row'},
      h(
        'button',
        {
          type: 'button',
          class: 'plain',
          onclick: async () => {
            say('Computing all of it \u2026');
            const all = await app.fetchWhole({rank: 'table', group: 'whole'});
            if (!all) {
              say('The setting moved on, or there is no answer: nothing was saved.');
              return;
            }
            say('');
            saveText(fileName(app.name, 'estimate.json'), all.text, 'application/json');
          },
        },
        'Save all as JSON',
      ),
    ),
  );
}
