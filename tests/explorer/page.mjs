// Drives the built page in headless Chromium: time per move, keyboard, bad input, axe-core, no network.
// node page.mjs PAGE.html [SCREENSHOT.png]; the packages are those of tests/report (tests/explorer/run installs them).
import {mkdtempSync, readFileSync} from 'node:fs';
import {createRequire} from 'node:module';
import {tmpdir} from 'node:os';
import {join, resolve} from 'node:path';

const require = createRequire(new URL('../report/x.js', import.meta.url));
const {chromium} = require('playwright-core');
const [page_, picture] = process.argv.slice(2);
const browser = await chromium.launchPersistentContext(mkdtempSync(join(tmpdir(), 'explorer-')), {executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', headless: true,
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync']});
const page = await browser.newPage();
let failed = 0, passed = 0;
const check = (ok, what) => { ok ? ++passed : ++failed; console.log(`${ok ? 'ok    ' : 'FAILED'} ${what}`); };
const faults = [], requests = [];
page.on('pageerror', (error) => faults.push(error.message));
page.on('console', (message) => { if (message.type() === 'error') faults.push(message.text()); });
page.on('request', (request) => { if (/^(https?|wss?):/.test(request.url())) requests.push(request.url()); });
await page.goto('file://' + resolve(page_));
await page.waitForSelector('body[data-ready]', {timeout: 60000});
const verdict = () => page.textContent('#verdict');
console.log('       ' + await verdict());
await page.waitForFunction(() => document.querySelector('#extent').textContent.includes('whole run'), null, {timeout: 60000});
check(true, 'whole run arrives from the worker');
if (picture) await page.screenshot({path: picture, fullPage: true});
const times = [];
await page.focus('#slider-rotation_speed');
const before = await page.textContent('#numbers');
for (let i = 0; i < 40; ++i) {
  await page.keyboard.press(i % 2 ? 'ArrowRight' : 'ArrowLeft');
  if (i % 4 === 0) await page.keyboard.press('ArrowLeft');
  times.push(await page.evaluate(() => window.lastMove_ms));
}
times.sort((a, b) => a - b);
check(await page.textContent('#numbers') !== before, 'arrow keys move the estimate');
console.log(`       move: median ${times[20].toFixed(1)} ms, 95 % ${times[37].toFixed(1)} ms, slowest ${times[39].toFixed(1)} ms`);
check(times[37] <= 50, '95 % of the moves within 50 ms');
await page.fill('#field-gas_overpressure', '5');
check((await verdict()).startsWith('Not possible: operation.gas_overpressure'), 'a pressure over the limit is refused by name');
await page.fill('#field-gas_overpressure', '0.1');
await page.fill('#field-rotation_speed', '0');
await page.fill('#field-gas_overpressure', '0');
console.log('       at rest without pressure: ' + await verdict());
await page.click('#reset');
await page.waitForFunction(() => document.querySelector('#extent').textContent.includes('whole run'), null, {timeout: 60000});
await page.evaluate(readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8'));
const serious = (await page.evaluate(() => window.axe.run())).violations.filter((v) => ['serious', 'critical'].includes(v.impact));
check(serious.length === 0, 'axe-core: no serious finding ' + serious.map((v) => `${v.id}: ${v.nodes[0].target}`).join('; '));
check(faults.length === 0, 'no error in the page ' + faults.join('; '));
check(requests.length === 0, 'no request to a network ' + requests.join(' '));
await browser.close();
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
