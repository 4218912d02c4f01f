// Drives the built page in headless Chromium through the whole job: node page.mjs PAGE.html WHORL [FOLDER for screenshots]
import {execFileSync} from 'node:child_process';
import {mkdtempSync, readFileSync, writeFileSync} from 'node:fs';
import {createRequire} from 'node:module';
import {tmpdir} from 'node:os';
import {join, resolve} from 'node:path';
import {nativeRunner} from './module.mjs';

const require = createRequire(new URL('../report/x.js', import.meta.url));
const {chromium} = require('playwright-core');
const [file, binary, pictures] = process.argv.slice(2);
const native = nativeRunner(binary),
  address = 'file://' + resolve(file),
  work = mkdtempSync(join(tmpdir(), 'whorl-page-'));
const context = await chromium.launchPersistentContext(join(work, 'profile'), {
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  headless: true,
  acceptDownloads: true,
  offline: true,
  viewport: {width: 1280, height: 900},
  args: [
    '--no-sandbox',
    '--disable-gpu',
    '--disable-quic',
    '--no-first-run',
    '--disable-background-networking',
    '--disable-component-update',
    '--disable-sync',
  ],
});
let failed = 0,
  passed = 0;
const check = (ok, what) => {
  if (ok) ++passed;
  else ++failed;
  console.log(`${ok ? 'ok    ' : 'FAILED'} ${what}`);
};
const faults = [],
  requests = [];
const fresh = async (size = {width: 1280, height: 900}) => {
  const page = await context.newPage();
  await page.setViewportSize(size);
  page.on('pageerror', (error) => faults.push(error.message));
  page.on('console', (message) => {
    if (message.type() === 'error') faults.push(message.text());
  });
  page.on('request', (request) => {
    if (/^(https?|wss?|ftp):/.test(request.url())) requests.push(request.url());
  });
  return page;
};
const page = await fresh();
const long = {timeout: 180000};
const settled = (one = page) =>
  one.waitForFunction(
    () =>
      ['answer', 'confirmed', 'refused'].includes(document.body.dataset.state) &&
      whorl.app.lastQuick &&
      document.querySelector('#answer svg, #refusal, #second'),
    null,
    long,
  );
const confirmed = (one = page) => one.waitForFunction(() => document.body.dataset.state === 'confirmed', null, long);
const mapped = (one = page) =>
  one.waitForFunction(
    () => whorl.app.cells.filter(Boolean).length === whorl.app.axes.x.values.length * whorl.app.axes.y.values.length,
    null,
    long,
  );
const text = (selector, one = page) => one.textContent(selector);
const download = async (act) => {
  const [got] = await Promise.all([page.waitForEvent('download'), act()]);
  const path = join(work, got.suggestedFilename());
  await got.saveAs(path);
  return {name: got.suggestedFilename(), path, text: () => readFileSync(path, 'utf8')};
};
const shot = (name, one = page, options = {}) =>
  pictures ? one.screenshot({path: join(pictures, name + '.png'), ...options}) : null;

// ---- opens
await page.goto(address);
await page.waitForSelector('body[data-ready]', long);
const ready = Number(await page.getAttribute('body', 'data-ready'));
console.log(`       the model is up ${ready} ms after the script began`);
await settled();
check(
  /^About [\d.]+\s?\u00b5m, could be [\d.]+ to [\d.]+/.test(await text('#headline')),
  'headline: ' + (await text('#headline')),
);
await confirmed();
await mapped();
await page.waitForFunction(() => whorl.app.explain, null, long);
const seen = await page.evaluate(() =>
  ['#headline', '#answer svg', '.outcomes svg', '#chance', '#step', '#map svg', '#picture svg', '#caution']
    .map((selector) => {
      const box = document.querySelector(selector)?.getBoundingClientRect();
      return [selector, box && box.top >= 0 && box.width > 40 && box.top + Math.min(box.height, 200) <= innerHeight];
    })
    .filter(([, ok]) => !ok)
    .map(([selector]) => selector),
);
check(
  seen.length === 0,
  'the first screen at 1280 x 900 holds answer, band, outcomes, chance, next step, map, picture and caution ' +
    seen.join(' '),
);
check(
  await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth),
  'nothing is wider than the window',
);
await shot('first-1280');

