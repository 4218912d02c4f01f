// The map: what two settings would give round the present ones. Colour says whether it is wanted, strength says how likely, the figure the diameter.
import {el, picture, readable, text} from './svg.mjs';
import {two, percent, size, shortLabel, unit, outcomeWords} from './words.mjs';
import {answersOfRow, chanceOf, outcomesOf} from './chance.mjs';

const kSteps = [1, 2, 2.5, 5, 10];

/// The step of that kind which is nearest to `raw`, and on a grid that people set: 500 rpm, 0.02 MPa, 0.5 %.
function roundStep(raw) {
  const power = 10 ** Math.floor(Math.log10(raw));
  return kSteps
    .map((m) => m * power)
    .reduce((best, step) => (Math.abs(Math.log(step / raw)) < Math.abs(Math.log(best / raw)) ? step : best));
}

/// Axis of the map: {key, unit, values, own}: round steps to both sides of the own value, inside the limits.
export function axisFor(key, own, count, limits) {
  const [lowest = -Infinity, highest = Infinity] = limits,
    number = own.number,
    whole = key.plain && /count|points|cells/.test(key.name);
  const zero = key.name === 'gas_overpressure' || number === 0;
  let step = roundStep(
    zero
      ? (number > 0 ? 2 * number : Number.isFinite(highest) ? highest / 4 : 1) / (count - 1)
      : Math.max(Math.abs(number), 1e-12) / (count - 1),
  );
  if (whole) step = Math.max(1, Math.round(step));
  let from = zero ? 0 : number - Math.floor(count / 2) * step;
  while (from < lowest || (number > 0 && !zero && from <= 0 && key.name !== 'temperature')) from += step;
  const values = [];
  for (let i = 0; i < count; ++i) {
    const value = Number((from + i * step).toPrecision(6));
    if (value <= highest) values.push(value);
  }
  return {key, unit: own.rest, values, own: number};
}

export const axisText = (axis, value) => (axis.unit ? `${value} ${axis.unit}` : String(value));

/// CSV as it comes from a sweep: rows as objects. Cells with commas are quoted, as in RFC 4180.
export function csvRows(words) {
  const lines = [];
  let cells = [],
    cell = '',
    quoted = false;
  for (let i = 0; i < words.length; ++i) {
    const c = words[i];
    if (quoted) {
      if (c === '"' && words[i + 1] === '"') {
        cell += c;
        ++i;
      } else if (c === '"') quoted = false;
      else cell += c;
    } else if (c === '"') quoted = true;
    else if (c === ',') {
      cells.push(cell);
      cell = '';
    } else if (c === '\n') {
      cells.push(cell.replace(/\r$/, ''));
      lines.push(cells);
      cells = [];
      cell = '';
    } else cell += c;
  }
  if (cell || cells.length) lines.push([...cells, cell]);
  const [names, ...rows] = lines;
  return rows
    .filter((row) => row.length === names.length)
    .map((row) => Object.fromEntries(names.map((name, i) => [name, row[i]])));
}

/// One cell: {status, answers, chance, diameter, outcome} of a row of the sweep.
export function cellOf(row, model, wanted) {
  const answers = row.status === 'done' ? answersOfRow(row, model) : [];
  const outcomes = answers.length ? outcomesOf(answers) : {nothing: 1};
  const outcome = Object.entries(outcomes).sort((a, b) => b[1] - a[1])[0][0];
  const first = answers[0]?.diameter_um;
  const inside = wanted && first >= (wanted.low ?? 0) && first <= (wanted.high ?? Infinity);
  const even = outcome === 'even';
  return {
    row,
    answers,
    diameter: first,
    outcome: row.status === 'done' ? outcome : 'nothing',
    chance: wanted ? chanceOf(answers, wanted) : null,
    kind: !even ? 'none' : !wanted || inside ? 'meets' : 'other',
    sure: even ? outcomes.even * (answers[0]?.probability ?? 1) : (outcomes[outcome] ?? 1),
    failed: row.status !== 'done',
  };
}

export function cellWords(cell, axes, i, j) {
  const at = `${shortLabel(axes.x.key.path)} ${unit(axisText(axes.x, axes.x.values[i]))}, ${shortLabel(axes.y.key.path)} ${unit(axisText(axes.y, axes.y.values[j]))}: `;
  if (!cell) return at + 'not computed yet';
  if (cell.failed) return at + 'no result';
  const second = cell.answers[1] ? `, or ${size(cell.answers[1].diameter_um)}` : '';
  const chance = cell.chance === null ? '' : `; chance to meet what is wanted ${percent(cell.chance)}`;
  return (
    at + (cell.diameter > 0 ? `about ${size(cell.diameter)}${second}; ` : '') + outcomeWords(cell.outcome) + chance
  );
}

const kLeft = 62,
  kBottom = 48,
  kTop = 4,
  kRight = 6;

