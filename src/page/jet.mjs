// The jet or the threads seen from above. A line is drawn as computed: its path, width by diameter, colour by the solvent still in it.
// Torn threads have no computed path: they are drawn as what they are said to be, fine, many, carried off by the gas; the caption says so.
import {el, picture, text, path} from './svg.mjs';
import {two, size, kMicro} from './words.mjs';

const kBoxes = 7; // colours between wet and dry

function mixed(a, b, share) {
  const channel = (hex, i) => parseInt(hex.slice(1 + 2 * i, 3 + 2 * i), 16);
  return (
    '#' +
    [0, 1, 2]
      .map((i) =>
        Math.round(channel(a, i) + (channel(b, i) - channel(a, i)) * share)
          .toString(16)
          .padStart(2, '0'),
      )
      .join('')
  );
}

function lines(profile, scale, centre, colours, faint) {
  const x = profile.x_mm,
    y = profile.y_mm,
    d = profile.diameter_um,
    solvent = profile.solvent_mass_fraction ?? profile.residual_solvent ?? [];
  const wettest = Math.max(1e-9, solvent[0] ?? 1),
    parts = [];
  const group = (k) => {
    const dry = 1 - Math.min(1, Math.max(0, (solvent[k] ?? 0) / wettest));
    return Math.min(kBoxes - 1, Math.floor(dry * kBoxes));
  };
  const width = (k) =>
    Math.max(0.7, Math.min(4.2, 0.7 + 1.15 * Math.log10(Math.max(1, (d[k] / d[d.length - 1]) * 1.5))));
  let start = 0;
  for (let k = 1; k < x.length; ++k) {
    const changes = group(k) !== group(start) || Math.abs(width(k) - width(start)) > 0.25;
    if (!changes && k < x.length - 1) continue;
    const points = [];
    for (let m = start; m <= k; ++m) points.push([centre + scale * x[m], centre - scale * y[m]]);
    parts.push(
      el('path', {
        d: path(points),
        fill: 'none',
        stroke: mixed(colours.liquid, colours.ink, group(start) / (kBoxes - 1)),
        'stroke-width': width(start).toFixed(2),
        'stroke-linecap': 'round',
        'stroke-opacity': faint ? 0.3 : 1,
      }),
    );
    start = k;
  }
  return parts;
}

// Threads as drawn things: seeded, so that the picture does not flicker while settings move.
function threads(radius, reach, centre, scale, colours, count) {
  const parts = [];
  let state = 12345;
  const random = () => {
    state = (state * 1103515245 + 12345) % 2147483648;
    return state / 2147483648;
  };
  for (let n = 0; n < count; ++n) {
    const turn = (2 * Math.PI * n) / count;
    for (let k = 0; k < 5; ++k) {
      const points = [],
        lag = 0.25 + 0.5 * random(),
        lean = (random() - 0.5) * 0.35;
      for (let m = 0; m <= 14; ++m) {
        const share = m / 14,
          r = radius + (reach - radius) * share,
          angle = turn + lean * share - lag * share ** 1.5;
        const wave = (1 - share) * 0 + (2.2 * share * Math.sin(9 * share + 6 * k)) / Math.max(r, 1);
        points.push([centre + scale * r * Math.cos(angle + wave), centre - scale * r * Math.sin(angle + wave)]);
      }
      parts.push(
        el('path', {d: path(points), fill: 'none', stroke: colours.band, 'stroke-width': 0.8, 'stroke-opacity': 0.75}),
      );
    }
  }
  return parts;
}