// ---- the answer is that of the command line
const held = JSON.parse(
  native({args: ['estimate', 'c.json', '--json'], files: {'c.json': await page.evaluate(() => whorl.app.caseText())}})
    .out,
);
const own = await page.evaluate(() => whorl.app.estimate);
check(
  Math.abs(own.results.dry_diameter_um / held.results.dry_diameter_um - 1) < 1e-9 &&
    own.case_sha256 === held.case_sha256,
  'same diameter and same digest as the command line',
);

// ---- change a setting, by hand and by the map
const before = await text('#headline');
await page.fill('#set-gas_overpressure', '0.01 MPa');
await page.waitForFunction(
  (was) => document.querySelector('#headline') && document.querySelector('#headline').textContent !== was,
  before,
  long,
);
check(true, 'another pressure, another answer: ' + (await text('#headline')));
await mapped();
const cell = await page.locator('#map svg').boundingBox();
await page.mouse.click(cell.x + cell.width * 0.8, cell.y + cell.height * 0.3);
await page.waitForFunction(() => document.querySelector('#set-gas_overpressure').value !== '0.01 MPa', null, long);
check(
  /^[\d.]+ MPa$/.test(await page.inputValue('#set-gas_overpressure')),
  'a click on the map takes that setting: ' +
    (await page.inputValue('#set-rotation_speed')) +
    ', ' +
    (await page.inputValue('#set-gas_overpressure')),
);
await settled();
await page.selectOption('#map-x', 'solution.concentration');
await mapped();
check((await page.getAttribute('#map svg', 'aria-label')).includes('Concentration'), 'a map of two other settings');
await page.fill('#wanted-low', '4');
await page.fill('#wanted-high', '8');
check(
  /chance of even fibre of 4 to 8/.test(await text('#chance')),
  'chance of what is wanted: ' + (await text('#chance')).slice(0, 60),
);
await page.fill('#wanted-high', '2');
check(/must end above/.test(await text('#message')), 'a wanted range that ends before it begins is named');
await page.fill('#wanted-high', '8');

// ---- wrong input
await page.fill('#set-rotation_speed', '999999 rpm');
await page.waitForSelector('#refusal', long);
await page.waitForFunction(
  () => document.querySelector('#refusal').textContent.includes('operation.rotation_speed'),
  null,
  long,
);
check(
  (await page.getAttribute('#set-rotation_speed', 'aria-invalid')) === 'true' && /40000/.test(await text('#answer')),
  'a speed over the limit is refused by name with what is allowed',
);
check(/above the limit/.test(await text('#key-operation-rotation_speed-wrong')), 'the form says so at its field');
await page.fill('#set-rotation_speed', '9000');
await page.waitForFunction(
  () => /unit/.test(document.querySelector('#key-operation-rotation_speed-wrong').textContent),
  null,
  long,
);
check(true, 'a number without unit is named while typing');
await page.fill('#set-rotation_speed', '9000 rpm');
await settled();

// ---- window
await page.selectOption('#map-x', 'operation.rotation_speed');
await settled();
await page.click('#tab-window');
await page.click('#window-run');
await page.waitForSelector('#panel-window .lead', long);
check(
  /% of this range|Nothing in this range/.test(await text('#panel-window .lead')),
  'window: ' + (await text('#panel-window .lead')),
);
check((await page.locator('#panel-window svg').count()) === 1, 'the window is drawn');
await shot('window', page, {fullPage: true});

