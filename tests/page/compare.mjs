// Holds the page's WebAssembly module against the command line: every case, every verb of the page, and random settings in both tiers.
// node tests/page/compare.mjs MODULE.js WHORL [random settings]
import {readFileSync, readdirSync} from 'node:fs';
import {join} from 'node:path';
import {moduleRunner, nativeRunner, differences} from './module.mjs';

const [modulePath, binary, count = '20'] = process.argv.slice(2);
const page = await moduleRunner(modulePath),
  native = nativeRunner(binary);
// The same elementary functions: the same bits in every number. Others: to 1e-9; nothing is looser for small numbers but exact zeros.
const sameFunctions = /elementary\s+functions\s+of\s+musl/.test(native({args: ['--version']}).out);
const kTolerance = sameFunctions ? 0 : 1e-9;

// xorshift: the same settings on every machine
let state = 20261128;
const random = () => {
  state ^= state << 13;
  state ^= state >>> 17;
  state ^= state << 5;
  return (state >>> 0) / 4294967296;
};

const cases = readdirSync('cases')
  .filter((name) => name.endsWith('.json'))
  .sort()
  .map((name) => ({name, text: readFileSync(join('cases', name), 'utf8')}));
const trials = readFileSync('cases/measured/pcl-five-trials.csv', 'utf8');
const jobs = [];
for (const {name, text} of cases)
  for (const tier of ['inertial', 'tension'])
    jobs.push({
      what: `${name}, ${tier}`,
      args: ['estimate', name, '--json', '--set', `model.tier=${tier}`],
      files: {[name]: text},
    });
const first = cases.find(({name}) => name === 'pcl-chloroform.json'),
  quick = ['--set', 'model.tier=inertial'];
const ask = (what, args, files = {}, read = []) =>
  jobs.push({what, args: [args[0], first.name, ...args.slice(1)], files: {[first.name]: first.text, ...files}, read});
ask('samples', ['estimate', '--json', '--uncertainty', '16', ...quick]);
ask('window', ['window', '--diameter', '0.3 um..1 um', '--json', '--quiet', ...quick]);
ask('explanation', ['explain', '--json', ...quick]);
ask('explanation of two', ['explain', 'b.json', '--json', ...quick], {
  'b.json': first.text.replace('0.1 MPa', '0.02 MPa'),
});
ask('recipe', ['recipe', '--json', ...quick]);
ask(
  'sweep',
  [
    'sweep',
    '--vary',
    'rotation_speed=6000 rpm..12000 rpm:3',
    '--vary',
    'gas_overpressure=0 MPa, 15 psi, 2 bar',
    '-o',
    'sweep.csv',
    '--quiet',
    ...quick,
  ],
  {},
  ['sweep.csv', 'sweep.csv-metadata.json'],
);
ask(
  'calibration',
  ['calibrate', 'trials.csv', '-o', 'law.json', '--next-trials', '2', '--json'],
  {'trials.csv': trials},
  ['law.json'],
);
const law = native({
  args: ['calibrate', first.name, 'trials.csv', '-o', 'law.json'],
  files: {[first.name]: first.text, 'trials.csv': trials},
  read: ['law.json'],
}).files['law.json'];
ask('estimate after trials', ['estimate', '--json', '--calibration', 'law.json', ...quick], {'law.json': law});
// Each call starts from nothing: the calibration of the one before is not in this one.
ask('estimate without them again', ['estimate', '--json', ...quick]);
// Lists of measured diameters: intervals by Student's t, of many sizes.
for (const count of [2, 3, 4, 5, 7, 11, 20, 33, 60, 101, 250, 999])
  jobs.push({
    what: `${count} diameters`,
    args: ['diameters', 'list.csv', '--json'],
    files: {
      'list.csv': 'diameter_um\n' + Array.from({length: count}, (_, i) => (0.2 + 2 * ((0.618034 * i) % 1) ** 2).toFixed(3)).join('\n') + '\n',
    },
  });
