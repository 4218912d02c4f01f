// A fibre mat as it might look, drawn from the range of the answer, with a scale bar; and its histogram beside the user's own counted list.
import {el, picture, text, logMarks} from './svg.mjs';
import {drawn} from './chance.mjs';
import {two, kMicro} from './words.mjs';

// Always the same fibres: points of an additive sequence, no random numbers.
const place = (n, step) => (n * step) % 1;

export function sampled(answers, count = 400) {
  const out = [];
  for (let n = 0; n < count; ++n) {
    const um = drawn(
      answers,
      place(n + 0.5, 0.7548776662),
      Math.min(0.9995, Math.max(0.0005, place(n + 0.5, 0.569840291))),
    );
    if (um > 0) out.push(um);
  }
  return out;
}

export function drawMat({answers}, colours, side) {
  // The likelier answer alone: one micrograph shows one of the two.
  const own = sampled(answers.slice(0, 1), 90);
  if (!own.length)
    return picture(
      side,
      side,
      'No fibre, so no mat',
      text(side / 2, side / 2, 'no fibre, so no mat', {'text-anchor': 'middle', fill: colours.none}),
    );
  const middle = answers[0].diameter_um,
    field = middle * 40,
    scale = side / field,
    high = side - 30,
    parts = [];
  parts.push(el('rect', {width: side, height: high, fill: '#15181c'}));
  own.slice(0, 60).forEach((um, n) => {
    const angle = Math.PI * place(n + 1, 0.6180339887),
      x = side * place(n + 1, 0.7548776662),
      y = high * place(n + 1, 0.569840291);
    const dx = 1.5 * side * Math.cos(angle),
      dy = 1.5 * side * Math.sin(angle),
      bend = (place(n + 1, 0.4142135624) - 0.5) * 60;
    const shade = 70 + Math.round((150 * n) / 60),
      wide = Math.max(0.6, um * scale),
      d = `M${(x - dx).toFixed(1)} ${(y - dy).toFixed(1)}Q${(x + bend).toFixed(1)} ${(y - bend).toFixed(1)} ${(x + dx).toFixed(1)} ${(y + dy).toFixed(1)}`;
    parts.push(
      el('path', {d, fill: 'none', stroke: '#0c0e10', 'stroke-width': (wide + 1.4).toFixed(2)}),
      el('path', {d, fill: 'none', stroke: `rgb(${shade},${shade},${shade})`, 'stroke-width': wide.toFixed(2)}),
    );
  });
  const power = 10 ** Math.floor(Math.log10(field / 5)),
    bar = [1, 2, 5, 10].map((m) => m * power).find((m) => m >= field / 6);
  parts.push(
    el('rect', {y: high, width: side, height: 30, fill: '#000000'}),
    el('rect', {x: 12, y: high + 13, width: bar * scale, height: 4, fill: '#ffffff'}),
    text(20 + bar * scale, high + 20, `${two(bar)} ${kMicro}`, {fill: '#ffffff'}),
    text(side - 8, high + 20, 'drawn, not a micrograph', {fill: '#ffffff', 'text-anchor': 'end', 'font-size': 11}),
  );
  return picture(
    side,
    side,
    `A fibre mat drawn from the estimated range round ${two(middle)} micrometres; not a micrograph`,
    el('svg', {width: side, height: side, overflow: 'hidden'}, ...parts),
  );
}

const bins = (values, edges) => {
  const out = new Array(edges.length - 1).fill(0);
  for (const value of values) {
    const at = edges.findIndex((edge, i) => i > 0 && value < edge && value >= edges[i - 1]);
    if (at > 0) out[at - 1] += 1 / values.length;
  }
  return out;
};

/// Histogram on a logarithmic axis: what the answer expects, and the user's own list where there is one.
export function drawHistogram({answers, counted}, colours, width, height) {
  const expected = sampled(answers),
    all = [...expected, ...(counted ?? [])];
  if (!all.length) return picture(width, 30, 'No fibre, so no histogram');
  const sorted = expected.toSorted((a, b) => a - b),
    at = (share) => sorted[Math.floor(share * (sorted.length - 1))];
  const low = Math.min(at(0.01) ?? Infinity, ...(counted?.length ? counted : [Infinity])) / 1.1,
    high = Math.max(at(0.99) ?? 0, ...(counted?.length ? counted : [0])) * 1.1;
  const edges = Array.from({length: 25}, (_, i) => low * (high / low) ** (i / 24));
  const model = bins(expected, edges),
    own = counted?.length ? bins(counted, edges) : null;
  const most = Math.max(...model, ...(own ?? [0])),
    left = 8,
    axis = height - 24,
    wide = (width - 2 * left) / 24,
    parts = [];
  model.forEach((share, i) =>
    parts.push(
      el('rect', {
        x: left + i * wide + 0.5,
        y: axis - ((axis - 8) * share) / most,
        width: wide - 1,
        height: ((axis - 8) * share) / most,
        fill: colours.band,
        'fill-opacity': 0.6,
      }),
    ),
  );
  if (own)
    parts.push(
      el('path', {
        d: own
          .map((share, i) => `${i ? 'L' : 'M'}${left + i * wide} ${axis - ((axis - 8) * share) / most}h${wide}`)
          .join(''),
        fill: 'none',
        stroke: colours.none,
        'stroke-width': 2,
      }),
    );
  parts.push(el('path', {d: `M${left} ${axis}H${width - left}`, stroke: colours.ink}));
  let last = -Infinity;
  for (const mark of logMarks(low, high)) {
    const x = left + ((width - 2 * left) * Math.log(mark.value / low)) / Math.log(high / low);
    parts.push(el('path', {d: `M${x.toFixed(1)} ${axis}v${mark.major ? 6 : 3}`, stroke: colours.ink}));
    if (!mark.major || x - last < 34 || x > width - 30) continue;
    parts.push(text(x, axis + 18, two(mark.value, 1), {'text-anchor': 'middle', fill: colours.ink, 'font-size': 11.5}));
    last = x;
  }
  parts.push(text(width - 4, axis + 18, kMicro, {'text-anchor': 'end', fill: colours.ink, 'font-size': 11.5}));
  return picture(
    width,
    height,
    own ? 'Diameters expected (filled) and counted (line)' : 'Diameters expected',
    ...parts,
  );
}

/// Numbers of a pasted or dropped list of diameters in micrometres: the last number of each line.
export function readList(words) {
  return words
    .split(/\r?\n/)
    .map((line) => {
      const found = line.replace(/(\d),(\d)/g, '$1.$2').match(/[-+]?\d*\.?\d+(?:[eE][-+]?\d+)?/g);
      return found ? Number(found.at(-1)) : NaN;
    })
    .filter((value) => value > 0 && value < 1e4)
    .slice(0, 5000);
}