export function drawMap({axes, cells, wanted, own}, colours, width, height) {
  const columns = axes.x.values.length,
    rows = axes.y.values.length;
  const w = (width - kLeft - kRight) / columns,
    h = (height - kTop - kBottom) / rows,
    parts = [],
    figures = [];
  const hatch = el(
    'pattern',
    {id: `hatch-${colours.name}`, width: 6, height: 6, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)'},
    el('rect', {width: 6, height: 6, fill: colours.paper}),
    el('path', {d: 'M0 0V6', stroke: colours.none, 'stroke-width': 2.4}),
  );
  parts.push(el('defs', {}, hatch));
  for (let j = 0; j < rows; ++j) {
    for (let i = 0; i < columns; ++i) {
      const cell = cells[j * columns + i],
        x = kLeft + i * w,
        y = kTop + (rows - 1 - j) * h;
      if (!cell) {
        parts.push(el('rect', {x: x + 0.5, y: y + 0.5, width: w - 1, height: h - 1, fill: colours.faint}));
        continue;
      }
      const strength =
        cell.kind === 'none'
          ? 1
          : cell.kind === 'meets' && cell.chance !== null
            ? 0.22 + 0.78 * Math.min(1, cell.chance / 0.8)
            : 0.2 + 0.45 * cell.sure;
      const fill = cell.kind === 'none' ? `url(#hatch-${colours.name})` : colours[cell.kind];
      parts.push(
        el('rect', {
          x: x + 0.5,
          y: y + 0.5,
          width: w - 1,
          height: h - 1,
          fill,
          'fill-opacity': cell.kind === 'none' ? 0.75 : strength.toFixed(3),
        }),
      );
      const words = cell.failed
        ? '?'
        : cell.diameter > 0 && cell.kind !== 'none'
          ? two(cell.diameter)
          : cell.outcome === 'wet'
            ? '~'
            : '\u00d7';
      if (h > 12 && (w > 26 || i % 2 === 1)) {
        figures.push(
          text(x + w / 2, y + h / 2 + 4, words, {
            'text-anchor': 'middle',
            'font-size': Math.min(12, (w > 26 ? w : 2 * w) / 2.35, h * 0.62).toFixed(1),
            fill:
              cell.kind === 'none'
                ? colours.ink
                : readable(colours[cell.kind], colours.paper, strength, ['#000000', '#ffffff']),
            ...(cell.kind === 'none' ? {stroke: colours.paper, 'stroke-width': 3, 'paint-order': 'stroke'} : {}),
          }),
        );
      }
    }
  }
  parts.push(...figures);
  const every = (count, room, need) => Math.max(1, Math.ceil((count * need) / room));
  const stepX = every(columns, width - kLeft, 52),
    stepY = every(rows, height - kBottom, 20);
  axes.x.values.forEach((value, i) => {
    if (i % stepX === 0)
      parts.push(
        text(kLeft + (i + 0.5) * w, height - kBottom + 16, two(value, 4), {
          'text-anchor': 'middle',
          fill: colours.ink,
          'font-size': 11.5,
        }),
      );
  });
  axes.y.values.forEach((value, j) => {
    if (j % stepY === 0)
      parts.push(
        text(kLeft - 6, kTop + (rows - 0.5 - j) * h + 4, two(value, 4), {
          'text-anchor': 'end',
          fill: colours.ink,
          'font-size': 11.5,
        }),
      );
  });
  const name = (axis) => `${shortLabel(axis.key.path)}${axis.unit ? ', ' + unit(axis.unit) : ''}`;
  parts.push(
    text(kLeft + (width - kLeft) / 2, height - 10, name(axes.x), {'text-anchor': 'middle', fill: colours.ink}),
    el(
      'text',
      {
        transform: `translate(13 ${kTop + (height - kBottom) / 2}) rotate(-90)`,
        'text-anchor': 'middle',
        fill: colours.ink,
      },
      name(axes.y),
    ),
  );
  const place = (axis, value) => (value - axis.values[0]) / (axis.values.at(-1) - axis.values[0] || 1);
  const px = place(axes.x, own.x),
    py = place(axes.y, own.y);
  if (px >= -0.02 && px <= 1.02 && py >= -0.02 && py <= 1.02) {
    const cx = kLeft + (0.5 + px * (columns - 1)) * w,
      cy = kTop + (rows - 0.5 - py * (rows - 1)) * h;
    parts.push(
      el('circle', {
        cx,
        cy,
        r: Math.max(9, Math.min(w, h) * 0.62),
        fill: 'none',
        stroke: colours.paper,
        'stroke-width': 5,
      }),
      el('circle', {
        cx,
        cy,
        r: Math.max(9, Math.min(w, h) * 0.62),
        fill: 'none',
        stroke: colours.ink,
        'stroke-width': 2.5,
      }),
    );
  }
  const done = cells.filter(Boolean),
    meets = done.filter((cell) => cell.kind === 'meets').length;
  return picture(
    width,
    height,
    `Map of ${name(axes.x)} and ${name(axes.y)}: ${done.length} settings computed, ${wanted ? `${meets} give even fibre of the wanted size` : `${meets} give even fibre`}`,
    ...parts,
  );
}

/// Column and row under a point of the picture; null beside the map.
export function cellAt(axes, width, height, x, y) {
  const columns = axes.x.values.length,
    rows = axes.y.values.length;
  const i = Math.floor((x - kLeft) / ((width - kLeft - kRight) / columns)),
    j = rows - 1 - Math.floor((y - kTop) / ((height - kTop - kBottom) / rows));
  return i >= 0 && i < columns && j >= 0 && j < rows ? {i, j} : null;
}

export function cellBox(axes, width, height, i, j) {
  const w = (width - kLeft - kRight) / axes.x.values.length,
    h = (height - kTop - kBottom) / axes.y.values.length;
  return {x: kLeft + i * w, y: kTop + (axes.y.values.length - 1 - j) * h, width: w, height: h};
}