// ---- trials
await page.click('#tab-trials');
await page.click('#trials-run');
check(/no table/.test(await text('#trials-out')), 'no trials: said so');
await page.fill('#trials-text', 'Speed (rpm);Mean diameter (um)\nnonsense;1\n');
await page.click('#trials-run');
await page.waitForFunction(() => document.querySelector('#trials-out .wrong')?.textContent.length > 20, null, long);
check(true, 'a broken table is refused: ' + (await text('#trials-out .wrong')).slice(0, 90));
await page.click('#trials-example');
await page.click('#trials-run');
await page.waitForSelector('#law-use', long);
check((await page.locator('#trials-out ol li').count()) === 3, 'trials: law, directions and three next trials');
await shot('trials', page, {fullPage: true});
await page.click('#law-use');
await page.waitForFunction(
  () => /trials of your own/.test(document.querySelector('#extent')?.textContent ?? ''),
  null,
  long,
);
check(true, 'the answer has the trials in it: ' + (await text('#headline')));
await page.click('#tab-trials');
await page.click('#law-off');
await page.waitForFunction(
  () => document.querySelector('#extent') && !/trials of your own/.test(document.querySelector('#extent').textContent),
  null,
  long,
);

// ---- compare
await page.click('#tab-compare');
await page.click('#compare-run');
check(/Pin two/.test(await text('#panel-compare')), 'two settings are needed');
await page.click('#pin-A');
await page.fill('#set-gas_overpressure', '0.15 MPa');
await settled();
await page.click('#pin-B');
await page.click('#compare-run');
await page.waitForSelector('#panel-compare .document h3', long);
check((await page.locator('#panel-compare table').count()) >= 2, 'two settings side by side, and the change split');
await shot('compare', page, {fullPage: true});

// ---- table
await page.click('#tab-table');
await page.fill('#table-first-points', '4');
await page.fill('#table-second-points', '3');
await page.click('#table-run');
await page.waitForSelector('#table-save', long);
const csv = await download(() => page.click('#table-save'));
check(csv.text().split('\n').filter(Boolean).length === 13, 'sweep to CSV: 12 rows and a header');
const vary = await page.evaluate(() =>
  ['first', 'second'].map(
    (name) =>
      `--vary=${document.querySelector(`#table-${name}-key`).value}=${document.querySelector(`#table-${name}-from`).value}..${document.querySelector(`#table-${name}-to`).value}:${document.querySelector(`#table-${name}-points`).value}`,
  ),
);
const same = native({
  args: ['sweep', 'c.json', ...vary, '--columns=short', '-o', 's.csv', '--quiet', '--set', 'model.tier=inertial'],
  files: {'c.json': await page.evaluate(() => JSON.stringify(whorl.app.document))},
  read: ['s.csv'],
}).files['s.csv'];
const numbers = (csvText) => csvText.split(/[,\n]/).map(Number);
check(
  same &&
    numbers(same).length === numbers(csv.text()).length &&
    numbers(same).every((v, i) => Number.isNaN(v) || Math.abs(v - numbers(csv.text())[i]) <= 1e-9 * Math.abs(v)),
  'the joined table has the numbers of the command line',
);

