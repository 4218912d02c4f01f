// Two ranked bar charts: what a setting does to the diameter, and which lack of knowledge moves it most.
import {el, picture, text} from './svg.mjs';
import {two, shortLabel, label, kMicro} from './words.mjs';

const kTurnable = [
  'solution.concentration',
  'solution.molar_mass',
  'operation.rotation_speed',
  'operation.gas_overpressure',
  'operation.collection_distance',
  'operation.charge_volume',
  'operation.feed_rate',
  'vessel.orifice_diameter',
  'vessel.orifice_count',
  'vessel.bore_diameter',
  'vessel.wall_thickness',
  'room.relative_humidity',
  'room.temperature',
];

/// Rows of what can be turned, of an explain --json: each setting 20 % down and up, for one of the two answers; a mark where published trials went the other way.
export function turnRows(explain, answer, published) {
  const column = answer.answer === 'torn threads' ? 'thread_diameter_um' : 'line_diameter_um';
  const rows = [];
  for (const input of explain.elasticities?.inputs ?? []) {
    if (!kTurnable.includes(input.key) || !input.made || input.per !== 'ln') continue;
    const slope = input.outputs[column] ?? input.outputs.dry_diameter_um;
    if (!slope || slope.of !== 'ln') continue;
    const trend = published.find((each) => each.key === input.key || each.key === input.key.split('.').pop());
    const model = slope.value > 0.1 ? 'coarser' : slope.value < -0.1 ? 'finer' : 'hardly any effect';
    const said = trend && /^(finer|coarser)/.exec(trend.published)?.[1];
    rows.push({
      name: shortLabel(input.key),
      low: answer.diameter_um * Math.exp(slope.value * Math.log(0.8)),
      high: answer.diameter_um * Math.exp(slope.value * Math.log(1.2)),
      sign: slope.value,
      differs: Boolean(said && said !== model && model !== 'hardly any effect'),
      published: said,
      model,
    });
  }
  return rows
    .sort((a, b) => Math.abs(b.sign) - Math.abs(a.sign))
    .filter((row) => Math.abs(row.sign) > 0.02 || row.differs)
    .slice(0, 7);
}

/// Rows of what is not known: one standard deviation of each doubt.
export function doubtRows(estimate, answer) {
  const rows = [];
  if (answer.answer === 'torn threads') {
    const side = Math.log((answer.diameter_high_um ?? answer.diameter_um) / answer.diameter_um) / 1.645;
    if (side > 0)
      rows.push({
        name: 'Law of thread size (first micrograph)',
        low: answer.diameter_um * Math.exp(-side),
        high: answer.diameter_um * Math.exp(side),
        sign: side,
      });
    return rows;
  }
  for (const doubt of estimate.line_doubts ?? []) {
    if (doubt.log_sd < 0.02) continue;
    rows.push({
      name: label(doubt.key).replace(/ factor$/, ''),
      low: answer.diameter_um * Math.exp(-doubt.log_sd),
      high: answer.diameter_um * Math.exp(doubt.log_sd),
      sign: doubt.log_sd,
    });
  }
  return rows.sort((a, b) => b.sign - a.sign).slice(0, 7);
}

export function drawBars({rows, middle, low, high}, colours, width) {
  if (!rows.length)
    return picture(
      width,
      40,
      'Nothing to rank',
      text(0, 24, 'Nothing moves this diameter by more than 2 %.', {fill: colours.soft}),
    );
  const names = Math.min(230, width * 0.42),
    left = names + 46,
    right = width - 46,
    height = 30 * rows.length + 26;
  const reach = Math.max(
    Math.log(1.05),
    ...rows.flatMap((row) => [Math.abs(Math.log(row.low / middle)), Math.abs(Math.log(row.high / middle))]),
  );
  const x = (um) => (left + right) / 2 + (((right - left) / 2) * Math.log(um / middle)) / reach,
    parts = [];
  rows.forEach((row, i) => {
    const y = 6 + 30 * i,
      bar = (um, fill, anchor) => {
        const from = Math.min(x(um), x(middle)),
          wide = Math.abs(x(um) - x(middle));
        parts.push(el('rect', {x: from, y, width: Math.max(0.5, wide), height: 20, fill}));
        if (anchor)
          parts.push(
            text(um > middle ? x(um) + 5 : x(um) - 5, y + 15, two(um), {
              'text-anchor': um > middle ? 'start' : 'end',
              fill: colours.ink,
              'font-size': 12,
            }),
          );
      };
    const close = Math.abs(Math.log(row.low / row.high)) < 0.01;
    bar(row.low, colours.other, !close);
    bar(row.high, colours.band, !close);
    parts.push(
      text(names, y + 15, (row.differs ? '\u26a0 ' : '') + row.name, {
        'text-anchor': 'end',
        fill: row.differs ? colours.none : colours.ink,
        'font-size': 12.5,
      }),
    );
  });
  parts.push(
    el('path', {d: `M${x(middle)} 0V${30 * rows.length + 4}`, stroke: colours.ink, 'stroke-width': 2}),
    text(x(middle), height - 6, `${two(middle)} ${kMicro}`, {
      'text-anchor': 'middle',
      fill: colours.ink,
      'font-size': 12,
    }),
    el('rect', {x: 4, y: height - 16, width: 10, height: 10, fill: colours.other}),
    text(18, height - 6, low, {fill: colours.ink, 'font-size': 11.5}),
    el('rect', {x: 80, y: height - 16, width: 10, height: 10, fill: colours.band}),
    text(94, height - 6, high, {fill: colours.ink, 'font-size': 11.5}),
  );
  return picture(
    width,
    height,
    rows
      .map(
        (row) =>
          `${row.name}: ${two(row.low)} to ${two(row.high)} micrometres${row.differs ? `, published ${row.published}, model ${row.model}` : ''}`,
      )
      .join('; '),
    ...parts,
  );
}
