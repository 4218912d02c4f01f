// What survives a reload: kept in the browser, read with suspicion, because anything may have written there.
import {readCase} from './keys.mjs';

const kName = 'whorl-page-1';
const kLongest = 2 << 20;

const words = (value, longest) => (typeof value === 'string' && value.length <= longest ? value : undefined);
const positive = (value) => (typeof value === 'number' && Number.isFinite(value) && value > 0 ? value : undefined);

/// {name, document, wanted, law, lawName, pins, x, y, picture, counted}; what does not hold is left out. null: nothing kept.
export function recall(storage) {
  let raw;
  try {
    raw = storage.getItem(kName);
  } catch {
    return null;
  }
  if (typeof raw !== 'string' || raw.length > kLongest) return null;
  let kept;
  try {
    kept = JSON.parse(raw);
  } catch {
    return null;
  }
  if (typeof kept !== 'object' || kept === null) return null;
  const out = {};
  try {
    out.document = readCase(JSON.stringify(kept.document));
  } catch {
    return null;
  }
  out.name = words(kept.name, 200) ?? 'case.json';
  out.wanted = {low: positive(kept.wanted?.low), high: positive(kept.wanted?.high)};
  out.law = words(kept.law, 1 << 20);
  out.lawName = words(kept.lawName, 200);
  out.x = words(kept.x, 100);
  out.y = words(kept.y, 100);
  out.picture = words(kept.picture, 20);
  out.trials = words(kept.trials, 200000);
  out.counted = Array.isArray(kept.counted) ? kept.counted.filter((v) => positive(v)).slice(0, 5000) : undefined;
  out.pins = (Array.isArray(kept.pins) ? kept.pins : []).slice(0, 2).flatMap((pin) => {
    try {
      return [{name: words(pin.name, 200) ?? 'setting', document: readCase(JSON.stringify(pin.document))}];
    } catch {
      return [];
    }
  });
  return out;
}

/// True when it could be kept: a page opened from a disk may have no storage.
export function keep(storage, state) {
  try {
    storage.setItem(kName, JSON.stringify(state));
    return true;
  } catch {
    return false;
  }
}

export function forget(storage) {
  try {
    storage.removeItem(kName);
  } catch {
    /* there is none */
  }
}