// ---- why, recipe, numbers, cautions
await page.click('#tab-why');
await page.click('#panel-why button:has-text("Explain")');
await page.waitForSelector('#panel-why .document h3', long);
check((await text('#panel-why')).length > 2000, 'why: the whole explanation');
await page.click('#tab-recipe');
await page.click('#recipe-make');
await page.waitForSelector('#panel-recipe .document h2', long);
check(/EXCEEDED/.test(await text('#panel-recipe')), 'bench sheet: limits that are exceeded stand first');
await page.emulateMedia({media: 'print'});
await page.evaluate(() => document.body.classList.add('sheet-only'));
check(
  await page.evaluate(
    () =>
      getComputedStyle(document.querySelector('#answer')).display === 'none' &&
      document.querySelector('#panel-recipe .sheet').getBoundingClientRect().height > 300,
  ),
  'in print the sheet stands alone',
);
await page.pdf({path: join(work, 'sheet.pdf'), format: 'A4'}).catch(() => null);
await shot('sheet-print', page, {fullPage: true});
await page.evaluate(() => document.body.classList.remove('sheet-only'));
await page.emulateMedia({media: 'screen'});
await page.click('#tab-cautions');
await page.waitForFunction(() => document.querySelectorAll('#full-cautions p').length > 1, null, long);
check(/licensed/.test(await text('#panel-cautions')), 'cautions in full');
await page.click('#tab-numbers');
await page.fill('#counted', '4.1\n5,2\n6.0\n5.5');
check(
  (await page.locator('#histogram svg path[stroke-width="2"]').count()) === 1,
  'a counted list beside the expected one',
);
await page.waitForFunction(() => document.querySelectorAll('#bars svg').length >= 2, null, long);
// the companions of the answer come while nothing moves; until then the page says so, and saving waits for them
await page.fill('#set-rotation_speed', '9100 rpm');
await page.waitForSelector('#companions.busy', long);
check(/being computed/.test(await text('#companions')), 'a setting that moved: companions of the answer are being computed');
const all = await download(() => page.click('#panel-numbers button:has-text("Save all as JSON")'));
const saidAll = JSON.parse(all.text());
check(
  saidAll.air_variants.length === 4 && saidAll.gas.variants.length === 3 && !JSON.stringify(saidAll.options).includes('without'),
  'saved as a file, the answer has its companions',
);
await page.waitForSelector('#companions table', long);
check(
  (await page.locator('#companions tbody tr').count()) === 7,
  'companions: four kinds of air, three of gas at an orifice',
);
await confirmed();
const alone = await page.evaluate(() => whorl.app.estimate);
check(
  alone.air_variants.length === 0 &&
    ['answers', 'in_short', 'line_doubts', 'tearing', 'properties'].every(
      (key) => JSON.stringify(alone[key]) === JSON.stringify(saidAll[key]),
    ),
  'the light answer and the whole one say the same to the last digit',
);
await page.fill('#set-rotation_speed', '9000 rpm');
await settled();
await page.waitForFunction(() => document.querySelectorAll('#bars svg').length >= 2, null, long);
await shot('numbers', page, {fullPage: true});

// ---- pictures leave the page
for (const kind of ['jet', 'section', 'mat']) {
  await page.selectOption('#picture-kind', kind);
  await page.click('.save-picture[data-picture="picture"]');
  const svg = await download(() => page.click('[data-save="svg-85"]'));
  check(
    /width="85mm"/.test(svg.text()) && /whorl \d/.test(svg.text()) && !/NaN|undefined|Infinity/.test(svg.text()),
    `${kind}: SVG of 85 mm with caption and provenance`,
  );
}
for (const name of ['the answer', 'the histogram', 'what can be turned', 'what is not known']) {
  if (name !== 'the answer') await page.click('#tab-numbers');
  await page.locator(`.save-one[aria-label^="Save picture of ${name}"]`).first().click();
  const svg = await download(() => page.click('[data-save="svg-175"]'));
  check(
    /width="175mm"/.test(svg.text()) && /whorl \d/.test(svg.text()) && !/NaN|undefined|Infinity/.test(svg.text()),
    `${name}: SVG of 175 mm with caption and provenance`,
  );
}
// WCAG 2: figures on their fields, 4.5 to 1
const faintest = () =>
  page.evaluate(() => {
    const rgb = (hex) => [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16) / 255);
    const light = (colour) =>
      colour
        .map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4))
        .reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
    const paper = matchMedia('(prefers-color-scheme: dark)').matches ? rgb('#181c22') : rgb('#ffffff'),
      number = (node, name) => Number(node.getAttribute(name));
    const fields = [...document.querySelectorAll('#map rect[fill-opacity]')].filter((r) =>
      r.getAttribute('fill').startsWith('#'),
    );
    return Math.min(
      ...[...document.querySelectorAll('#map text')].flatMap((t) =>
        fields
          .filter((r) => {
            const dx = number(t, 'x') - number(r, 'x'),
              dy = number(t, 'y') - number(r, 'y');
            return dx > 0 && dx < number(r, 'width') && dy > 0 && dy < number(r, 'height');
          })
          .map((r) => {
            const share = number(r, 'fill-opacity'),
              under = light(rgb(r.getAttribute('fill')).map((c, i) => share * c + (1 - share) * paper[i])),
              own = light(rgb(t.getAttribute('fill')));
            return (Math.max(own, under) + 0.05) / (Math.min(own, under) + 0.05);
          }),
      ),
    );
  });
