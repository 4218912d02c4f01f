// What is one click deeper than the first screen: a row of tabs, one panel at a time, built when it is first shown.
import {$, h, fill} from './dom.mjs';
import {typeset} from './words.mjs';
import {paintBars, paintMat} from './first.mjs';
import {readList} from './mat.mjs';
import {buildForm, refreshForm} from './form.mjs';
import {buildWhy, buildRecipe, buildNumbers} from './sheets.mjs';
import {buildWindow} from './window_panel.mjs';
import {buildTrials} from './trials.mjs';
import {buildCompare} from './compare.mjs';
import {buildSweep} from './sweep_panel.mjs';

const kTabs = [
  ['settings', 'All settings'],
  ['window', 'Find settings'],
  ['trials', 'Trials'],
  ['compare', 'Compare'],
  ['table', 'Table'],
  ['why', 'Why'],
  ['recipe', 'Bench sheet'],
  ['numbers', 'Numbers'],
  ['cautions', 'Cautions'],
];
let tab = 'settings';

export function buildTabs(app) {
  fill(
    $('tabs'),
    kTabs.map(([name, words]) =>
      h(
        'button',
        {
          type: 'button',
          role: 'tab',
          id: `tab-${name}`,
          'aria-controls': `panel-${name}`,
          onclick: () => show(app, name),
        },
        words,
      ),
    ),
  );
  fill(
    $('panels'),
    kTabs.map(([name]) =>
      h('div', {role: 'tabpanel', id: `panel-${name}`, 'aria-labelledby': `tab-${name}`, hidden: true}),
    ),
  );
  $('tabs').addEventListener('keydown', (event) => {
    const at = kTabs.findIndex(([name]) => name === tab),
      to = {ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: kTabs.length - 1}[event.key];
    if (to === undefined) return;
    event.preventDefault();
    show(app, kTabs[(to + kTabs.length) % kTabs.length][0]);
    $(`tab-${tab}`).focus();
  });
}

export function show(app, name) {
  tab = name;
  for (const [each] of kTabs) {
    const on = each === name;
    $(`tab-${each}`).setAttribute('aria-selected', String(on));
    $(`tab-${each}`).tabIndex = on ? 0 : -1;
    $(`panel-${each}`).hidden = !on;
  }
  paintPanel(app);
}

const built = new Set();
export function paintPanel(app) {
  const node = $(`panel-${tab}`);
  if (tab === 'numbers') {
    fill(
      node,
      h('div', {id: 'bars'}),
      h(
        'div',
        {class: 'part'},
        h('h3', {}, 'Diameters expected, and your own counted list'),
        h('div', {id: 'histogram'}),
        counted(app),
      ),
      h('div', {id: 'all-numbers'}),
    );
    paintBars(app);
    paintMat(app);
    paintNumbers(app);
    return;
  }
  if (tab === 'cautions') {
    const e = app.estimate;
    cautions(app, node, e);
    return;
  }
  if (tab === 'settings' && built.has(tab)) {
    refreshForm(node, app);
    return;
  }
  if (built.has(tab)) return;
  built.add(tab);
  if (tab === 'settings') buildForm(node, app);
  if (tab === 'window') buildWindow(node, app);
  if (tab === 'trials') {
    fill(node, h('div', {id: 'law'}), h('div', {id: 'trials-body'}));
    buildTrials($('trials-body'), app, app.exampleTrials);
    paintLaw(app);
  }
  if (tab === 'compare') buildCompare(node, app);
  if (tab === 'table') buildSweep(node, app);
  if (tab === 'why') buildWhy(node, app);
  if (tab === 'recipe') buildRecipe(node, app);
}

/// Every number of the answer; again when its companions are there.
export function paintNumbers(app) {
  buildNumbers($('all-numbers'), app);
}

export function paintLaw(app) {
  if (!$('law')) return;
  fill(
    $('law'),
    app.law
      ? h(
          'p',
          {},
          `In use: ${app.lawName ?? 'a calibration'}. `,
          h(
            'button',
            {
              type: 'button',
              class: 'plain',
              id: 'law-off',
              onclick: () => {
                app.useLaw(undefined, undefined);
              },
            },
            'Without trials',
          ),
        )
      : null,
  );
}

function counted(app) {
  const area = h('textarea', {
    rows: 3,
    id: 'counted',
    maxlength: 100000,
    placeholder: 'one diameter in \u00b5m a line',
    oninput: () => {
      app.counted = readList(area.value);
      app.keepLater();
      paintMat(app);
    },
  });
  area.value = (app.counted ?? []).join('\n');
  return h('div', {class: 'field'}, h('label', {for: 'counted'}, 'Counted diameters, \u00b5m'), area);
}

async function cautions(app, node, e) {
  fill(
    node,
    h(
      'p',
      {class: 'caution'},
      'Solvent vapour, gas pressure and a fast rotor can each injure or kill. An estimate is no proof of safety. Work under your local rules and with people trained and licensed for it.',
    ),
    h('div', {id: 'full-cautions'}),
  );
  const answer = await app.ask('estimate', ['--cautions', '--format', 'text'], {
    quick: true,
    plain: true,
    rank: 'table',
    group: 'cautions',
  });
  if (answer?.out && $('full-cautions'))
    fill(
      $('full-cautions'),
      answer.out
        .trim()
        .split(/\n\s*\n/)
        .map((block) => h('p', {}, typeset(block.replace(/\s+/g, ' ')))),
    );
  else if (e && $('full-cautions'))
    fill(
      $('full-cautions'),
      (e.cautions ?? []).map((words) => h('p', {}, typeset(words))),
    );
}

/// Another case: every panel is built anew.
export function rebuild(app) {
  built.clear();
  for (const [name] of kTabs) fill($(`panel-${name}`));
  if ($(`tab-${tab}`)) paintPanel(app);
}

export const shownTab = () => tab;
