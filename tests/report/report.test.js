// The report page in a real browser: loads without a connection, answers to mouse and keyboard, prints, and has no serious finding of
// axe-core. Environment: WHORL the program, CHROMIUM the browser.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { chromium } from 'playwright-core';

const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
const whorl = process.env.WHORL;
const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const folder = mkdtempSync(join(tmpdir(), 'whorl-report-'));
let browser;

const report = (caseFile, name, ...options) => {
  const file = join(folder, name);
  const said = execFileSync(whorl, ['report', caseFile, '-o', file, '--json', ...options], { encoding: 'utf8' });
  return { file, said: JSON.parse(said) };
};

// A page with every request and every word on the console noted.
const open = async (file, options = {}) => {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, bypassCSP: false, ...options });
  const page = await context.newPage();
  const noted = { requests: [], console: [] };
  page.on('request', (request) => noted.requests.push(request.url()));
  page.on('console', (message) => noted.console.push(message.text()));
  page.on('pageerror', (error) => noted.console.push(String(error)));
  await page.goto(pathToFileURL(file).href);
  return { context, page, noted };
};

const axe = async (file, width) => {
  // axe is put in from outside the page, so the page's policy does not hold for it.
  const context = await browser.newContext({ bypassCSP: true, viewport: { width, height: 900 } });
  const page = await context.newPage();
  await page.goto(pathToFileURL(file).href);
  await page.evaluate(axeSource);
  const result = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations', 'incomplete'] }));
  await context.close();
  assert.ok(result.passes.length > 20, 'axe ran');
  return result.violations.map((v) => `${v.impact} ${v.id}: ${v.help} (${v.nodes.slice(0, 3).map((n) => n.target.join(' ')).join('; ')})`);
};

let main;
let data;
before(async () => {
  assert.ok(whorl, 'WHORL names the program');
  browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
  main = report(join(root, 'cases', 'pcl-chloroform.json'), 'report.html', '--resolution', '5x4');
  data = JSON.parse(/<script type="application\/json" id="explorer-data">(.*?)<\/script>/s.exec(readFileSync(main.file, 'utf8'))[1]);
});
after(async () => {
  await browser?.close();
  rmSync(folder, { recursive: true, force: true });
});