for (const colorScheme of ['dark', 'light']) {
  await page.emulateMedia({colorScheme});
  await page.waitForTimeout(200);
  const least = await faintest();
  check(least >= 4.5 && least < 22, `figures of the map read on their fields, ${colorScheme}: ${least.toFixed(1)} to 1`);
}
await page.click('.save-picture[data-picture="map"]');
const png = await download(() => page.click('[data-save="png-175"]'));
const bytes = readFileSync(png.path);
check(bytes.readUInt32BE(16) === Math.round((175 / 25.4) * 300), 'map: PNG of 175 mm at 300 dots per inch');
if (pictures) writeFileSync(join(pictures, 'map-175.png'), bytes);
check(
  !/NaN|undefined|Infinity|\bnull\b/.test(await page.evaluate(() => document.body.innerText)),
  'no NaN, null or undefined on the page',
);

// ---- save, reload, open
const saved = await download(() => page.click('#save'));
const checkText = native({args: ['check', 'saved.json', '--json'], files: {'saved.json': saved.text()}});
check(
  checkText.exit === 0 && /um\.\./.test(saved.text()),
  'the saved case is one that the command line takes, with what is wanted',
);
await page.waitForTimeout(500);
await page.reload();
await settled();
check(
  (await page.inputValue('#set-gas_overpressure')) === '0.15 MPa' && (await page.inputValue('#wanted-low')) === '4',
  'a reload keeps setting and wish',
);
await page.selectOption('#case', '2');
await settled();
await page.setInputFiles('#file', saved.path);
await page.waitForFunction(() => document.querySelector('#set-gas_overpressure').value === '0.15 MPa', null, long);
check(true, 'the saved case opens again');

// ---- hostile names and files
const hostile = '"><img src=x onerror="window.owned=1"><script>window.owned=1</script>';
const evil = JSON.parse(saved.text());
evil.purpose = hostile;
evil.solution.polymer = hostile.slice(0, 60);
const put = (name, words) => {
  const path = join(work, name);
  writeFileSync(path, words);
  return path;
};
await page.setInputFiles('#file', put('-rf;$(id)<b>.json', JSON.stringify(evil)));
await page.waitForSelector('#refusal', long);
evil.solution.polymer = 'PCL';
await page.setInputFiles('#file', put("--help '<b>.json", JSON.stringify(evil)));
await settled();
await page.click('#tab-trials');
await page.fill('#trials-text', `${hostile},Mean diameter (um)\n1,2\n2,3\n3,5\n`);
await page.click('#trials-run');
await page.waitForFunction(() => document.querySelector('#trials-out .lead, #trials-out .wrong'), null, long);
for (const [name, words] of [
  ['empty.json', ''],
  ['list.json', '[]'],
  ['big.json', ' '.repeat(1 << 21)],
  ['proto.json', '{"__proto__":{"x":1},"constructor":1}'],
  ['binary.json', '\u0000\ufffd\u202e'],
]) {
  await page.setInputFiles('#file', put(name, words));
  await page.waitForFunction(
    (n) => document.querySelector('#message').textContent.startsWith(n + ' cannot be opened'),
    name,
    long,
  );
}
check(
  await page.evaluate(
    () =>
      window.owned === undefined &&
      document.querySelectorAll('#panels img, #panels script, #answer img').length === 0 &&
      {}.x === undefined,
  ),
  'hostile names and files stay text',
);
await page.evaluate(
  (bad) => localStorage.setItem('whorl-page-1', bad),
  JSON.stringify({
    document: {whorl_case: 1, solution: hostile, operation: [1]},
    name: hostile,
    lawName: hostile,
    law: hostile,
    pins: [{name: hostile, document: {whorl_case: 1}}],
    x: '__proto__',
    picture: hostile,
  }),
);
const other = await fresh();
await other.goto(address);
await other.waitForSelector('#refusal', long);
check(
  await other.evaluate(() => window.owned === undefined),
  'hostile storage stays text, and is refused with a reason',
);
await other.click('#open');
await other.focus('#open');
await other.keyboard.press('ArrowRight');
await other.keyboard.press('ArrowRight');
await other.keyboard.press('Enter');
await settled(other);
check((await other.inputValue('#set-rotation_speed')) === '10000 rpm', 'start afresh, by keyboard');
await other.close();
await page.evaluate(() => localStorage.clear());