/// facts: {vessel_mm, collector_mm, orifices, profile, torn, fibre (a line or threads exist), line_um, thread_um, threads}
export function drawJet(facts, colours, side) {
  const centre = side / 2,
    reach = Math.max(facts.collector_mm, facts.vessel_mm * 1.2),
    scale = (side / 2 - 8) / reach,
    parts = [];
  const group = (...children) =>
    el('g', {class: 'turns', style: `transform-origin:${centre}px ${centre}px`}, ...children);
  parts.push(
    el('circle', {
      cx: centre,
      cy: centre,
      r: scale * facts.collector_mm,
      fill: 'none',
      stroke: colours.metal,
      'stroke-width': 4,
    }),
  );
  const moving = [];
  if (facts.profile && facts.profile.x_mm.length > 1 && facts.fibre)
    moving.push(...lines(facts.profile, scale, centre, colours, facts.torn));
  if (facts.torn && facts.fibre)
    moving.push(...threads(facts.vessel_mm, facts.collector_mm, centre, scale, colours, Math.min(24, facts.orifices)));
  const holes = Math.min(60, facts.orifices);
  for (let n = 0; n < holes; ++n) {
    const angle = (2 * Math.PI * n) / holes,
      r = scale * facts.vessel_mm;
    moving.push(
      el('path', {
        d: `M${(centre + (r - 3.5) * Math.cos(angle)).toFixed(1)} ${(centre - (r - 3.5) * Math.sin(angle)).toFixed(1)}L${(centre + r * Math.cos(angle)).toFixed(1)} ${(centre - r * Math.sin(angle)).toFixed(1)}`,
        stroke: colours.paper,
        'stroke-width': 2,
      }),
    );
  }
  const r = scale * facts.vessel_mm;
  moving.unshift(
    el('circle', {
      cx: centre,
      cy: centre,
      r,
      fill: colours.metal,
      'fill-opacity': 0.55,
      stroke: colours.ink,
      'stroke-width': 1.5,
    }),
  );
  moving.push(
    el('path', {
      d: `M${centre} ${centre - r * 0.45}A${r * 0.45} ${r * 0.45} 0 1 0 ${centre + r * 0.45} ${centre}`,
      fill: 'none',
      stroke: colours.ink,
      'stroke-width': 1.5,
    }),
    el('path', {d: `M${centre - 5} ${centre - r * 0.45}l8 -5v10z`, fill: colours.ink}),
  );
  parts.push(group(...moving));
  if (!facts.fibre)
    parts.push(
      text(centre, side - 16, 'no jet leaves the orifices', {
        'text-anchor': 'middle',
        fill: colours.none,
        'font-weight': 600,
        stroke: colours.paper,
        'stroke-width': 4,
        'paint-order': 'stroke',
      }),
    );
  return picture(side, side, jetWords(facts), ...parts);
}

export function jetWords(facts) {
  const place = `Vessel of ${two(2 * facts.vessel_mm, 3)} mm seen from above, collector at ${two(facts.collector_mm - facts.vessel_mm, 3)} mm.`;
  if (!facts.fibre) return `${place} No jet is drawn, for none leaves.`;
  const line =
    facts.profile && facts.profile.x_mm.length > 1
      ? ` ${facts.torn ? 'Pale: one unsplit line, the other answer' : 'One line'}, as computed, blue while wet, ${two(facts.profile.diameter_um[0], 3)} ${kMicro} at the orifice, ` +
        `${two(facts.turns)} turns${facts.arrives ? '' : '; it does not reach the collector'}.`
      : '';
  return (
    place +
    (facts.torn
      ? ` Threads of about ${size(facts.thread_um)} are drawn, not computed: what is known of them is their size and number${facts.threads > 0 ? ` (${two(facts.threads)} for each orifice)` : ''}.`
      : '') +
    line
  );
}