// Units as people write them, through the page's own table and through UDUNITS.
for (const [key, value] of [
  ['rotation_speed', '1047.2 rad/s'],
  ['rotation_speed', '160 rps'],
  ['gas_overpressure', '15 psi'],
  ['gas_overpressure', '1.2 bar'],
  ['gas_overpressure', '0.9 atm'],
  ['collection_distance', '4.5 in'],
  ['charge_volume', '0.005 L'],
  ['charge_volume', '5 cm3'],
  ['zero_shear_viscosity', '4200 cP'],
  ['zero_shear_viscosity', '42 poise'],
  ['zero_shear_viscosity', '4.2 N s/m2'],
  ['zero_shear_viscosity', '4.2 kg m-1 s-1'],
  ['surface_tension', '27 dyn/cm'],
  ['molar_mass', '80 kDa'],
  ['solution.temperature', '72 degF'],
  ['solution.temperature', '295 K'],
  ['solvent_diffusivity', '5e-6 cm2/s'],
  ['feed_rate', '180 mL/h'],
  ['room.pressure', '760 mmHg'],
  ['density', '1.42 g/cm^3'],
  ['relaxation_time', '500 us'],
  ['rotation_speed', '200 Hz'],
  ['gas_overpressure', '3 furlong'],
  ['charge_volume', '5 g'],
  ['solution.temperature', '22 C'],
])
  ask(`unit ${value}`, ['estimate', '--json', '--set', `${key}=${value}`, ...quick]);
for (let i = 0; i < Number(count); ++i) {
  const base = cases[i % cases.length],
    document = JSON.parse(base.text),
    between = (low, high, digits) => (low + (high - low) * random()).toFixed(digits);
  document.operation.rotation_speed = between(2000, 20000, 0) + ' rpm';
  document.operation.gas_overpressure = between(0, 0.3, 3) + ' MPa';
  document.operation.collection_distance = between(50, 300, 0) + ' mm';
  document.solution.concentration = String(document.solution.concentration).replace(/^[0-9.]+/, between(5, 30, 1));
  for (const tier of ['inertial', 'tension'])
    jobs.push({
      what: `${base.name} #${i + 1}, ${tier}`,
      tier,
      args: ['estimate', 'r.json', '--json', '--set', `model.tier=${tier}`],
      files: {'r.json': JSON.stringify(document)},
    });
}

let failed = 0,
  passed = 0,
  numbers = 0,
  same = 0,
  worst = 0,
  worstOf = '';
const times = {inertial: {page: [], native: []}, tension: {page: [], native: []}};
const parsed = (text) => {
  try {
    return JSON.parse(text);
  } catch {
    return text
      .split('\n')
      .map((line) =>
        line.split(',').map((cell) => (cell !== '' && Number.isFinite(Number(cell)) ? Number(cell) : cell)),
      );
  }
};
for (const job of jobs) {
  const before = performance.now(),
    theirs = native(job),
    between = performance.now(),
    ours = page(job),
    after = performance.now();
  if (job.tier) {
    times[job.tier].native.push(between - before);
    times[job.tier].page.push(after - between);
  }
  const faults = [];
  if (ours.exit !== theirs.exit) faults.push(`exit ${theirs.exit} / ${ours.exit}`);
  if (theirs.exit === 2) {
    // A unit that only UDUNITS knows does not fit there and is unknown here: the same key and value, another reason.
    const told = (message) => (/furlong|"22 C"/.test(message) ? message.slice(0, message.indexOf('"') + 5) : message);
    if (told(ours.err) !== told(theirs.err)) faults.push(`message ${theirs.err} / ${ours.err}`);
  } else {
    for (const [a, b] of [
      [theirs.out, ours.out],
      ...Object.keys(theirs.files).map((name) => [theirs.files[name], ours.files[name] ?? '']),
    ]) {
      const off = differences(parsed(a), parsed(b), kTolerance);
      numbers += off.numbers;
      same += off.same;
      faults.push(...off.faults);
      if (off.worst > worst) {
        worst = off.worst;
        worstOf = `${off.worstOf} of ${job.what}`;
      }
    }
  }
  if (faults.length) {
    ++failed;
    console.log(`FAILED ${job.what}: ${faults.length} differ: ${faults.slice(0, 5).join('; ')}`);
  } else ++passed;
}
console.log(
  `${jobs.length} runs, ${numbers} numbers, ${same} with the same bits, largest relative difference ${worst.toExponential(2)} (${worstOf})`,
);
for (const [tier, {page: mine, native: theirs}] of Object.entries(times)) {
  const middle = (list) => list.toSorted((a, b) => a - b)[list.length >> 1]?.toFixed(0),
    most = (list) => Math.max(...list).toFixed(0);
  if (mine.length)
    console.log(
      `${tier}: page median ${middle(mine)} ms, slowest ${most(mine)} ms; command line (with its start) median ${middle(theirs)} ms, slowest ${most(theirs)} ms`,
    );
}
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