// ---- every case, keyboard only, phone, dark, axe
const keyboard = await fresh();
await keyboard.goto(address);
await settled(keyboard);
let stops = 0,
  tabsAt = 0;
for (; stops < 40; ++stops) {
  await keyboard.keyboard.press('Tab');
  const id = await keyboard.evaluate(() => document.activeElement.id || document.activeElement.className);
  if (id.startsWith('tab-')) {
    tabsAt = stops + 1;
    break;
  }
}
check(tabsAt > 0 && tabsAt <= 22, `${tabsAt} tab stops to the row of what is deeper`);
await keyboard.keyboard.press('ArrowRight');
check(await keyboard.isVisible('#panel-window'), 'arrows turn the tabs');
await keyboard.focus('#set-rotation_speed');
const was = await text('#headline', keyboard);
for (let i = 0; i < 3; ++i) await keyboard.keyboard.press('ArrowDown');
check(
  (await keyboard.inputValue('#set-rotation_speed')) === '8500 rpm',
  'arrow keys step a setting: ' + (await keyboard.inputValue('#set-rotation_speed')) + ' ' + was,
);
await mapped(keyboard);
await keyboard.focus('#map');
await keyboard.keyboard.press('ArrowRight');
await keyboard.keyboard.press('ArrowUp');
check(
  /\u00b5m|even fibre|not computed/.test(await text('#message', keyboard)),
  'the map speaks by keyboard: ' + (await text('#message', keyboard)).slice(0, 80),
);
await keyboard.keyboard.press('Enter');
await settled(keyboard);
const axe = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');
const audit = async (one, what) => {
  await one.evaluate(axe);
  const found = (await one.evaluate(() => window.axe.run())).violations;
  check(
    found.length === 0,
    `axe-core finds nothing: ${what} ` + found.map((v) => `${v.id}: ${v.nodes.length} ${v.nodes[0].target}`).join('; '),
  );
};
for (const name of ['settings', 'window', 'trials', 'compare', 'table', 'why', 'recipe', 'numbers', 'cautions']) {
  await keyboard.click(`#tab-${name}`);
  await audit(keyboard, name);
}
for (const scheme of ['light', 'dark']) {
  for (const width of [1280, 390]) {
    await keyboard.setViewportSize({width, height: width === 390 ? 844 : 900});
    await keyboard.emulateMedia({colorScheme: scheme});
    await keyboard.waitForTimeout(300);
    await keyboard.evaluate(() => scrollTo(0, 0));
    await audit(keyboard, `${scheme}, ${width} px`);
    check(
      await keyboard.evaluate(() => document.documentElement.scrollWidth <= innerWidth),
      `${scheme}, ${width} px: no sideways scroll`,
    );
    await shot(`${scheme}-${width}`, keyboard);
  }
}
check(
  await keyboard.evaluate(() => {
    const box = (s) => document.querySelector(s).getBoundingClientRect();
    return box('#headline').bottom < innerHeight && box('#answer svg').bottom < innerHeight;
  }),
  'a phone shows diameter and band first',
);
const small = await keyboard.evaluate(() =>
  [...document.querySelectorAll('button, select, input:not([type=file]), textarea, summary')]
    .filter((node) => node.offsetParent)
    .filter((node) => {
      const box = node.getBoundingClientRect();
      return box.height < 43.5 || box.width < 43.5;
    })
    .map((node) => node.id || node.textContent.slice(0, 20)),
);
check(small.length === 0, 'touch targets of 44 px ' + small.join(', '));
await keyboard.setViewportSize({width: 1280, height: 900});
await keyboard.emulateMedia({colorScheme: 'light'});
for (let i = 0; i < (await keyboard.locator('#case option').count()) - 1; ++i) {
  await keyboard.selectOption('#case', String(i));
  await settled(keyboard);
  await keyboard.waitForFunction(() => document.querySelector('#headline, #answer .headline'), null, long);
  const words = await text('#answer .headline', keyboard);
  check(
    !/NaN|undefined|Infinity/.test(await keyboard.evaluate(() => document.body.innerText)),
    `${await keyboard.evaluate(() => document.querySelector('#case').selectedOptions[0].textContent)}: ${words}`,
  );
}