/// facts: {bore_mm, height_mm, wall_mm, orifice_mm, orifice_height_mm, layer_mm, surface_mm, opening_mm, break_mm, break_s, gas}
export function drawSection(facts, colours, side) {
  const wide = facts.bore_mm + 2 * facts.wall_mm,
    scale = Math.min((side - 70) / wide, (side * 0.6) / facts.height_mm, 12);
  const x0 = side / 2 - (scale * wide) / 2,
    y0 = 34,
    h = scale * facts.height_mm,
    wall = Math.max(5, scale * facts.wall_mm),
    bore = scale * facts.bore_mm;
  const parts = [],
    floor = y0 + h,
    left = side / 2 - bore / 2,
    right = side / 2 + bore / 2;
  const layer = Math.min(bore / 2, Math.max(4, scale * facts.layer_mm)),
    y = floor - scale * facts.orifice_height_mm,
    hole = Math.max(3, scale * facts.orifice_mm);
  parts.push(
    el('rect', {x: left, y: y0, width: layer, height: h, fill: colours.liquid}),
    el('rect', {x: right - layer, y: y0, width: layer, height: h, fill: colours.liquid}),
  );
  for (const x of [left - wall, right]) {
    parts.push(
      el('rect', {x, y: y0 - 6, width: wall, height: h + 12, fill: colours.metal}),
      el('rect', {x, y: y - hole / 2, width: wall, height: hole, fill: colours.liquid}),
    );
  }
  const opening = scale * (facts.opening_mm || 0);
  parts.push(el('rect', {x: left - wall, y: floor, width: bore + 2 * wall, height: 8, fill: colours.metal}));
  if (opening > 0) {
    parts.push(
      el('rect', {x: left - wall, y: y0 - 8, width: (bore - opening) / 2 + wall, height: 8, fill: colours.metal}),
      el('rect', {
        x: side / 2 + opening / 2,
        y: y0 - 8,
        width: (bore - opening) / 2 + wall,
        height: 8,
        fill: colours.metal,
      }),
    );
  } else {
    parts.push(el('rect', {x: left - wall, y: y0 - 8, width: bore + 2 * wall, height: 8, fill: colours.metal}));
  }
  parts.push(
    el('path', {d: `M${side / 2} ${y0 - 20}V${floor + 22}`, stroke: colours.soft, 'stroke-dasharray': '8 3 2 3'}),
    el('path', {
      d: `M${right + wall} ${y}h22m-6 -4l6 4l-6 4M${left - wall} ${y}h-22m6 -4l-6 4l6 4`,
      fill: 'none',
      stroke: colours.ink,
      'stroke-width': 1.5,
    }),
  );
  const gasX = side / 2 - Math.max(20, bore * 0.2);
  parts.push(text(gasX, y0 + h * 0.45, 'gas', {'text-anchor': 'middle', fill: colours.soft}));
  if (facts.break_mm > 0) {
    const thin = Math.max(1.5, scale * facts.break_mm);
    parts.push(
      el('path', {
        d: `M${right - thin} ${y0 + 2}V${floor - 2}M${left + thin} ${y0 + 2}V${floor - 2}`,
        stroke: colours.none,
        'stroke-width': 1.5,
        'stroke-dasharray': '5 3',
      }),
    );
  }
  const notes = sectionNotes(facts);
  notes.forEach((words, i) =>
    parts.push(
      text(12, floor + 34 + 18 * i, words, {
        fill: i === 1 && facts.break_mm > 0 ? colours.none : colours.ink,
        'font-size': 12.5,
      }),
    ),
  );
  return picture(side, floor + 40 + 18 * notes.length, 'Vessel in section. ' + notes.join('. '), ...parts);
}

function sectionNotes(facts) {
  const notes = [`layer of ${two(facts.layer_mm)} mm over the orifices at the start`];
  if (facts.break_mm > 0)
    notes.push(
      `gas goes through at ${two(facts.break_mm)} mm (dashed)${facts.break_s >= 0 ? `, after ${two(facts.break_s)} s` : ''}`,
    );
  else notes.push('gas does not go through before the run ends');
  notes.push(
    `${two(facts.bore_mm, 3)} mm bore, orifices ${two(facts.orifice_mm)} mm through a ${two(facts.wall_mm)} mm wall`,
  );
  return notes;
}
