// What the answers of an estimate say together: the chance of a diameter, of an outcome, of what is wanted.

/// Normal distribution function (Abramowitz and Stegun 7.1.26, error below 2e-7).
export function normal(z) {
  const t = 1 / (1 + (0.3275911 * Math.abs(z)) / Math.SQRT2),
    x = (z * z) / 2;
  const half =
    0.5 *
    t *
    (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))) *
    Math.exp(-x);
  return z >= 0 ? 1 - half : half;
}

const kBand = 1.6448536; // a 90 % band is this many standard deviations to either side

/// Share of one answer's fibre below a diameter; its band may be wider on one side.
export function below(answer, um) {
  if (um <= 0) return 0;
  if (!Number.isFinite(um)) return 1;
  const {diameter_um: middle, diameter_low_um: low = middle, diameter_high_um: high = middle} = answer;
  const side = um < middle ? Math.log(middle / low) : Math.log(high / middle);
  if (!(side > 0)) return um >= middle ? 1 : 0;
  return normal((kBand * Math.log(um / middle)) / side);
}

/// Chance that fibre is even and inside the wanted range: both answers with their probabilities.
export function chanceOf(answers, wanted) {
  let sum = 0;
  for (const answer of answers) {
    if (!(answer.diameter_um > 0)) continue;
    const inside = below(answer, wanted.high ?? Infinity) - below(answer, wanted.low ?? 0);
    sum += answer.probability * answer.outcomes.even * Math.max(0, inside);
  }
  return Math.min(1, sum);
}

/// Outcomes over all answers: {even, beaded, drops, wet, nothing}.
export function outcomesOf(answers) {
  const sum = {even: 0, beaded: 0, drops: 0, wet: 0, nothing: 0};
  for (const answer of answers)
    for (const key of Object.keys(sum)) sum[key] += answer.probability * (answer.outcomes[key] ?? 0);
  return sum;
}

/// A diameter of the mixture for a number between 0 and 1 that chooses the answer and one that chooses inside its band.
export function drawn(answers, choice, inside) {
  const fibres = answers.filter((answer) => answer.diameter_um > 0);
  if (!fibres.length) return null;
  let left = choice * fibres.reduce((sum, answer) => sum + answer.probability, 0);
  const answer = fibres.find((each) => (left -= each.probability) <= 0) ?? fibres.at(-1);
  const z = quantile(inside);
  const side =
    z < 0
      ? Math.log(answer.diameter_um / (answer.diameter_low_um ?? answer.diameter_um))
      : Math.log((answer.diameter_high_um ?? answer.diameter_um) / answer.diameter_um);
  return answer.diameter_um * Math.exp((z * side) / kBand);
}

/// Normal quantile by bisection: the picture needs no more.
export function quantile(share) {
  let low = -6,
    high = 6;
  for (let i = 0; i < 40; ++i) {
    const middle = 0.5 * (low + high);
    if (normal(middle) < share) low = middle;
    else high = middle;
  }
  return 0.5 * (low + high);
}

/// A row of a sweep as the answers that an estimate would give; spreads of the second answer are those at the setting of the case.
export function answersOfRow(row, model) {
  const number = (name) => (row[name] === '' || row[name] === undefined ? undefined : Number(row[name]));
  const torn = row.torn === 'true',
    p = number('tearing_probability') ?? 0;
  const outcomes = {};
  for (const key of ['even', 'beaded', 'drops', 'wet', 'nothing']) outcomes[key] = number(`probability_${key}`) ?? 0;
  const spread = (name) => {
    const at = model.find((answer) => answer.answer === name && answer.diameter_um > 0);
    return at
      ? {
          low: (at.diameter_low_um ?? at.diameter_um) / at.diameter_um,
          high: (at.diameter_high_um ?? at.diameter_um) / at.diameter_um,
        }
      : {low: 0.4, high: 2.5};
  };
  const answer = (name, um, probability, own) => {
    const {low, high} = spread(name);
    return {
      answer: name,
      probability,
      diameter_um: um,
      diameter_low_um: own && number('diameter_low_um') ? number('diameter_low_um') : um * low,
      diameter_high_um: own && number('diameter_high_um') ? number('diameter_high_um') : um * high,
      outcomes,
    };
  };
  const first = number('dry_diameter_um');
  if (!(first > 0)) return [];
  const other = number('other_diameter_um');
  const name = torn ? 'torn threads' : 'one line per orifice',
    second = torn ? 'one line per orifice' : 'torn threads';
  const share = torn ? p : 1 - p;
  const out = [answer(name, first, other > 0 ? share : 1, true)];
  if (other > 0) out.push(answer(second, other, 1 - share, false));
  return out;
}
