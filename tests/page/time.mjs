// Processor time of what the page asks, in node, one worker: node tests/page/time.mjs MODULE.js [CASE.json]
import {readFileSync} from 'node:fs';
import {basename} from 'node:path';
import {moduleRunner} from './module.mjs';

const [modulePath, file = 'cases/pcl-chloroform.json'] = process.argv.slice(2);
const run = await moduleRunner(modulePath),
  name = basename(file),
  base = JSON.parse(readFileSync(file, 'utf8'));
const at = (i) => {
  const copy = structuredClone(base);
  copy.operation.rotation_speed = `${7000 + 350 * i} rpm`;
  return {[name]: JSON.stringify(copy)};
};
const middle = (list) => list.toSorted((a, b) => a - b)[list.length >> 1];

/// Median processor time in ms of `count` calls after as many that warm the compiler up.
function cost(words, request, count) {
  const spent = [];
  for (let i = 0; i < 2 * count; ++i) {
    const before = process.cpuUsage(),
      answer = run(request(i % count)),
      stations = answer.exit === 0 && words.startsWith('answer') ? run.fileOf('jet.csv').length : 0,
      {user, system} = process.cpuUsage(before);
    if (answer.exit !== 0 || !(stations >= 0)) throw new Error(`${words}: ${answer.err}`);
    if (i >= count) spent.push((user + system) / 1000);
  }
  console.log(`${words}: ${middle(spent).toFixed(1)} ms (${Math.min(...spent).toFixed(1)} to ${Math.max(...spent).toFixed(1)})`);
  return middle(spent);
}

const tier = (which) => ['--set', `model.tier=${which}`];
const estimate = (which, ...rest) => (i) => ({
  args: ['estimate', name, '--json', ...rest, ...tier(which)],
  files: at(i),
});
const light = ['--without-variants', '--without-run'];
cost('version', () => ({args: ['--version'], files: {}}), 20);
cost('check', (i) => ({args: ['check', name, '--json'], files: at(i)}), 20);
const jet = ['--profile', 'jet.csv', '--profile-columns', 'x_mm,y_mm,diameter_um,solvent_mass_fraction'];
cost('answer without tension', estimate('inertial', ...jet, ...light), 20);
cost('answer with tension', estimate('tension', ...jet, ...light), 12);
const row = cost(
  'row of 15 points of the map',
  (i) => ({
    args: [
      'sweep',
      name,
      `--vary=rotation_speed=${Array.from({length: 15}, (_, k) => `${3000 + 1000 * k} rpm`).join(', ')}`,
      `--vary=gas_overpressure=${(0.02 * (i % 11)).toFixed(2)} MPa`,
      '-o',
      'map.csv',
      '--quiet',
      '--columns=answers',
      ...tier('inertial'),
    ],
    files: at(5),
    read: ['map.csv'],
  }),
  11,
);
console.log(`the map of 11 such rows in two workers: ${((11 * row) / 2000).toFixed(2)} s`);
cost('128 samples', (i) => ({args: ['estimate', name, '--json', '--uncertainty', '128', ...light, ...tier('inertial')], files: at(i)}), 3);
