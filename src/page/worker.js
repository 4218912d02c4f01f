// One worker of the page: the program, compiled once by the page and handed over, runs one command line after the other.
'use strict';
let program;

// Stations along the jet, thinned to what a picture shows: as many points as the path turns and the diameter falls need.
function thinned(csv) {
  const lines = csv.trimEnd().split('\n');
  const names = lines[0].trim().split(',');
  const wanted = [
    'x_mm',
    'y_mm',
    'z_mm',
    'arc_length_mm',
    'radius_mm',
    'time_ms',
    'diameter_um',
    'solvent_mass_fraction',
    'residual_solvent',
    'speed_m_s',
  ];
  const at = wanted.map((name) => names.indexOf(name));
  const out = {};
  wanted.forEach((name, i) => {
    if (at[i] >= 0) out[name] = [];
  });
  const rows = lines.length - 1,
    step = Math.max(1, Math.floor(rows / 1400));
  for (let i = 1; i <= rows; ++i) {
    if (i % step !== 0 && i !== 1 && i !== rows && i > 150) continue;
    const cells = lines[i].split(',');
    wanted.forEach((name, k) => {
      if (at[k] >= 0) out[name].push(Number(cells[at[k]]));
    });
  }
  return out;
}

function ask({args, files, read}) {
  const text = JSON.stringify({args, files, read});
  const size = program.lengthBytesUTF8(text) + 1,
    at = program._malloc(size);
  program.stringToUTF8(text, at, size);
  try {
    return JSON.parse(program.UTF8ToString(program._whorl_run(at)));
  } finally {
    program._free(at);
  }
}

onmessage = async ({data}) => {
  if (data.module) {
    program = await whorlModule({
      instantiateWasm: (imports, done) => {
        WebAssembly.instantiate(data.module, imports).then((instance) => done(instance));
        return {};
      },
    });
    postMessage({ready: true});
    return;
  }
  const start = performance.now();
  let answer;
  try {
    answer = ask(data);
  } catch (error) {
    answer = {
      exit: 1,
      out: '',
      err: 'whorl: ' + (error && error.message ? error.message : String(error)),
      files: {},
      broken: true,
    };
  }
  const path = '/job/' + data.profile; // read where it lies: as a part of the answer it would be copied four times
  if (data.profile && !answer.broken && program.FS.analyzePath(path).exists)
    answer.profile = thinned(program.FS.readFile(path, {encoding: 'utf8'}));
  postMessage({id: data.id, answer, ms: performance.now() - start});
};
