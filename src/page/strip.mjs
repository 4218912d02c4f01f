// The row of settings on top: the five that are turned most, and what is wanted. Arrow keys step a setting.
import {$, h, fill, field} from './dom.mjs';
import {shortLabel} from './words.mjs';
import {valueAt, withNumber, parts, typed} from './keys.mjs';

const kStrip = [
  'operation.rotation_speed',
  'operation.gas_overpressure',
  'solution.concentration',
  'vessel.orifice_diameter',
  'operation.collection_distance',
];

/// One line for the user, spoken by screen readers.
export const say = (words) => {
  $('message').textContent = words;
};

export function buildStrip(app) {
  const fields = kStrip.map((path) => {
    const key = app.keys.find((each) => each.path === path);
    const input = h('input', {
      type: 'text',
      autocomplete: 'off',
      spellcheck: 'false',
      maxlength: 200,
      value: String(valueAt(app.document, path) ?? ''),
      'data-key': path,
      'aria-keyshortcuts': 'ArrowUp ArrowDown',
      oninput: () => app.set(path, input.value === '' ? undefined : typed(key, input.value)),
      onkeydown: (event) => {
        if (event.key !== 'ArrowUp' && event.key !== 'ArrowDown') return;
        const now = parts(input.value);
        if (!now) return;
        event.preventDefault();
        const step =
            10 ** Math.floor(Math.log10(Math.max(Math.abs(now.number), 1e-6) * 0.5)) * (event.shiftKey ? 1 : 0.5),
          limits = app.limitsOf(key, now.rest);
        const moved = Math.round((now.number + (event.key === 'ArrowUp' ? step : -step)) / step) * step;
        input.value = String(withNumber(input.value, Math.min(limits[1] ?? Infinity, Math.max(limits[0] ?? 0, moved))));
        app.set(path, typed(key, input.value));
      },
    });
    return field('set-' + key.name, shortLabel(path), input);
  });
  const edge = (id, value, words) =>
    h('input', {
      type: 'text',
      inputmode: 'decimal',
      id,
      'aria-label': words,
      autocomplete: 'off',
      maxlength: 12,
      value: value > 0 ? String(value) : '',
      placeholder: 'any',
      oninput: () => sayWanted(app),
    });
  fill(
    $('strip'),
    fields,
    h(
      'div',
      {class: 'field wanted', role: 'group', 'aria-labelledby': 'wanted-label'},
      h('span', {id: 'wanted-label'}, 'Wanted diameter, \u00b5m'),
      h(
        'div',
        {class: 'pair'},
        edge('wanted-low', app.wanted.low, 'Wanted diameter from, micrometres'),
        h('span', {}, 'to'),
        edge('wanted-high', app.wanted.high, 'Wanted diameter to, micrometres'),
      ),
    ),
  );
}

function sayWanted(app) {
  const number = (id) => {
    const value = Number($(id).value.replace(',', '.'));
    return value > 0 && Number.isFinite(value) ? value : undefined;
  };
  const low = number('wanted-low'),
    high = number('wanted-high');
  const wrong = low > 0 && high > 0 && low >= high;
  for (const id of ['wanted-low', 'wanted-high']) $(id).toggleAttribute('aria-invalid', false);
  if (wrong) {
    $('wanted-high').setAttribute('aria-invalid', 'true');
    say('The wanted diameter must end above where it begins.');
    return;
  }
  say('');
  app.setWanted(low, high);
}

export function refreshStrip(app) {
  for (const input of $('strip').querySelectorAll('[data-key]')) {
    const value = String(valueAt(app.document, input.dataset.key) ?? '');
    if (document.activeElement !== input && input.value !== value) input.value = value;
    if (app.refused?.key === input.dataset.key) input.setAttribute('aria-invalid', 'true');
    else input.removeAttribute('aria-invalid');
  }
}
