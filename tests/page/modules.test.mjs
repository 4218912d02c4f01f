// Modules of the page that need no browser: keys, words, chances, what is kept, the joiner.
import assert from 'node:assert/strict';
import {readFileSync} from 'node:fs';
import {test} from 'node:test';
import {keysOf, parts, readCase, typed, valueAt, withNumber, withValue} from '../../src/page/keys.mjs';
import {below, chanceOf, drawn, normal, outcomesOf} from '../../src/page/chance.mjs';
import {recall} from '../../src/page/store.mjs';
import {two, percent, unit} from '../../src/page/words.mjs';
import {joined} from '../../src/page/make_page.mjs';

const schema = JSON.parse(readFileSync('docs/case.schema.json', 'utf8'));
const even = {even: 1, beaded: 0, drops: 0, wet: 0, nothing: 0};

test('every key of the schema is a field of the form', () => {
  const keys = keysOf(schema),
    count = (node) =>
      Object.values(node.properties).reduce((sum, each) => sum + (each.properties ? count(each) : 1), 0);
  const sections = ['solution', 'vessel', 'operation', 'room', 'model', 'numerics'];
  assert.equal(
    keys.length,
    sections.reduce((sum, name) => sum + count(schema.properties[name]), 0),
  );
  assert.ok(keys.length > 70);
  assert.deepEqual(
    new Set(Object.keys(schema.properties)),
    new Set([...sections, 'whorl_case', 'purpose', 'materials', 'sweep', 'window']),
    'a new block needs a place on the page',
  );
  assert.equal(keys.find((key) => key.path === 'operation.rotation_speed').limits, '0 to 40000 rpm');
});

test('values keep the unit and the spread they were typed with', () => {
  assert.deepEqual(parts('0.1 MPa \u00b1 5 %'), {number: 0.1, rest: 'MPa', spread: '\u00b1 5 %'});
  assert.equal(withNumber('18 % w/v of solvent', 20), '20 % w/v of solvent');
  assert.equal(withNumber('15 psi +- 1 psi', 12.5), '12.5 psi +- 1 psi');
  assert.equal(withNumber(24, 30), 30);
  assert.equal(typed({plain: true}, '24'), 24);
  assert.equal(typed({plain: false}, '24'), '24');
});

test('setting a value touches no other object and no prototype', () => {
  const before = {whorl_case: 1, solution: {}, vessel: {}, operation: {}};
  const after = withValue(before, 'room.temperature', '25 degC');
  assert.equal(valueAt(after, 'room.temperature'), '25 degC');
  assert.equal(valueAt(before, 'room.temperature'), undefined);
  assert.equal(Object.hasOwn(withValue(after, 'room.temperature', undefined), 'room'), false);
  assert.equal(valueAt({}, 'constructor.name'), undefined);
  const hostile = JSON.parse('{"whorl_case": 1, "__proto__": {"polluted": 1}, "solution": {}}');
  withValue(hostile, 'solution.polymer', 'PS');
  assert.equal({}.polluted, undefined);
});

test('what is no case file is refused in words', () => {
  for (const [text, why] of [
    ['', /no JSON/],
    ['[1]', /not a JSON object/],
    ['{}', /whorl_case/],
    ['{"whorl_case": 2}', /whorl_case/],
    ['{"whorl_case": 1, "materials": ["a.json"]}', /materials/],
    [' '.repeat(1 << 21), /1 MiB/],
  ])
    assert.throws(() => readCase(text), why);
});

test('chances: normal, bands, mixture', () => {
  assert.ok(Math.abs(normal(1.6448536) - 0.95) < 1e-6);
  const one = {probability: 1, diameter_um: 1, diameter_low_um: 0.25, diameter_high_um: 8, outcomes: even};
  assert.ok(
    Math.abs(below(one, 0.25) - 0.05) < 1e-6 &&
      Math.abs(below(one, 8) - 0.95) < 1e-6 &&
      Math.abs(below(one, 1) - 0.5) < 1e-6,
  );
  assert.ok(Math.abs(chanceOf([one], {low: 0.25, high: 8}) - 0.9) < 1e-6);
  assert.ok(
    Math.abs(
      chanceOf(
        [
          {...one, probability: 0.7},
          {...one, probability: 0.3, diameter_um: 100, diameter_low_um: 50, diameter_high_um: 200},
        ],
        {low: 0.25, high: 8},
      ) - 0.63,
    ) < 1e-4,
  );
  assert.equal(
    chanceOf([{...one, outcomes: {...even, even: 0, wet: 1}}], {low: 0.25, high: 8}),
    0,
    'a wet film is not what is wanted',
  );
  assert.equal(
    outcomesOf([
      {...one, probability: 0.6},
      {...one, probability: 0.4, outcomes: {...even, even: 0, wet: 1}},
    ]).wet,
    0.4,
  );
  const many = Array.from({length: 2000}, (_, n) =>
    drawn([one], (n * 0.7548776662) % 1, Math.min(0.9995, Math.max(0.0005, (n * 0.569840291) % 1))),
  );
  assert.ok(
    Math.abs(many.filter((um) => um < 0.25).length / 2000 - 0.05) < 0.01,
    'the drawn mat has the band of the answer',
  );
});

test('what was kept is read with suspicion', () => {
  const kept = (text) => recall({getItem: () => text});
  assert.equal(kept(null), null);
  assert.equal(kept('{'), null);
  assert.equal(kept('{"document": {"whorl_case": 3}}'), null);
  assert.equal(
    recall({
      getItem: () => {
        throw new Error('no storage');
      },
    }),
    null,
  );
  const good = {
    document: {whorl_case: 1},
    name: 7,
    wanted: {low: '<b>', high: 3},
    pins: [{document: {}}, {name: 'x', document: {whorl_case: 1}}],
    counted: [1, 'x', -2, 3],
    law: {},
  };
  assert.deepEqual(kept(JSON.stringify(good)), {
    document: {whorl_case: 1},
    name: 'case.json',
    wanted: {low: undefined, high: 3},
    law: undefined,
    lawName: undefined,
    x: undefined,
    y: undefined,
    picture: undefined,
    trials: undefined,
    counted: [1, 3],
    pins: [{name: 'x', document: {whorl_case: 1}}],
  });
});

test('numbers as people write them', () => {
  assert.equal(two(0.4975), '0.5');
  assert.equal(two(12345, 4), '12\u202f350');
  assert.equal(two(-0.0361), '\u22120.036');
  assert.equal(two(NaN), '\u2013');
  assert.equal(percent(0.003), 'under 1 %');
  assert.equal(percent(0.9999), 'over 99 %');
  assert.equal(unit('500 to 2500 kg/m3'), '500 to 2500 kg/m\u00b3');
});

test('scripts are joined in the order of their imports, and none writes markup', () => {
  const text = joined('main');
  assert.doesNotThrow(() => new Function(text));
  assert.ok(
    text.indexOf('const m_svg') < text.indexOf('const m_map') &&
      text.indexOf('const m_map') < text.indexOf('const m_app'),
  );
  assert.equal(/innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(/.test(text), false);
});
