// Wires the page: what is on the first screen, what is one click deeper, what keys and pointers do.
import {$, h, fill} from './dom.mjs';
import {Engine} from './engine.mjs';
import {App} from './app.mjs';
import {onPalette} from './svg.mjs';
import {paintAnswer, paintNext, paintPicture, timing, headline} from './first.mjs';
import {buildStrip, refreshStrip, say} from './strip.mjs';
import {paintMap, wireMap, fillAxes} from './map_panel.mjs';
import {buildTabs, show, paintPanel, paintNumbers, paintLaw, rebuild, shownTab} from './deeper.mjs';
import {wireSaving} from './saving.mjs';
import {saveText, fileName} from './export.mjs';
import {forget} from './store.mjs';

const begun = performance.now();
const json = (id) => JSON.parse($(id).textContent);
const data = {cases: json('cases'), schema: json('schema'), library: json('library'), trials: json('example-trials')};
const engine = new Engine($('glue').textContent, $('worker').textContent);
const app = new App(engine, data, paint);
app.exampleTrials = data.trials[0];

for (const list of ['polymers', 'solvents'])
  $(list).append(...data.library[list].map(({id, name}) => h('option', {value: id}, name)));

// ---- painting
function paint(what) {
  if (what === 'case') {
    $('case').value = caseIndex();
    buildStrip(app);
    rebuild(app);
    fillAxes(app);
  }
  refreshStrip(app);
  if (what === 'map') {
    paintMap(app);
    paintNext(app);
    return;
  }
  if (what === 'explain' || what === 'samples') {
    paintNext(app);
    if (shownTab() === 'numbers') paintPanel(app);
    status();
    return;
  }
  if (what === 'whole') {
    if (shownTab() === 'numbers') paintNumbers(app);
    return;
  }
  paintAnswer(app);
  paintNext(app);
  paintMap(app);
  if (what === 'answer' || what === 'refused') paintPicture(app);
  if (what === 'law') paintLaw(app);
  if (shownTab() === 'settings' || shownTab() === 'numbers') paintPanel(app);
  status();
}

function status() {
  $('answer').setAttribute('aria-busy', String(!app.estimate && !app.refused));
  const e = app.estimate;
  $('provenance').textContent =
    `${e ? `${e.program} ${e.version}, case ${e.case_sha256?.slice(0, 12)}. ` : ''}${timing(app)}`;
  document.title = e?.answers?.[0] ? `whorl: ${headline(e.answers[0])}` : 'whorl';
  document.body.dataset.state = app.refused
    ? 'refused'
    : app.confirmed
      ? 'confirmed'
      : app.estimate
        ? 'answer'
        : 'computing';
}

const caseIndex = () => {
  const at = app.cases.findIndex((each) => each.name === app.name);
  return at >= 0 ? String(at) : 'own';
};

// ---- one tab stop for a row of buttons
function roving(node, selector, first) {
  const items = () => [...node.querySelectorAll(selector)];
  const only = (one) =>
    items().forEach((item) => {
      item.tabIndex = item === one ? 0 : -1;
    });
  only(first());
  node.addEventListener('keydown', (event) => {
    const all = items(),
      at = all.indexOf(document.activeElement),
      to = {ArrowRight: at + 1, ArrowLeft: at - 1}[event.key];
    if (at < 0 || to === undefined) return;
    event.preventDefault();
    const next = all[(to + all.length) % all.length];
    only(next);
    next.focus();
  });
}

function wire() {
  fill(
    $('case'),
    app.cases.map((each, i) =>
      h(
        'option',
        {value: i},
        JSON.parse(each.text).solution.polymer +
          ' in ' +
          JSON.parse(each.text).solution.solvent +
          ' \u2013 ' +
          each.name.replace('.json', ''),
      ),
    ),
    h('option', {value: 'own'}, 'a case of your own'),
  );
  $('case').value = caseIndex();
  $('case').addEventListener('change', () => {
    const one = app.cases[$('case').value];
    if (one) app.open(JSON.parse(one.text), one.name);
  });
  $('open').addEventListener('click', () => $('file').click());
  $('file').addEventListener('change', () => {
    const file = $('file').files[0];
    if (file) openFile(file);
    $('file').value = '';
  });
  $('save').addEventListener('click', () =>
    saveText(
      app.name.endsWith('.json')
        ? fileName(app.name, 'case').replace(/-case$/, '') + '.json'
        : fileName(app.name, 'case.json'),
      app.caseText(),
      'application/json',
    ),
  );
  $('fresh').addEventListener('click', () => {
    forget(window.localStorage);
    app.law = app.lawName = app.trials = app.counted = undefined;
    app.pins = [];
    app.wanted = {low: 0.3, high: 3};
    app.example = true;
    app.open(JSON.parse(app.cases[0].text), app.cases[0].name);
  });
  roving(document.querySelector('header .buttons'), 'button', () => $('open'));
  document.addEventListener('dragover', (event) => event.preventDefault());
  document.addEventListener('drop', (event) => {
    if (event.defaultPrevented) return;
    event.preventDefault();
    const file = event.dataTransfer.files[0];
    if (file && /\.json$/i.test(file.name)) openFile(file);
  });
  $('picture-kind').value = app.picture;
  $('picture-kind').addEventListener('change', () => {
    app.picture = $('picture-kind').value;
    app.keepLater();
    $('play').hidden = app.picture !== 'jet';
    paintPicture(app);
  });
  $('play').hidden = app.picture !== 'jet';
  $('play').addEventListener('click', () => {
    const on = $('picture').classList.toggle('turning');
    $('play').setAttribute('aria-pressed', String(on));
  });
  let wide = 0;
  new ResizeObserver(() => {
    if (document.body.clientWidth !== wide) {
      wide = document.body.clientWidth;
      paint('size');
      paintPicture(app);
    }
  }).observe(document.body);
  onPalette(() => {
    paint('size');
    paintPicture(app);
  });
}

async function openFile(file) {
  try {
    app.readFile(await file.text(), file.name);
    say(`${file.name.slice(0, 100)} is open.`);
  } catch (error) {
    say(`${file.name.slice(0, 100)} cannot be opened: ${error.message}`);
  }
}

buildTabs(app);
buildStrip(app);
wire();
wireMap(app);
wireSaving(app);
fillAxes(app);
show(app, 'settings');
engine.onload = (count) => {
  document.body.dataset.busy = String(count);
};
engine
  .start($('wasm').textContent)
  .then(() => {
    document.body.dataset.ready = String(Math.round(performance.now() - begun));
    app.changed('start');
  })
  .catch((error) => {
    fill(
      $('answer'),
      h('h2', {class: 'headline wrong'}, 'This browser cannot run the model'),
      h('p', {}, `${error.message}. Chrome or Edge from 95, Firefox from 113 and Safari from 16.4 can.`),
    );
  });
window.whorl = {app, engine};
