// Numbers and keys as people at a bench write them.

export const kMicro = '\u00b5m';
const kThin = '\u202f';

/// Two digits, written out: 190, 0.49, 12 000.
export function two(value, digits = 2) {
  if (!Number.isFinite(value)) return '\u2013';
  if (value === 0) return '0';
  if (Math.abs(value) >= 1e7 || Math.abs(value) < 1e-4) {
    const [mantissa, power] = value.toExponential(digits - 1).split('e');
    return `${mantissa.replace('-', '\u2212')}\u00d710${[...String(Number(power))].map((c) => (c === '-' ? '\u207b' : '\u2070\u00b9\u00b2\u00b3\u2074\u2075\u2076\u2077\u2078\u2079'[c])).join('')}`;
  }
  const rounded = Number(value.toPrecision(digits));
  const decimals = Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(rounded))));
  const [whole, part] = Math.abs(rounded).toFixed(Math.min(decimals, 9)).split('.');
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, kThin) : whole;
  return (rounded < 0 ? '\u2212' : '') + grouped + (part && Number(part) !== 0 ? '.' + part.replace(/0+$/, '') : '');
}

export function percent(share) {
  if (share > 0 && share < 0.01) return 'under 1 %';
  if (share < 1 && share > 0.99) return 'over 99 %';
  return `${Math.round(100 * share)} %`;
}

export const size = (um) => `${two(um)} ${kMicro}`;

/// Units as they are set in type: um, degC, m2/s.
export function unit(words) {
  return words
    .replace(/\bum\b/g, kMicro)
    .replace(/\bdegC\b/g, '\u00b0C')
    .replace(/\bm2\b/g, 'm\u00b2')
    .replace(/\bm3\b/g, 'm\u00b3')
    .replace(/\bL_min\b/, 'L/min')
    .replace(/\bmL_min\b/, 'mL/min');
}

/// Text of the program with micrometres and minus signs as they are set in type.
export const typeset = (words) =>
  words
    .replace(/(\d) um\b/g, `$1 ${kMicro}`)
    .replace(/\bum\b(?=[,.;)?]|$| )/g, kMicro)
    .replace(/(^|[\s(])-(?=\d)/g, '$1\u2212')
    .replace(/\bdegC\b/g, '\u00b0C')
    .replace(/\+-/g, '\u00b1')
    .replace(/ x(?=\d)/g, ' \u00d7')
    .replace(/`whorl calibrate`/g, 'the page \u201cTrials\u201d')
    .replace(/ All of it: --full\.?/, '')
    .replace(/\(?see --cautions\)?\.?/, 'see \u201cCautions\u201d.');

export const label = (name) => {
  const words = name.split('.').pop().replaceAll('_', ' ');
  return words.charAt(0).toUpperCase() + words.slice(1);
};

/// A column of results with its unit behind it: "Dry diameter, µm".
export function columnLabel(column) {
  const found =
    /^(.*?)_(um|mm|m_s|g_h|mL_min|L_min|kPa|MPa|Pa_s|Pa|kg_m3|degC|ms|mL|mg_s|1_s|rpm|percent|kg_mol|K|s|g)$/.exec(
      column,
    );
  if (!found) return label(column);
  const units = {
    um: kMicro,
    m_s: 'm/s',
    g_h: 'g/h',
    mL_min: 'mL/min',
    L_min: 'L/min',
    Pa_s: 'Pa\u00a0s',
    kg_m3: 'kg/m\u00b3',
    degC: '\u00b0C',
    mg_s: 'mg/s',
    '1_s': '1/s',
    percent: '%',
    kg_mol: 'kg/mol',
  };
  return `${label(found[1])}, ${units[found[2]] ?? found[2]}`;
}

const kShort = {
  rotation_speed: 'Speed',
  gas_overpressure: 'Gas overpressure',
  concentration: 'Concentration',
  orifice_diameter: 'Orifice',
  collection_distance: 'Collector distance',
  charge_volume: 'Charge',
  relative_humidity: 'Humidity',
  molar_mass: 'Molar mass',
  orifice_count: 'Orifices',
  bore_diameter: 'Bore',
  wall_thickness: 'Wall',
};
export const shortLabel = (key) => kShort[key.split('.').pop()] ?? label(key);

const kOutcomes = {
  even: ['even fibre', '\u2013'],
  beaded: ['fibre with beads', '\u25cf'],
  drops: ['drops', '\u2022'],
  wet: ['wet film', '~'],
  nothing: ['nothing lands', '\u00d7'],
};
export const outcomeWords = (key) => kOutcomes[key]?.[0] ?? key;
export const outcomeSign = (key) => kOutcomes[key]?.[1] ?? '';

export const answerWords = (name) =>
  name === 'torn threads' ? 'threads torn by the gas' : 'one unsplit line per orifice';

export function duration(seconds) {
  if (!(seconds >= 0)) return '\u2013';
  if (seconds < 180) return `${two(seconds)} s`;
  if (seconds < 10800) return `${two(seconds / 60)} min`;
  return seconds < 172800 ? `${two(seconds / 3600)} h` : `${two(seconds / 86400)} days`;
}
