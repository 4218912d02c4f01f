// Puts module, cases and page into one file: node make_page.mjs MODULE.js PAGE.html OUTPUT CASE...
// Every case is estimated once, so that a page with a case it cannot open is not written.
import {mkdirSync, readFileSync, writeFileSync} from 'node:fs';
import {createRequire} from 'node:module';
import {basename, dirname, resolve} from 'node:path';

const [modulePath, pagePath, output, ...files] = process.argv.slice(2);
const module = await createRequire(import.meta.url)(resolve(modulePath))();
const cases = files.map((file) => ({name: basename(file), text: readFileSync(file, 'utf8')}));
for (const {name, text} of cases) {
  if ((JSON.parse(text).materials ?? []).length > 0) {
    console.error(`${name}: materials files are not embedded; put the records into data/ or drop "materials"`);
    process.exit(2);
  }
  const answer = JSON.parse(module.ccall('whorl_estimate', 'string', ['string', 'string', 'number', 'number'], [text, name, 0, 0]));
  if (answer.error) {
    console.error(answer.error.text);
    process.exit(2);
  }
}
const engine = readFileSync(modulePath, 'utf8').replaceAll('</script', '<\\/script');
const data = JSON.stringify(cases).replaceAll('<', '\\u003c');
const page = readFileSync(pagePath, 'utf8').replace('/*ENGINE*/', () => engine).replace('/*CASES*/', () => data);
mkdirSync(dirname(output), {recursive: true});
writeFileSync(output, page);
console.log(`${output}: ${(page.length / 1e6).toFixed(1)} MB, ${cases.length} case${cases.length === 1 ? '' : 's'}`);
