// The keys of a case file, from its JSON Schema, and a case as the page holds it.

const kSections = ['solution', 'vessel', 'operation', 'room', 'model', 'numerics'];

/// [{path, section, name, about, words, plain, example, limits, leftOut, required, pattern}]
export function keysOf(schema) {
  const out = [];
  const walk = (node, path) => {
    for (const [name, entry] of Object.entries(node.properties)) {
      if (entry.properties) {
        walk(entry, [...path, name]);
        continue;
      }
      const comment = entry.$comment ?? '';
      const choice = entry.anyOf ?? [entry];
      const pattern = choice.find((each) => each.pattern)?.pattern;
      out.push({
        path: [...path, name].join('.'),
        section: path.join('.'),
        name,
        about: entry.description ?? '',
        words: entry.enum,
        plain: Boolean(entry.anyOf),
        example: String(entry.examples?.[0] ?? ''),
        limits: /limits: ([^;]*)/.exec(comment)?.[1] ?? '',
        leftOut: /left out: (.*)/.exec(comment)?.[1] ?? '',
        required: (node.required ?? []).includes(name),
        pattern: pattern ? new RegExp(pattern, 'u') : null,
      });
    }
  };
  for (const section of kSections) if (schema.properties[section]) walk(schema.properties[section], [section]);
  return out;
}

/// The value at "operation.rotation_speed"; undefined where there is none. Only own properties: a case may be called anything.
export function valueAt(document_, path) {
  let at = document_;
  for (const part of path.split('.')) {
    if (typeof at !== 'object' || at === null || !Object.hasOwn(at, part)) return undefined;
    at = at[part];
  }
  return at;
}

/// A copy of the case with one value set, or taken out (undefined or an empty text).
export function withValue(document_, path, value) {
  const copy = structuredClone(document_),
    parts = path.split('.');
  let at = copy;
  for (const part of parts.slice(0, -1)) {
    if (!Object.hasOwn(at, part) || typeof at[part] !== 'object' || at[part] === null) at[part] = {};
    at = at[part];
  }
  const last = parts.at(-1);
  if (value === undefined || value === '') delete at[last];
  else at[last] = value;
  for (let n = parts.length - 1; n > 0; --n) {
    // no empty block stays behind
    const block = valueAt(copy, parts.slice(0, n).join('.'));
    const above = n > 1 ? valueAt(copy, parts.slice(0, n - 1).join('.')) : copy;
    if (
      block &&
      typeof block === 'object' &&
      Object.keys(block).length === 0 &&
      !['solution', 'vessel', 'operation'].includes(parts[0])
    )
      delete above[parts[n - 1]];
  }
  return copy;
}

/// What was typed, as it stands in a case file: a plain number for keys without unit, text for all others.
export function typed(key, words) {
  const trimmed = words.trim();
  return key.plain && /^[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?$/.test(trimmed) ? Number(trimmed) : trimmed;
}

/// "0.1 MPa ± 5 %" -> {number: 0.1, rest: "MPa", spread: "± 5 %"}; null when it does not begin with a number.
export function parts(value) {
  const found = /^\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*)$/su.exec(String(value ?? ''));
  if (!found) return null;
  const [rest, spread = ''] = found[2].split(/(?=±|\+-|\+\/-)/u);
  return {number: Number(found[1]), rest: rest.trim(), spread: spread.trim()};
}

/// The same quantity with another number, in the unit it was typed in; its spread stays.
export function withNumber(value, number) {
  const old = parts(value);
  if (!old) return number;
  const shown = Number(number.toPrecision(6)).toString();
  if (!old.rest && !old.spread) return Number(shown);
  return [shown, old.rest, old.spread].filter(Boolean).join(' ');
}

/// A text that is a case file at all: an object with its format version. Throws with what is wrong, in words.
export function readCase(words) {
  if (words.length > 1 << 20) throw new Error('larger than 1 MiB, which no case file is');
  let value;
  try {
    value = JSON.parse(words);
  } catch (error) {
    throw new Error(`no JSON: ${error.message}`);
  }
  if (typeof value !== 'object' || value === null || Array.isArray(value)) throw new Error('not a JSON object');
  if (value.whorl_case !== 1) throw new Error('no "whorl_case": 1 in it, so it is not a case file of this program');
  if (Array.isArray(value.materials) && value.materials.length)
    throw new Error('it names materials files, which a page cannot read; use the command line');
  return value;
}
