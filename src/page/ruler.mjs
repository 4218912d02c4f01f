// The answer as a picture: where the diameter may lie, on a logarithmic ruler with the wanted zone, and a bar of what lands.
import {el, picture, text, logMarks} from './svg.mjs';
import {two, percent, size, outcomeWords, outcomeSign, kMicro} from './words.mjs';

const kHalf = 0.41; // the value lies within this part of a 90 % band as likely as not, on a logarithmic scale

function span(answers, wanted) {
  const values = answers.flatMap((a) =>
    a.diameter_um > 0 ? [a.diameter_low_um ?? a.diameter_um, a.diameter_high_um ?? a.diameter_um] : [],
  );
  for (const edge of [wanted?.low, wanted?.high]) if (edge > 0 && Number.isFinite(edge)) values.push(edge);
  if (!values.length) return null;
  return {low: Math.min(...values) / 1.35, high: Math.max(...values) * 1.35};
}

export function drawRuler({answers, wanted}, colours, width) {
  const shown = answers.filter((a) => a.diameter_um > 0 && a.probability !== 0),
    range = span(shown, wanted);
  if (!range)
    return picture(
      width,
      40,
      'No fibre, so no diameter',
      text(0, 24, 'No fibre at these settings, so there is no diameter.', {fill: colours.soft}),
    );
  const rows = shown.length,
    left = 6,
    right = width - 6,
    axis = 30 + 34 * rows,
    height = axis + 36;
  const x = (um) => left + ((right - left) * Math.log(um / range.low)) / Math.log(range.high / range.low);
  const parts = [];
  if (wanted && (wanted.low > 0 || Number.isFinite(wanted.high))) {
    const from = wanted.low > 0 ? x(wanted.low) : left,
      to = Number.isFinite(wanted.high) ? x(wanted.high) : right;
    const middle = Math.min(right - 24, Math.max(left + 24, (from + to) / 2));
    parts.push(
      el('rect', {x: from, y: 16, width: Math.max(2, to - from), height: axis - 16, fill: colours.zone}),
      el('path', {d: `M${from} 16V${axis}M${to} 16V${axis}`, stroke: colours.meets, 'stroke-width': 1.5}),
      text(middle, 12, 'wanted', {'text-anchor': 'middle', fill: colours.meets, 'font-weight': 600, 'font-size': 12}),
    );
  }
  shown.forEach((answer, i) => {
    const y = 38 + 34 * i,
      colour = i === 0 ? colours.band : colours.second,
      thick = i === 0 ? 12 : 8;
    const {diameter_um: d, diameter_low_um: low = d, diameter_high_um: high = d} = answer;
    const innerLow = d * (low / d) ** kHalf,
      innerHigh = d * (high / d) ** kHalf;
    parts.push(
      el('rect', {
        x: x(low),
        y: y - thick / 2,
        width: Math.max(3, x(high) - x(low)),
        height: thick,
        rx: thick / 2,
        fill: colour,
        'fill-opacity': 0.38,
      }),
      el('rect', {
        x: x(innerLow),
        y: y - thick / 2,
        width: Math.max(3, x(innerHigh) - x(innerLow)),
        height: thick,
        fill: colour,
      }),
      el('circle', {cx: x(d), cy: y, r: thick / 2 + 2, fill: colours.paper, stroke: colours.ink, 'stroke-width': 2.5}),
    );
    const words =
      shown.length > 1
        ? `${i === 0 ? '' : 'or '}${two(d)} ${kMicro}, ${percent(answer.probability)}`
        : `${two(d)} ${kMicro}`;
    const room = words.length * 6.8 + 8;
    const side = x(high) + room < right ? 'right' : x(low) - room > 0 ? 'left' : 'above';
    const at = {
      right: [x(high) + 8, y + 4, 'start'],
      left: [x(low) - 8, y + 4, 'end'],
      above: [Math.min(right - room / 2, Math.max(room / 2, x(d))), y - thick / 2 - 5, 'middle'],
    }[side];
    parts.push(text(at[0], at[1], words, {'text-anchor': at[2], fill: colours.ink, 'font-size': 12}));
  });
  parts.push(el('path', {d: `M${left} ${axis}H${right}`, stroke: colours.ink, 'stroke-width': 1.5}));
  let last = -Infinity;
  for (const mark of logMarks(range.low, range.high)) {
    const at = x(mark.value),
      words = two(mark.value, 1),
      room = 7 * words.length + 8;
    parts.push(el('path', {d: `M${at.toFixed(1)} ${axis}v${mark.major ? 7 : 4}`, stroke: colours.ink}));
    if (!mark.major || at - last < room || at > right - 30) continue;
    parts.push(text(at, axis + 20, words, {'text-anchor': 'middle', fill: colours.ink, 'font-size': 12}));
    last = at;
  }
  parts.push(text(right, axis + 20, kMicro, {'text-anchor': 'end', fill: colours.ink, 'font-size': 12}));
  const first = shown[0];
  const label =
    `Diameter about ${size(first.diameter_um)}, 90 % between ${size(first.diameter_low_um ?? first.diameter_um)} and ${size(first.diameter_high_um ?? first.diameter_um)}` +
    (shown[1] ? `; or about ${size(shown[1].diameter_um)} (${percent(shown[1].probability)})` : '');
  return picture(width, height, label, ...parts);
}

const outcomeColours = (colours) => ({
  even: colours.meets,
  beaded: colours.other,
  drops: colours.none,
  wet: colours.liquid,
  nothing: colours.metal,
});

export function drawOutcomes(outcomes, colours, width) {
  const fills = outcomeColours(colours),
    total = Object.values(outcomes).reduce((a, b) => a + b, 0) || 1;
  const parts = [],
    shown = Object.entries(outcomes)
      .filter(([, share]) => share / total > 0.005)
      .sort((a, b) => b[1] - a[1]);
  let at = 0,
    below = 0;
  for (const [key, share] of shown) {
    const wide = (width * share) / total,
      words = `${outcomeWords(key)} ${percent(share / total)}`;
    parts.push(el('rect', {x: at, y: 0, width: Math.max(1, wide - 2), height: 26, fill: fills[key]}));
    if (wide > 7.4 * words.length + 14) {
      parts.push(text(at + 8, 18, words, {fill: colours.onMeets, 'font-weight': 600}));
    } else {
      const y = 42,
        sign = outcomeSign(key);
      parts.push(
        el('rect', {x: below, y: y - 10, width: 10, height: 10, fill: fills[key]}),
        text(below + 15, y, `${sign} ${words}`, {fill: colours.ink, 'font-size': 12}),
      );
      below += 15 + 6.8 * (words.length + 3);
    }
    at += wide;
  }
  const label =
    'What lands: ' + shown.map(([key, share]) => `${outcomeWords(key)} ${percent(share / total)}`).join(', ');
  return picture(width, below ? 48 : 28, label, ...parts);
}

/// Ruler and bar as one picture, to be saved.
export function drawAnswer({answers, wanted, outcomes}, colours, width) {
  const ruler = drawRuler({answers, wanted}, colours, width),
    bar = drawOutcomes(outcomes, colours, width),
    tall = Number(ruler.getAttribute('height'));
  bar.setAttribute('y', tall + 8);
  const label = [ruler, bar].map((each) => each.getAttribute('aria-label')).join('. ');
  for (const each of [ruler, bar]) each.removeAttribute('role');
  return picture(width, tall + 8 + Number(bar.getAttribute('height')), label, ruler, bar);
}