// ---- time: printed, not judged; moves over all cases
await keyboard.selectOption('#case', '0');
await confirmed(keyboard);
await mapped(keyboard);
const measured = await keyboard.evaluate(async () => {
  const {app, engine} = whorl,
    waited = async (ready) => {
      while (!ready()) await new Promise((resolve) => setTimeout(resolve, 2));
    },
    middle = (list) => list.toSorted((a, b) => a - b)[list.length >> 1];
  const quick = [],
    tension = [];
  for (let i = 0; i < 12; ++i) {
    app.lastQuick = app.lastConfirm = undefined;
    app.set('operation.rotation_speed', `${7000 + 350 * i} rpm`);
    await waited(() => app.lastConfirm);
    quick.push(app.lastQuick);
    tension.push(app.lastConfirm);
  }
  app.changed('purpose');
  await waited(() => app.lastMap && app.cells.filter(Boolean).length === app.lastMap.points);
  engine.drop('idle');
  const begun = performance.now();
  await app.fillMap(app.version);
  const map = performance.now() - begun,
    at = performance.now();
  await app.ask('estimate', ['--json', '--without-variants', '--without-run', '--uncertainty', '128'], {quick: true});
  const of = (list, key) => middle(list.map((each) => each[key])).toFixed(0);
  return {
    quick: `${of(quick, 'ms')} ms in the worker, ${of(quick, 'whole')} ms after the move`,
    tension: `${of(tension, 'ms')} and ${of(tension, 'whole')} ms`,
    map,
    samples: performance.now() - at,
    size: engine.size,
  };
});
console.log(
  `       answer without tension ${measured.quick}; with tension ${measured.tension} (medians); map of 165 points ${(measured.map / 1000).toFixed(1)} s in ${measured.size - 1} workers; 128 samples ${(measured.samples / 1000).toFixed(1)} s in one`,
);
// The command line on the same settings, program start and all, right after.
const timed = (...words) => {
  const begun = performance.now();
  execFileSync(resolve(binary), words, {cwd: work, stdio: ['ignore', 'pipe', 'pipe'], maxBuffer: 1 << 28});
  return performance.now() - begun;
};
const everyday = resolve('cases/pcl-chloroform.json'),
  light = ['--json', '--without-variants', '--without-run'],
  without = ['--set', 'model.tier=inertial'],
  moved = (tier) => {
    const times = [];
    for (let i = 0; i < 12; ++i)
      times.push(timed('estimate', everyday, ...light, ...tier, '--set', `operation.rotation_speed=${7000 + 350 * i} rpm`));
    return times.toSorted((a, b) => a - b)[6].toFixed(0);
  },
  grid = ['--vary', 'rotation_speed=3000 rpm..17000 rpm:15', '--vary', 'gas_overpressure=0 MPa..0.2 MPa:11'];
console.log(
  `       the command line: ${moved(without)} ms without, ${moved([])} ms with tension; map ${(timed('sweep', everyday, ...without, ...grid, '--columns', 'answers', '--threads', '2', '-o', 'map.csv') / 1000).toFixed(1)} s in 2 threads; 128 samples ${(timed('estimate', everyday, ...light, ...without, '--uncertainty', '128', '--threads', '1') / 1000).toFixed(1)} s in one`,
);
check(faults.length === 0, 'no error in the page ' + faults.slice(0, 3).join('; '));
check(requests.length === 0, 'no request to a network ' + requests.slice(0, 3).join(' '));
await context.close();
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
