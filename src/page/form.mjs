// Every key of a case file as a field: units as typed, checked while typing, with what holds where a key is left out.
import {h, field, choice, fill} from './dom.mjs';
import {valueAt, typed} from './keys.mjs';
import {label, unit} from './words.mjs';

const kTitles = {
  solution: 'Solution',
  'solution.measured': 'Solution: measured values (each one replaces an estimate)',
  vessel: 'Vessel',
  operation: 'Operation',
  room: 'Room',
  model: 'Model: laws and factors',
  numerics: 'Numerics',
};
const kOpen = new Set(['solution', 'vessel', 'operation', 'room']);

const fieldId = (path) => 'key-' + path.replaceAll('.', '-');

/// What is wrong with the text of a field on its own, in words; empty when nothing is. The program itself has the last word.
export function fault(key, words) {
  const trimmed = words.trim();
  if (trimmed === '') return key.required ? 'needed' : '';
  if (key.pattern && !key.pattern.test(trimmed))
    return /^[-+.\d]/.test(trimmed) ? `needs a unit, like ${key.example}` : `should look like ${key.example}`;
  return '';
}

function control(key, app) {
  const value = valueAt(app.document, key.path);
  const say = (words) => app.set(key.path, words === '' ? undefined : typed(key, words));
  if (key.words)
    return choice(
      [['', key.leftOut ? `(${key.leftOut})` : '(usual)'], ...key.words.map((word) => [word, word])],
      value ?? '',
      {onchange: (event) => say(event.target.value)},
    );
  const list = key.name === 'polymer' ? 'polymers' : key.name === 'solvent' ? 'solvents' : null;
  return h('input', {
    type: 'text',
    value: value === undefined ? '' : String(value),
    placeholder: key.required ? key.example : '',
    list,
    autocomplete: 'off',
    spellcheck: 'false',
    maxlength: 200,
    oninput: (event) => say(event.target.value),
  });
}

export function buildForm(node, app) {
  const blocks = [];
  for (const section of [...new Set(app.keys.map((key) => key.section))]) {
    const keys = app.keys.filter((key) => key.section === section);
    const stated = keys.filter((key) => valueAt(app.document, key.path) !== undefined).length;
    blocks.push(
      h(
        'details',
        {open: kOpen.has(section), 'data-section': section},
        h(
          'summary',
          {},
          kTitles[section] ?? label(section),
          h('span', {class: 'count'}, ` ${stated} of ${keys.length} stated`),
        ),
        h(
          'div',
          {class: 'fields'},
          keys.map((key) => {
            const help = [
              key.about,
              key.limits && `${unit(key.limits)}`,
              key.leftOut && `left out: ${unit(key.leftOut)}`,
            ]
              .filter(Boolean)
              .join('; ');
            const box = field(fieldId(key.path), label(key.name) + (key.required ? ' *' : ''), control(key, app), help);
            box.append(h('p', {class: 'wrong', id: `${fieldId(key.path)}-wrong`}));
            return box;
          }),
        ),
      ),
    );
  }
  const purpose = h('textarea', {
    rows: 2,
    maxlength: 2000,
    oninput: (event) => app.set('purpose', event.target.value || undefined),
  });
  purpose.value = String(app.document.purpose ?? '');
  fill(node, field('key-purpose', 'What the case is for', purpose, 'stands on every result'), ...blocks);
  showFaults(node, app);
}

/// Marks the fields whose text cannot be read, and the one that the program refuses.
export function showFaults(node, app) {
  for (const key of app.keys) {
    const input = node.querySelector('#' + fieldId(key.path));
    if (!input) continue;
    const refused =
      app.refused && app.refused.key === key.path ? `${app.refused.found}; allowed: ${app.refused.allowed}` : '';
    const words = refused || fault(key, String(valueAt(app.document, key.path) ?? ''));
    const wrong = node.querySelector(`#${fieldId(key.path)}-wrong`);
    wrong.textContent = unit(words);
    if (words) {
      input.setAttribute('aria-invalid', 'true');
      input.setAttribute('aria-describedby', `${fieldId(key.path)}-wrong ${fieldId(key.path)}-help`);
      input.closest('details').open = true;
    } else {
      input.removeAttribute('aria-invalid');
      input.setAttribute('aria-describedby', `${fieldId(key.path)}-help`);
    }
  }
}

/// Values that the rest of the page has changed.
export function refreshForm(node, app) {
  for (const key of app.keys) {
    const input = node.querySelector('#' + fieldId(key.path));
    if (!input || document.activeElement === input) continue;
    const value = String(valueAt(app.document, key.path) ?? '');
    if (input.value !== value) input.value = value;
  }
  showFaults(node, app);
}
