// Puts module, cases, schema, style and scripts into one file:
//   node make_page.mjs MODULE.js MODULE.wasm REPOSITORY OUTPUT CASE...
// Scripts are joined without a bundler: every src/page/*.mjs that main.mjs leads to becomes one function, in the order of the imports.
import {mkdirSync, readFileSync, writeFileSync} from 'node:fs';
import {basename, dirname, join, resolve} from 'node:path';
import {fileURLToPath} from 'node:url';
import {gzipSync} from 'node:zlib';

const here = dirname(fileURLToPath(import.meta.url));
const kImport = /^import \{([^}]*)\} from '\.\/([a-z_]+)\.mjs';\n/gm;
const kExport = /^export (?=(?:async )?(?:function\*?|const|let|class) ([A-Za-z0-9_$]+))/gm;

/// One script tag out of modules: `const m_name = (() => { ...; return {exports}; })();`
export function joined(start) {
  const done = new Set(),
    out = [];
  const add = (name, above) => {
    if (done.has(name)) return;
    if (above.includes(name)) throw new Error(`modules in a circle: ${[...above, name].join(' -> ')}`);
    const text = readFileSync(join(here, `${name}.mjs`), 'utf8');
    for (const [, , other] of text.matchAll(kImport)) add(other, [...above, name]);
    const names = [...text.matchAll(kExport)].map(([, exported]) => exported);
    const body = text
      .replace(kImport, (_, list, other) => `const {${list.replaceAll(/\s+as\s+/g, ': ')}} = m_${other};\n`)
      .replace(kExport, '');
    if (/^(import|export) /m.test(body))
      throw new Error(`${name}.mjs: an import or export that the joiner does not know`);
    out.push(`const m_${name} = (() => {\n${body}\nreturn {${names.join(', ')}};\n})();\n`);
    done.add(name);
  };
  add(start, []);
  return out.join('');
}

const safeScript = (text) => text.replaceAll('</script', '<\\/script').replaceAll('<!--', '<\\!--');
const safeData = (value) => JSON.stringify(value).replaceAll('<', '\\u003c');

function main() {
  const [modulePath, wasmPath, root, output, ...files] = process.argv.slice(2);
  const cases = files.map((file) => ({name: basename(file), text: readFileSync(file, 'utf8')}));
  for (const {name, text} of cases) {
    if ((JSON.parse(text).materials ?? []).length > 0) {
      console.error(`${name}: materials files are not embedded; put the records into data/ or drop "materials"`);
      process.exit(2);
    }
  }
  const data = (name) => JSON.parse(readFileSync(join(root, 'data', name), 'utf8'));
  const library = {
    polymers: data('polymers.json').polymers.map(({id, name}) => ({id, name: name ?? id})),
    solvents: data('solvents.json').solvents.map(({id, name}) => ({id, name: name ?? id})),
  };
  const trials = ['pcl-five-trials.csv'].map((name) => ({
    name,
    text: readFileSync(join(root, 'cases/measured', name), 'utf8'),
  }));
  const parts = {
    '/*STYLE*/': readFileSync(join(here, 'page.css'), 'utf8'),
    '/*CASES*/': safeData(cases),
    '/*TRIALS*/': safeData(trials),
    '/*LIBRARY*/': safeData(library),
    '/*SCHEMA*/': safeData(JSON.parse(readFileSync(join(root, 'docs/case.schema.json'), 'utf8'))),
    '/*GLUE*/': safeScript(readFileSync(modulePath, 'utf8')),
    '/*WORKER*/': safeScript(readFileSync(join(here, 'worker.js'), 'utf8')),
    '/*WASM*/': gzipSync(readFileSync(wasmPath), {level: 9}).toString('base64'),
    '/*MAIN*/': safeScript(joined('main')),
  };
  let page = readFileSync(join(here, 'page.html'), 'utf8');
  for (const [mark, text] of Object.entries(parts)) {
    if (page.split(mark).length !== 2) throw new Error(`page.html: ${mark} must stand there once`);
    page = page.replace(mark, () => text);
  }
  mkdirSync(dirname(resolve(output)), {recursive: true});
  writeFileSync(output, page);
  console.log(`${output}: ${(page.length / 1e6).toFixed(1)} MB, ${cases.length} case${cases.length === 1 ? '' : 's'}`);
}

if (process.argv[1] && resolve(process.argv[1]) === fileURLToPath(import.meta.url)) main();
