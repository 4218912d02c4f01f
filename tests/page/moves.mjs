// How long an answer takes after a move of the speed, in headless Chromium, on the wall: node tests/page/moves.mjs PAGE.html [MOVES]
//
// "In a row": the next move as soon as the answer with tension is there, while rows of the map are computed. "From rest": once
// everything is computed. Medians over the moves and the middle half of them; run it on a machine that does nothing else.
import {mkdtempSync, rmSync} from 'node:fs';
import {createRequire} from 'node:module';
import {tmpdir} from 'node:os';
import {join, resolve} from 'node:path';

const require = createRequire(new URL('../report/x.js', import.meta.url));
const {chromium} = require('playwright-core');
const [file, count = '24'] = process.argv.slice(2),
  profile = mkdtempSync(join(tmpdir(), 'whorl-moves-'));
const context = await chromium.launchPersistentContext(profile, {
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  headless: true,
  offline: true,
  viewport: {width: 1280, height: 900},
  args: ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking', '--disable-component-update'],
});
const page = await context.newPage();
await page.goto('file://' + resolve(file));
const moved = await page.evaluate(async (moves) => {
  while (!window.whorl) await new Promise((resolve) => setTimeout(resolve, 20));
  const {app} = whorl,
    until = async (ready) => {
      while (!ready()) await new Promise((resolve) => setTimeout(resolve, 2));
    },
    rest = async () => {
      app.lastSamples = undefined;
      await until(() => app.lastSamples?.count === 128);
    };
  const move = async (i) => {
    app.lastQuick = app.lastConfirm = undefined;
    app.set('operation.rotation_speed', `${7000 + 350 * (i % 12)} rpm`);
    await until(() => app.lastConfirm);
    return {quick: app.lastQuick, tension: app.lastConfirm};
  };
  await until(() => app.lastSamples?.count === 128);
  const row = [],
    calm = [];
  for (let i = 0; i < 2 * moves; ++i) {
    const one = await move(i);
    if (i >= moves) row.push(one); // the first half warms the compiler up
  }
  for (let i = 0; i < moves / 2; ++i) {
    await rest();
    calm.push(await move(i));
  }
  return {'in a row': row, 'from rest': calm};
}, Number(count));
const quantile = (list, share) => list.toSorted((a, b) => a - b)[Math.floor(share * list.length)].toFixed(0);
for (const [how, list] of Object.entries(moved))
  for (const what of ['quick', 'tension']) {
    const of = (key) => list.map((one) => one[what][key]),
      words = (key) => `${quantile(of(key), 0.5)} ms (${quantile(of(key), 0.25)} to ${quantile(of(key), 0.75)})`;
    console.log(
      `${how}, ${what === 'quick' ? 'without' : 'with'} tension: ${words('ms')} in the worker, ${words('whole')} after the move`,
    );
  }
await context.close();
rmSync(profile, {recursive: true, force: true});
