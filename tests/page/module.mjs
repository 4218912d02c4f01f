// The page's module in node, and the native program, behind the same call: run({args, files, read}) -> {exit, out, err, files}.
import {spawnSync} from 'node:child_process';
import {existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync} from 'node:fs';
import {createRequire} from 'node:module';
import {tmpdir} from 'node:os';
import {basename, join, resolve} from 'node:path';

export async function moduleRunner(path) {
  const compiled = await WebAssembly.compile(readFileSync(path.replace(/\.js$/, '.wasm')));
  const program = await createRequire(import.meta.url)(resolve(path))({
    instantiateWasm: (imports, done) => {
      WebAssembly.instantiate(compiled, imports).then(done);
      return {};
    },
  });
  const run = (request) => {
    const text = JSON.stringify(request),
      size = program.lengthBytesUTF8(text) + 1,
      at = program._malloc(size);
    program.stringToUTF8(text, at, size);
    try {
      return JSON.parse(program.UTF8ToString(program._whorl_run(at)));
    } finally {
      program._free(at);
    }
  };
  run.fileOf = (name) => program.FS.readFile('/job/' + name, {encoding: 'utf8'});
  return run;
}

export function nativeRunner(binary) {
  return ({args, files = {}, read = []}) => {
    const folder = mkdtempSync(join(tmpdir(), 'whorl-page-'));
    try {
      for (const [name, text] of Object.entries(files)) writeFileSync(join(folder, basename(name)), text);
      const done = spawnSync(resolve(binary), args, {cwd: folder, encoding: 'utf8', maxBuffer: 1 << 28});
      const written = {};
      for (const name of read)
        if (existsSync(join(folder, name))) written[name] = readFileSync(join(folder, name), 'utf8');
      return {exit: done.status, out: done.stdout, err: done.stderr, files: written};
    } finally {
      rmSync(folder, {recursive: true});
    }
  };
}

// What no two runs have in common.
const kOwn = /(^|\.)(seconds|made_by)(\.|$)/;

// What is left over where nothing should be: rounding noise, and the words about it; held only where every bit is.
const kNoise =
  /(^|\.)(balances_relative|mass_closure|momentum_closure|energy_closure|convergence|work|error|bend|spread|p\d\d_error|median_error)(\.|$)/;

// A slope is a difference of two results over half a per cent either way, so what the results leave is there 100 times as large, and against 1.
const kSlope = /(^|\.)(elasticities|slopes|model_slopes|line_doubts)\./;

/// Differences of two JSON values, numbers relative to their size: [{path, a, b, off}] above the tolerance, and how many numbers were held.
export function differences(
  a,
  b,
  tolerance,
  path = '',
  out = {faults: [], numbers: 0, same: 0, worst: 0, worstOf: ''},
) {
  if (kOwn.test(path) || (tolerance > 0 && kNoise.test(path))) return out;
  if (typeof a === 'number' && typeof b === 'number') {
    ++out.numbers;
    if (a === b) {
      ++out.same;
      return out;
    }
    const off = kSlope.test(path)
      ? Math.abs(a - b) / 100 / Math.max(1, Math.abs(a), Math.abs(b))
      : Math.abs(a - b) / Math.max(Math.abs(a), Math.abs(b));
    if (off > out.worst) {
      out.worst = off;
      out.worstOf = path;
    }
    if (!(off <= tolerance)) out.faults.push(`${path} ${a} / ${b} (${off.toExponential(1)})`);
    return out;
  }
  if (typeof a === 'object' && a !== null && typeof b === 'object' && b !== null) {
    for (const key of new Set([...Object.keys(a), ...Object.keys(b)]))
      differences(a[key], b[key], tolerance, path ? `${path}.${key}` : key, out);
    return out;
  }
  if (a !== b) out.faults.push(`${path} ${JSON.stringify(a)?.slice(0, 60)} / ${JSON.stringify(b)?.slice(0, 60)}`);
  return out;
}