describe('load', () => {
  test('one request, nothing on the console, one main heading, all sections', async () => {
    const { context, page, noted } = await open(main.file);
    await page.waitForSelector('#explorer[data-ready="yes"]');
    assert.deepEqual(noted.requests, [pathToFileURL(main.file).href]);
    assert.deepEqual(noted.console, []);
    assert.equal(await page.locator('h1').count(), 1);
    assert.match(await page.locator('h1').textContent(), /pcl-chloroform/);
    for (const link of await page.locator('nav a').all()) assert.equal(await page.locator(await link.getAttribute('href')).count(), 1);
    assert.equal(await page.locator('main figure').count(), 10);
    assert.match(await page.locator('.caution').textContent(), /chloroform/i);
    await context.close();
  });
  test('ids are unique, references lead somewhere', async () => {
    const { context, page } = await open(main.file);
    const faults = await page.evaluate(() => {
      const out = [];
      const ids = [...document.querySelectorAll('[id]')].map((e) => e.id);
      for (const id of new Set(ids)) if (ids.filter((i) => i === id).length > 1) out.push(`twice: ${id}`);
      for (const e of document.querySelectorAll('*'))
        for (const a of e.attributes) {
          for (const m of a.value.matchAll(/url\(#([^)]+)\)/g)) if (!document.getElementById(m[1])) out.push(`nothing: ${m[1]}`);
          if (a.name === 'aria-labelledby') for (const id of a.value.split(' ')) if (!document.getElementById(id)) out.push(`nothing: ${id}`);
        }
      return out;
    });
    assert.deepEqual(faults, []);
    await context.close();
  });
  test('a narrow window does not scroll sideways', async () => {
    const { context, page } = await open(main.file, { viewport: { width: 360, height: 700 } });
    const [inner, wide] = await page.evaluate(() => [document.documentElement.clientWidth, document.documentElement.scrollWidth]);
    assert.ok(wide <= inner, `${wide} > ${inner}`);
    await context.close();
  });
  test('without script the tables and figures are there', async () => {
    const { context, page } = await open(main.file, { javaScriptEnabled: false });
    assert.ok(await page.locator('table').count() > 5);
    assert.equal(await page.locator('main figure svg').count(), 10);
    await context.close();
  });
});

// Which of these lie within the first screen as a whole.
const below = (page, names) =>
  page.evaluate(
    (all) =>
      all.filter((name) => {
        const box = document.querySelector(name)?.getBoundingClientRect();
        return !box || box.top < 0 || box.bottom > innerHeight || box.width < 40 || box.height < 8;
      }),
    names,
  );

describe('first screen', () => {
  const answer = ['.headline', '.ruler', 'svg.outcomes', 'ul.outcomes'];
  const rest = ['.steps', '.opening .warning', '.where figure svg', '.seen figure svg'];
  test('at 1280 x 900: diameter, band, classes, next step, caution, map and picture', async () => {
    const { context, page } = await open(main.file);
    assert.deepEqual(await below(page, [...answer, ...rest]), []);
    assert.match(await page.locator('.headline').textContent(), /^About [\d.]+\s\u00b5m, could be [\d.]+ to [\d.]+$/);
    const json = JSON.parse(execFileSync(whorl, ['estimate', join(root, 'cases', 'pcl-chloroform.json'), '--json'], { encoding: 'utf8' }));
    const [, middle, low, high] = /About ([\d.]+)\s\u00b5m, could be ([\d.]+) to ([\d.]+)/.exec(await page.locator('.headline').textContent());
    const [first] = json.answers;
    for (const [said, value] of [[middle, first.diameter_um], [low, first.diameter_low_um], [high, first.diameter_high_um]])
      assert.equal(Number(said), Number(value.toPrecision(2)));
    await context.close();
  });
  test('on a phone: diameter, band and classes, nothing wider than the screen', async () => {
    for (const colorScheme of ['light', 'dark']) {
      const { context, page } = await open(main.file, { viewport: { width: 390, height: 844 }, colorScheme });
      assert.deepEqual(await below(page, answer), []);
      const faults = await page.evaluate(() => {
        const boxes = [...document.querySelectorAll('.ruler text')].map((t) => [t.textContent, t.getBoundingClientRect()]);
        return boxes.flatMap(([text, a], i) => [
          ...(a.left < 0 || a.right > innerWidth ? [text] : []),
          ...boxes.slice(i + 1).filter(([, b]) => a.left < b.right && b.left < a.right && a.top + 3 < b.bottom && b.top + 3 < a.bottom).map(([other]) => `${text} on ${other}`),
        ]);
      });
      assert.deepEqual(faults, []);
      await context.close();
    }
  });
  test('no fibre: says so, with the vessel and the map', async () => {
    const { file } = report(join(root, 'cases', 'slow-dripping.json'), 'drips.html', '--resolution', '3x2');
    const { context, page } = await open(file);
    assert.match(await page.locator('.headline').textContent(), /drips/);
    assert.deepEqual(await below(page, ['.headline', ...rest]), []);
    assert.equal(await page.locator('.ruler').count(), 0);
    await context.close();
  });
});

describe('figures', () => {
  test('texts keep apart in the fonts of this browser', async () => {
    const { context, page } = await open(main.file);
    const faults = await page.evaluate(() => {
      const out = [];
      for (const svg of document.querySelectorAll('figure svg[role="img"]')) {
        const frame = svg.getBoundingClientRect();
        const boxes = [...svg.querySelectorAll('text')].map((t) => ({ text: t.textContent, box: t.getBoundingClientRect() }));
        for (const [i, { text, box }] of boxes.entries()) {
          if (box.left < frame.left - 1 || box.right > frame.right + 1 || box.top < frame.top - 1 || box.bottom > frame.bottom + 1) out.push(`outside: ${text}`);
          // Boxes hold ascenders and descenders that letters do not fill; a fifth of the height is let go on both sides.
          const slack = 0.2 * Math.min(box.height, box.width);
          for (const other of boxes.slice(i + 1)) {
            const b = other.box;
            if (box.left + slack < b.right && b.left + slack < box.right && box.top + slack < b.bottom && b.top + slack < box.bottom) out.push(`${text} on ${other.text}`);
          }
        }
      }
      return out;
    });
    assert.deepEqual(faults, []);
    await context.close();
  });
});

// What the page says of point i, from its data.
const expected = (i) => data.points[i];
const pickedText = (page) => page.locator('#picked').textContent();
// Ends of the drawn path in millimetres, through the axes of its frame.
const drawnPath = (page) =>
  page.evaluate(() => {
    const figure = document.querySelectorAll('#explorer figure')[1];
    const frame = figure.querySelector('.frame');
    const value = (axis, at) => {
      const get = (n) => Number(frame.getAttribute(`data-${axis}-${n}`));
      return get('low') + ((at - get('start')) / (get('end') - get('start'))) * (get('high') - get('low'));
    };
    const numbers = figure.querySelector('.series[data-series="1"]').getAttribute('d').split(/[ML ]/).filter(Boolean).map(Number);
    const points = [];
    for (let i = 0; i + 1 < numbers.length; i += 2) points.push([value('x', numbers[i]), value('y', numbers[i + 1])]);
    return points;
  });
const sameJet = async (page, i) => {
  const jet = expected(i).jet;
  const points = await drawnPath(page);
  if (!jet) return assert.equal(points.length, 1);
  assert.equal(points.length, jet.path_x.length);
  for (const k of [0, Math.floor(points.length / 2), points.length - 1]) {
    assert.ok(Math.abs(points[k][0] - jet.path_x[k]) < 0.05 && Math.abs(points[k][1] - jet.path_y[k]) < 0.05, `station ${k} of point ${i}`);
  }
};

describe('explore', () => {
  test('starts at the point nearest to the case', async () => {
    const { context, page } = await open(main.file);
    assert.equal(await page.locator('#explorer').getAttribute('data-picked'), String(data.nearest));
    assert.equal(await page.locator('.cell[aria-selected="true"]').count(), 1);
    await sameJet(page, data.nearest);
    await context.close();
  });
  test('hover shows the values of that point and picks nothing', async () => {
    const { context, page } = await open(main.file);
    const to = data.points.findIndex((p, i) => i !== data.nearest && p.results[0] !== null);
    await page.locator(`.cell[data-index="${to}"]`).hover();
    const tip = await page.locator('#tip').textContent();
    assert.ok(await page.locator('#tip').isVisible());
    assert.match(tip, new RegExp(`Class: ${expected(to).class}`));
    assert.ok(tip.includes(`${Number(expected(to).results[0].toPrecision(3))} µm`), tip);
    assert.equal(await page.locator('#explorer').getAttribute('data-picked'), String(data.nearest));
    await page.mouse.move(5, 5);
    assert.ok(!(await page.locator('#tip').isVisible()));
    await context.close();
  });
  test('a click draws that jet, and its profile', async () => {
    const { context, page } = await open(main.file);
    for (const to of [0, data.points.length - 1]) {
      await page.locator(`.cell[data-index="${to}"]`).click();
      assert.equal(await page.locator('#explorer').getAttribute('data-picked'), String(to));
      assert.match(await pickedText(page), new RegExp(`Class${expected(to).class}`));
      await sameJet(page, to);
    }
    const to = data.points.length - 1;
    const drawn = await page.evaluate(() =>
      [...document.querySelectorAll('#explorer figure')[2].querySelectorAll('.frame')].map((frame) => {
        const get = (axis, n) => frame.getAttribute(`data-${axis}-${n}`);
        const d = frame.querySelector('.series[data-series="1"]').getAttribute('d');
        const numbers = d.split(/[ML ]/).filter(Boolean).map(Number);
        const share = (Number(get('y', 'start')) - numbers.at(-1)) / (Number(get('y', 'start')) - Number(get('y', 'end')));
        const [low, high] = [Number(get('y', 'low')), Number(get('y', 'high'))];
        return { column: frame.getAttribute('data-y'), last: get('y', 'scale') === 'log' ? low * (high / low) ** share : low + share * (high - low), range: high - low,
          log: get('y', 'scale') === 'log' };
      }));
    assert.equal(drawn.length, 5);
    for (const { column, last, range, log } of drawn) {
      const value = expected(to).jet.profile[column].at(-1);
      assert.ok(log ? Math.abs(Math.log(last / value)) < 0.01 : Math.abs(last - value) < 0.002 * range, `${column}: ${last} for ${value}`);
    }
    await context.close();
  });
  test('the keyboard alone is enough', async () => {
    const { context, page } = await open(main.file);
    await page.locator('nav a').last().focus();
    // By Tab to the map: one stop for all its cells.
    let stops = 0;
    for (; stops < 60; stops++) {
      await page.keyboard.press('Tab');
      if (await page.evaluate(() => document.activeElement.classList.contains('cell'))) break;
    }
    assert.ok(stops < 60, 'Tab reaches the map');
    assert.equal(await page.locator('.cell[tabindex="0"]').count(), 1);
    const at = () => page.evaluate(() => Number(document.activeElement.dataset.index));
    const columns = data.x.values.length;
    assert.equal(await at(), data.nearest);
    await page.keyboard.press('Home');
    await page.keyboard.press('PageDown');
    assert.equal(await at(), 0);
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowUp');
    assert.equal(await at(), columns + 1);
    assert.ok(await page.locator('#tip').isVisible());
    assert.equal(await page.locator('#explorer').getAttribute('data-picked'), String(data.nearest), 'moving does not pick');
    await page.keyboard.press('Enter');
    assert.equal(await page.locator('#explorer').getAttribute('data-picked'), String(columns + 1));
    await sameJet(page, columns + 1);
    await page.keyboard.press('End');
    await page.keyboard.press(' ');
    assert.equal(await page.locator('#explorer').getAttribute('data-picked'), String(2 * columns - 1));
    for (let i = 0; i < 10; i++) await page.keyboard.press('ArrowLeft');
    assert.equal(await at(), columns, 'stops at the edge');
    // The ring of the focus can be seen.
    const stroke = await page.evaluate(() => getComputedStyle(document.activeElement).stroke);
    assert.notEqual(stroke, 'rgba(0, 0, 0, 0)');
    assert.notEqual(stroke, 'none');
    await page.keyboard.press('Tab');
    assert.ok(!(await page.evaluate(() => document.activeElement.classList.contains('cell'))), 'one Tab leaves the map');
    await context.close();
  });
  test('names for readers of the screen', async () => {
    const { context, page } = await open(main.file);
    const snapshot = await page.locator('#explorer [role="grid"]').ariaSnapshot();
    assert.match(snapshot, /grid "Rotation speed across, Gas overpressure upwards/);
    assert.equal((snapshot.match(/gridcell/g) ?? []).length, data.points.length);
    await context.close();
  });
});

describe('why the fibre is what it is', () => {
  const explain = (...options) => JSON.parse(execFileSync(whorl, ['explain', join(root, 'cases', 'pcl-chloroform.json'), '--json', ...options], { encoding: 'utf8' }));
  const rows = (page, id) => page.locator(`#${id} tbody tr`).evaluateAll((trs) => trs.map((tr) => [...tr.children].map((cell) => cell.textContent)));
  test('headings in order, equations numbered through, tables with captions', async () => {
    const { context, page } = await open(main.file);
    const headings = await page.locator('#why h2, #why h3, #why h4').allTextContents();
    assert.deepEqual(headings.slice(0, 4), ['Why the fibre is what it is', 'Torn threads, the likelier answer', 'Where the diameter of one line comes from', 'What sets the flow']);
    assert.ok(headings.includes('What 10 % more rotation speed changes'), headings.join('; '));
    const numbers = [...(await page.locator('#why').textContent()).matchAll(/ {4}\((\d+)\)/g)].map((m) => Number(m[1]));
    assert.deepEqual(numbers, numbers.map((_, i) => i + 1));
    assert.ok(numbers.length >= 4);
    for (const table of await page.locator('#why table').all()) assert.ok((await table.locator('caption').textContent()).length > 10);
    await context.close();
  });
  test('elasticities are those of explain', async () => {
    const { context, page } = await open(main.file);
    const table = await rows(page, 'why-3');
    const said = explain();
    const find = (key) => said.elasticities.inputs.find((row) => row.key === key).outputs;
    for (const [words, key] of [['rotation speed', 'operation.rotation_speed'], ['gas overpressure', 'operation.gas_overpressure'], ['wall thickness', 'vessel.wall_thickness']]) {
      const row = table.find((cells) => cells[0] === words);
      assert.ok(row, words);
      for (const [k, column] of ['dry_diameter_um', 'orifice_flow_mL_min', 'line_speed_m_s'].entries())
        assert.ok(Math.abs(Number(row[k + 1]) - find(key)[column].value) <= 5.001e-4, `${words} ${column}: ${row[k + 1]}`);
    }
    await context.close();
  });
  test('a tenth more speed: table, figure and explain agree', async () => {
    const { context, page } = await open(main.file);
    const split = explain('--between', 'rotation_speed=10000 rpm,11000 rpm').split;
    const table = await rows(page, 'change-2');
    const parts = Object.fromEntries(split.diameter.map((part) => [part.key, part.d_ln_diameter]));
    for (const [words, key] of [['throughput', 'throughput'], ['polymer content', 'solids'], ['line speed', 'line-speed']]) {
      const row = table.find((cells) => cells[0] === words);
      assert.ok(Math.abs(Number(row[3]) - parts[key]) <= 5.001e-4, `${words}: ${row}`);
    }
    const bars = await page.locator('#why figure .bar').evaluateAll((all) => all.map((bar) => [bar.dataset.name, Number(bar.dataset.value)]));
    const drawn = Object.fromEntries(bars);
    assert.ok(Math.abs(drawn.throughput - parts.throughput) < 1e-6 && Math.abs(drawn['line speed'] - parts['line-speed']) < 1e-6, JSON.stringify(drawn));
    assert.ok(Math.abs(drawn['one line'] - split.d_ln_diameter) < 1e-6);
    await context.close();
  });
  test('without a fibre it says why, and no more', async () => {
    const { file } = report(join(root, 'cases', 'slow-dripping.json'), 'why-not.html', '--no-map');
    const { context, page } = await open(file);
    assert.match(await page.locator('#why').textContent(), /No explanation of the diameter of one line is given for this point: .*drip/);
    assert.equal(await page.locator('#why table').count(), 0);
    await context.close();
  });
});

describe('tables', () => {
  test('a copied table is its cells, numbers in full', async () => {
    const { context, page } = await open(main.file, { permissions: ['clipboard-read', 'clipboard-write'] });
    await page.locator('button.copy[data-table="key-results"]').click();
    await page.waitForFunction(() => document.getElementById('status').textContent === 'Table copied');
    const text = await page.evaluate(() => navigator.clipboard.readText());
    const lines = text.replace(/\n$/, '').split('\n').map((l) => l.split('\t'));
    assert.deepEqual(lines[0], ['Quantity', 'Symbol', 'Value', 'Unit']);
    const row = lines.find((l) => l[1] === 'd_f');
    const json = JSON.parse(execFileSync(whorl, ['estimate', join(root, 'cases', 'pcl-chloroform.json'), '--json'], { encoding: 'utf8' }));
    assert.ok(Math.abs(Number(row[2]) / json.results.dry_diameter_um - 1) < 1e-9, row[2]);
    assert.ok(lines.every((l) => l.length === 4));
    await context.close();
  });
});

describe('print', () => {
  test('to PDF on A4: several pages, no buttons', async () => {
    const { context, page } = await open(main.file);
    const pdf = await page.pdf({ preferCSSPageSize: true, printBackground: true });
    assert.equal(pdf.subarray(0, 5).toString(), '%PDF-');
    const text = pdf.toString('latin1');
    const pages = (text.match(/\/Type\s*\/Page\b/g) ?? []).length;
    assert.ok(pages >= 4 && pages <= 30, `${pages} pages`);
    const box = /\/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)/.exec(text);
    assert.ok(Math.abs(Number(box[1]) - 595.3) < 1 && Math.abs(Number(box[2]) - 841.9) < 1, box[0]);
    await page.emulateMedia({ media: 'print' });
    assert.equal(await page.locator('button:visible').count(), 0);
    assert.equal(await page.locator('nav:visible').count(), 0);
    await context.close();
  });
});

describe('accessibility', () => {
  test('axe-core finds nothing', async () => {
    assert.deepEqual(await axe(main.file, 1280), []);
  });
  test('nor in a narrow window', async () => {
    assert.deepEqual(await axe(main.file, 400), []);
  });
});

describe('other cases', () => {
  test('no jet: a page without jets', async () => {
    const { file } = report(join(root, 'cases', 'slow-dripping.json'), 'dripping.html', '--resolution', '2x2');
    const { context, page, noted } = await open(file);
    assert.deepEqual(noted.console, []);
    assert.match(await page.locator('#result').textContent(), /dripping/);
    await context.close();
    assert.deepEqual(await axe(file, 1280), []);
  });
  test('stalled: the map still answers', async () => {
    const { file } = report(join(root, 'cases', 'thin-jet-stalled.json'), 'stalled.html', '--resolution', '3x2');
    const { context, page, noted } = await open(file);
    await page.locator('.cell').first().click();
    assert.deepEqual(noted.console, []);
    await context.close();
  });
  test('without a map', () => {
    const { file, said } = report(join(root, 'cases', 'pcl-chloroform.json'), 'plain.html', '--no-map');
    assert.equal(said.points, 0);
    assert.ok(!readFileSync(file, 'utf8').includes('id="explorer"'));
  });
});

describe('hostile text', () => {
  test('markup and formulas in the purpose stay text', async () => {
    const hostile = JSON.parse(readFileSync(join(root, 'cases', 'pcl-chloroform.json'), 'utf8'));
    hostile.purpose = '=HYPERLINK("x")</title></script><script>document.title="owned"</script><img src=x onerror=alert(1)><!-- & " \'';
    hostile.solution.measured = { zero_shear_viscosity: '6 Pa s' };
    const name = '=cmd" onmouseover=alert(1) <b>.json';
    writeFileSync(join(folder, name), JSON.stringify(hostile));
    const { file } = report(join(folder, name), 'hostile.html', '--resolution', '2x2');
    const { context, page, noted } = await open(file, { permissions: ['clipboard-read', 'clipboard-write'] });
    await page.waitForSelector('#explorer[data-ready="yes"]');
    assert.deepEqual(noted.console, []);
    assert.equal(noted.requests.length, 1);
    assert.match(await page.title(), /^Spinning estimate: =cmd" onmouseover=alert\(1\) <b>$/);
    assert.equal(await page.locator('img, b, [onmouseover], [onerror]').count(), 0);
    assert.equal(await page.locator('script:not([type])').count(), 1);
    assert.match(await page.locator('.lead').textContent(), /^=HYPERLINK\("x"\)<\/title><\/script><script>/);
    // A text cell that begins like a formula is copied with an apostrophe.
    await page.evaluate(() => {
      const cell = document.querySelector('#key-results tbody th');
      cell.textContent = '=1+1';
    });
    await page.locator('button.copy[data-table="key-results"]').click();
    await page.waitForFunction(() => document.getElementById('status').textContent !== '');
    assert.ok((await page.evaluate(() => navigator.clipboard.readText())).includes("\n'=1+1\t"));
    await context.close();
  });
  test('a script that got into the page would not run', async () => {
    const broken = join(folder, 'broken.html');
    writeFileSync(broken, readFileSync(main.file, 'utf8').replace('</main>', '<script>document.title = "owned"</script></main>'));
    const { context, page, noted } = await open(broken);
    assert.notEqual(await page.title(), 'owned');
    assert.ok(noted.console.some((text) => /Content Security Policy/.test(text)));
    await context.close();
  });
});
