// Holds the explorer's WebAssembly module against the command line: every case of cases/, and random settings of the sliders.
// node tests/explorer/compare.mjs MODULE.js WHORL [random settings per run]
import {execFileSync} from 'node:child_process';
import {mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync} from 'node:fs';
import {createRequire} from 'node:module';
import {tmpdir} from 'node:os';
import {join, resolve} from 'node:path';

const [modulePath, whorl, count = '20'] = process.argv.slice(2);
const module = await createRequire(import.meta.url)(resolve(modulePath))();
const folder = mkdtempSync(join(tmpdir(), 'explorer-'));
const kTolerance = 1e-9;  // relative: the figure; nothing is looser for small numbers but exact zeros

// xorshift: the same settings on every machine
let state = 20261125;
const random = () => {
  state ^= state << 13; state ^= state >>> 17; state ^= state << 5;
  return (state >>> 0) / 4294967296;
};

const points = [];
for (const name of readdirSync('cases').filter((n) => n.endsWith('.json')).sort()) {
  points.push({name, text: readFileSync(join('cases', name), 'utf8')});
}
const own = points.slice();
for (let i = 0; i < Number(count); ++i) {
  const base = own[i % own.length];
  const document = JSON.parse(base.text);
  const between = (low, high, digits) => (low + (high - low) * random()).toFixed(digits);
  document.operation.rotation_speed = between(2000, 20000, 0) + ' rpm';
  document.operation.gas_overpressure = between(0, 0.3, 3) + ' MPa';
  document.operation.collection_distance = between(50, 300, 0) + ' mm';
  document.solution.concentration = document.solution.concentration.replace(/^[0-9.]+/, between(5, 30, 1));
  points.push({name: `${base.name} #${i + 1}`, text: JSON.stringify(document)});
}

let failed = 0, passed = 0, worst = 0, worstOf = '', same = 0, numbers = 0;
const times = [];
for (const {name, text} of points) {
  const file = join(folder, 'case.json');
  writeFileSync(file, text);
  let native;
  try {
    native = JSON.parse(execFileSync(whorl, ['estimate', file, '--json', '--set', 'model.tier=inertial'], {encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe']}));
  } catch (error) {
    if (error.status !== 1) { native = {error: error.stderr}; } else { native = JSON.parse(error.stdout); }
  }
  const start = performance.now();
  module.ccall('whorl_estimate', 'string', ['string', 'string', 'number', 'number'], [text, name, 0, 1]);
  times.push(performance.now() - start);
  const page = JSON.parse(module.ccall('whorl_estimate', 'string', ['string', 'string', 'number', 'number'], [text, name, 1, 0]));
  const faults = [];
  if (Boolean(native.error) !== Boolean(page.error)) faults.push(`error ${native.error} / ${JSON.stringify(page.error)}`);
  if (!native.error && !page.error) {
    for (const key of ['status', 'class', 'landing', 'case_sha256']) {
      if (native[key] !== page[key]) faults.push(`${key} ${native[key]} / ${page[key]}`);
    }
    const columns = new Set([...Object.keys(native.results), ...Object.keys(page.results)]);
    for (const column of columns) {
      const a = native.results[column], b = page.results[column];
      if (typeof a !== 'number' || typeof b !== 'number') {
        if (a !== b) faults.push(`${column} ${a} / ${b}`);
        continue;
      }
      ++numbers;
      if (a === b) { ++same; continue; }
      const off = Math.abs(a - b) / Math.max(Math.abs(a), Math.abs(b));
      if (off > worst) { worst = off; worstOf = `${column} of ${name}`; }
      if (!(off <= kTolerance)) faults.push(`${column} ${a} / ${b} (${off.toExponential(1)})`);
    }
  }
  if (faults.length) { ++failed; console.log(`FAILED ${name}: ${faults.length} differ: ${faults.slice(0, 6).join('; ')}`); } else { ++passed; }
}
rmSync(folder, {recursive: true});
times.sort((a, b) => a - b);
console.log(`${numbers} numbers, ${same} with the same bits, largest relative difference ${worst.toExponential(2)} (${worstOf})`);
console.log(`first jet with profile: median ${times[times.length >> 1].toFixed(1)} ms, slowest ${times.at(-1).toFixed(1)} ms`);
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
