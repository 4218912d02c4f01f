// Drives the built page in headless Chromium: time per move over all its cases, keyboard, bad input, axe-core, no network.
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
const name = () => page.evaluate(() => document.querySelector('#case').selectedOptions[0].textContent);
const quantile = (sorted, share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];
await page.focus('#slider-rotation_speed');
const before = await page.textContent('#numbers');
for (let i = 0; i < 4; ++i) await page.keyboard.press('ArrowLeft');
check(await page.textContent('#numbers') !== before, 'arrow keys move the estimate');
// Moves: every case of the page, every slider in turn, to places drawn from a fixed sequence (xorshift).
let state = 20261126;
const random = () => { state ^= state << 13; state ^= state >>> 17; state ^= state << 5; return (state >>> 0) / 4294967296; };
const all = [];
const cases = await page.locator('#case option').count();
for (let k = 0; k < cases; ++k) {
  await page.selectOption('#case', String(k));
  const times = [];
  const sliders = await page.locator('input[type="range"]').count();
  for (let i = 0; i < Math.max(40, Math.ceil(360 / cases)); ++i) {
    if (i % 20 === 19) await page.click('#reset');
    times.push(await page.evaluate(([at, share]) => {
      const slider = document.querySelectorAll('input[type="range"]')[at];
      slider.value = String(Number(slider.min) + share * (Number(slider.max) - Number(slider.min)));
      slider.dispatchEvent(new Event('input', {bubbles: true}));
      return window.lastMove_ms;
    }, [i % sliders, random()]));
  }
  all.push(...times);
  times.sort((a, b) => a - b);
  console.log(`       ${await name()}: median ${quantile(times, 0.5).toFixed(1)} ms, 95 % ${quantile(times, 0.95).toFixed(1)} ms, slowest ${times.at(-1).toFixed(1)} ms`);
}
all.sort((a, b) => a - b);
console.log(`       ${all.length} moves: median ${quantile(all, 0.5).toFixed(1)} ms, 95 % ${quantile(all, 0.95).toFixed(1)} ms, slowest ${all.at(-1).toFixed(1)} ms`);
check(quantile(all, 0.95) <= 50, '95 % of the moves within 50 ms');
await page.selectOption('#case', '0');
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
