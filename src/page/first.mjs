// The first screen in bench words: the answer, what to do next, the map and one picture.
import {h, $, fill} from './dom.mjs';
import {palette} from './svg.mjs';
import {two, percent, size, typeset, answerWords, duration, kMicro} from './words.mjs';
import {chanceOf, outcomesOf} from './chance.mjs';
import {drawAnswer, drawRuler, drawOutcomes} from './ruler.mjs';
import {saveButton} from './save_dialog.mjs';
import {drawJet, jetWords, drawSection} from './jet.mjs';
import {drawMat, drawHistogram} from './mat.mjs';
import {drawBars, turnRows, doubtRows} from './bars.mjs';
import {isWanted} from './window_panel.mjs';
import {parts, valueAt} from './keys.mjs';

const said = (e, label) => e.in_short?.find((row) => row.label === label)?.text ?? '';

/// "About 0.5 µm, could be 0.12 to 2 µm"
export function headline(answer) {
  if (!(answer?.diameter_um > 0)) return 'No fibre at this setting';
  const {diameter_um: d, diameter_low_um: low, diameter_high_um: high} = answer;
  return low > 0 ? `About ${two(d)} ${kMicro}, could be ${two(low)} to ${two(high)}` : `About ${two(d)} ${kMicro}`;
}

export function paintAnswer(app) {
  const e = app.estimate,
    place = $('answer');
  if (app.refused) {
    const {key, found, allowed} = app.refused;
    fill(
      place,
      h('h2', {class: 'headline wrong'}, 'This setting is not possible'),
      h('p', {id: 'refusal'}, typeset(`${key ? key + ': ' : ''}${found}`)),
      allowed ? h('p', {}, 'Allowed: ' + typeset(allowed)) : null,
    );
    return;
  }
  if (!e) {
    fill(place, h('h2', {class: 'headline busy'}, 'Computing \u2026'));
    return;
  }
  if (e.status !== 'done') {
    fill(
      place,
      h('h2', {class: 'headline wrong'}, 'No answer: the computation did not converge'),
      h('p', {}, typeset(`${e.reason}. No numbers are reported for this setting.`)),
    );
    return;
  }
  const [first, second] = (e.answers ?? []).filter((each) => each.probability > 0),
    wide = Math.max(280, place.clientWidth - 34),
    nothing = ['no-jet', 'dripping', 'no jet'].includes(e.class) || !(first?.diameter_um > 0);
  const wanted = app.mapWanted(),
    outcomes = outcomesOf(e.answers ?? []);
  fill(
    place,
    h(
      'h2',
      {class: 'headline', id: 'headline'},
      nothing
        ? e.class === 'dripping'
          ? 'It drips: no fibre at this setting'
          : 'No fibre at this setting'
        : headline(first),
    ),
    h(
      'p',
      {class: 'second', id: 'second'},
      nothing
        ? typeset((e.decided_by ?? [])[0] ?? e.reason ?? '')
        : second?.diameter_um > 0
          ? `if it is ${answerWords(first.answer)} (${percent(first.probability)}); or about ${two(second.diameter_um)} ${kMicro}, ${two(second.diameter_low_um)} to ${two(second.diameter_high_um)}, as ${answerWords(second.answer)} (${percent(second.probability)})`
          : `as ${answerWords(first.answer)}`,
    ),
    nothing ? null : drawRuler({answers: e.answers, wanted}, palette(), wide),
    h('div', {class: 'outcomes'}, drawOutcomes(outcomes, palette(), wide)),
    h(
      'div',
      {class: 'under'},
      h(
        'p',
        {class: 'foot', id: 'extent'},
        typeset(
          `90 % ranges. ${app.confirmed ? 'Computed with tension along the jet' : app.confirming ? 'Without tension along the jet; with it in a moment' : 'Without tension along the jet'}` +
            `${app.law && e.calibrated ? `; sizes by ${app.lawName ?? 'trials'}` : ''}. Neighbouring jets are not in it.`,
        ),
      ),
      nothing
        ? null
        : saveButton(app, 'the answer', () => ({
            draw: (colours) => drawAnswer({answers: e.answers, wanted, outcomes}, colours, 620),
            words: `${headline(first)}: dry diameter with 90 % ranges, in the strong part of its band as likely as not${wanted ? ', green: wanted' : ''}; below, what is seen on the collector.`,
            name: 'answer',
          })),
    ),
  );
}

export function paintNext(app) {
  const place = $('next'),
    e = app.estimate;
  if (!e || e.status !== 'done') {
    fill(
      place,
      h('h2', {}, 'What to do next'),
      h('p', {}, app.refused ? 'Mend the setting that is named on the left.' : ''),
    );
    return;
  }
  const wanted = isWanted(app.wanted),
    chance = wanted ? chanceOf(e.answers ?? [], app.wanted) : null;
  const best = wanted ? bestCell(app) : null;
  const rows = [];
  const step = said(e, 'NEXT') || said(e, 'TRIALS');
  if (step) rows.push(h('li', {id: 'step'}, h('strong', {}, app.law ? 'Trials: ' : 'Next: '), sentence(step)));
  if (best)
    rows.push(
      h(
        'li',
        {},
        h('strong', {}, 'Turn: '),
        `${best.words} raise the chance to ${percent(best.chance)}. `,
        h('button', {type: 'button', class: 'link', id: 'turn-it', onclick: () => app.use(best.i, best.j)}, 'Try it'),
      ),
    );
  const published = said(e, 'PUBLISHED'),
    against = contrary(app);
  if (published)
    rows.push(
      h(
        'li',
        {},
        h('strong', {}, (against.length ? '\u26a0 ' : '') + 'Published trials: '),
        typeset(published) +
          '.' +
          (against.length
            ? ` The model goes the other way with ${against.join(' and ')}: test before you trust it.`
            : ''),
      ),
    );
  const output = said(e, 'OUTPUT');
  if (output) rows.push(h('li', {}, h('strong', {}, 'Gives: '), typeset(output) + '.'));
  fill(
    place,
    h('h2', {}, 'What to do next'),
    h(
      'p',
      {class: 'chance', id: 'chance'},
      chance === null
        ? 'Say above which diameter is wanted, and the chance to meet it stands here.'
        : [
            h('strong', {}, percent(chance)),
            ` chance of even fibre of ${app.wantedWords()} here${app.example ? ' (an example: say above what you want)' : ''}`,
          ],
    ),
    h('ul', {class: 'steps'}, rows),
    h('p', {class: 'caution', id: 'caution'}, '\u26a0 ' + typeset(said(e, 'CAUTION'))),
  );
}

const sentence = (words) => {
  const set = typeset(words).trim();
  return set.endsWith('.') ? set : set + '.';
};

/// Settings with which the model's direction is against the published one.
function contrary(app) {
  const first = app.estimate?.answers?.[0];
  if (!first || !app.explain?.explained) return [];
  return turnRows(app.explain, first, app.estimate.published_trends ?? [])
    .filter((row) => row.differs)
    .map((row) => row.name.toLowerCase());
}

/// The setting of the map with the best chance, if it is much better than here.
function bestCell(app) {
  const here = chanceOf(app.estimate.answers ?? [], app.wanted),
    columns = app.axes.x.values.length;
  let best = null;
  app.cells.forEach((cell, k) => {
    if (cell && cell.chance !== null && (!best || cell.chance > best.chance))
      best = {chance: cell.chance, i: k % columns, j: Math.floor(k / columns)};
  });
  if (!best || best.chance < here + 0.05) return null;
  const {x, y} = app.axes;
  best.words = `${two(x.values[best.i], 4)} ${x.unit} and ${two(y.values[best.j], 3)} ${y.unit}`;
  return best;
}

/// What the pictures of jet and vessel need to know.
function facts(app) {
  const e = app.estimate,
    r = e.results ?? {},
    mm = (path) => {
      const p = parts(valueAt(app.document, path) ?? '');
      return p ? p.number * ({cm: 10, m: 1000, um: 1e-3, in: 25.4, inch: 25.4}[p.rest] ?? 1) : 0;
    };
  const bore = mm('vessel.bore_diameter'),
    wall = mm('vessel.wall_thickness'),
    radius = bore / 2 + wall;
  const line = e.answers?.find((answer) => answer.answer !== 'torn threads'),
    thread = e.answers?.find((answer) => answer.answer === 'torn threads');
  return {
    vessel_mm: radius,
    collector_mm: radius + mm('operation.collection_distance'),
    orifices: parts(valueAt(app.document, 'vessel.orifice_count') ?? '')?.number ?? 1,
    profile: app.profile,
    torn: Boolean(r.torn),
    fibre:
      !['no-jet', 'dripping', 'no jet'].includes(e.class) && e.status === 'done' && e.answers?.[0]?.diameter_um > 0,
    thread_um: thread?.diameter_um,
    line_um: line?.diameter_um,
    threads: r.threads_per_orifice,
    turns: r.turns ?? 0,
    arrives: r.reached_collector !== false,
    bore_mm: bore,
    wall_mm: wall,
    height_mm: mm('vessel.height'),
    orifice_mm: mm('vessel.orifice_diameter'),
    orifice_height_mm: mm('vessel.orifice_height') || mm('vessel.height') / 2,
    layer_mm: r.layer_thickness_mm ?? 0,
    opening_mm: mm('vessel.lid_opening_diameter'),
    break_mm: r.breakthrough ? (e.gas?.breakthrough_layer_mm ?? r.critical_layer_mm ?? 0) : 0,
    break_s: r.breakthrough_time_s,
  };
}

export function pictureOf(app, kind) {
  const e = app.estimate;
  if (!e || e.status !== 'done') return null;
  if (kind === 'mat')
    return {
      draw: (colours, side) => drawMat({answers: e.answers}, colours, side),
      words: `A mat drawn from the range of the likelier answer, with a scale bar; not a micrograph.`,
    };
  const all = facts(app);
  if (kind === 'section')
    return {
      draw: (colours, side) => drawSection(all, colours, side),
      words: 'Vessel in section, to scale; layers too thin to see are drawn thicker.',
    };
  return {draw: (colours, side) => drawJet(all, colours, side), words: jetWords(all)};
}

export function paintPicture(app) {
  const place = $('picture'),
    one = pictureOf(app, app.picture);
  if (!one) {
    fill(place, h('p', {class: 'foot'}, app.refused ? 'no picture of an impossible setting' : ''));
    $('picture-words').textContent = '';
    return;
  }
  const side = Math.max(200, Math.min(place.clientWidth, app.picture === 'section' ? 480 : 300));
  fill(place, one.draw(palette(), side));
  $('picture-words').textContent = one.words;
}

const barsButton = (app, bars, what, answer) =>
  saveButton(app, `${what.toLowerCase()}: ${answerWords(answer.answer)}`, () => ({
    draw: (colours) => drawBars(bars, colours, 520),
    words: `${what}, for ${answerWords(answer.answer)}: dry diameter in ${kMicro} with each of them moved alone, largest effect first.`,
    name: what === 'What is not known' ? 'doubts' : 'settings',
  }));

export function paintBars(app) {
  const e = app.estimate,
    place = $('bars');
  if (!e || e.status !== 'done' || !(e.answers?.[0]?.diameter_um > 0)) {
    fill(place);
    return;
  }
  const wide = Math.max(280, Math.min(560, (place.clientWidth - 30) / (place.clientWidth > 900 ? 2 : 1)));
  const cards = [];
  e.answers
    .filter((answer) => answer.diameter_um > 0)
    .forEach((answer) => {
      const own = app.explain?.explained ? turnRows(app.explain, answer, e.published_trends ?? []) : null;
      const turn = {rows: own ?? [], middle: answer.diameter_um, low: '20 % less', high: '20 % more'},
        doubt = {
          rows: doubtRows(e, answer),
          middle: answer.diameter_um,
          low: 'one below',
          high: 'one standard deviation above',
        };
      cards.push(
        h(
          'section',
          {},
          h('h3', {}, `What you can turn: ${answerWords(answer.answer)}`),
          own ? drawBars(turn, palette(), wide) : h('p', {class: 'busy'}, 'turning each setting a little \u2026'),
          own ? barsButton(app, turn, 'What can be turned', answer) : null,
          own?.some((row) => row.differs)
            ? h(
                'p',
                {class: 'foot'},
                own
                  .filter((row) => row.differs)
                  .map(
                    (row) =>
                      `\u26a0 ${row.name}: published trials went ${row.published}, the model says ${row.model}. `,
                  ),
              )
            : null,
        ),
        h(
          'section',
          {},
          h('h3', {}, `What is not known: ${answerWords(answer.answer)}`),
          drawBars(doubt, palette(), wide),
          barsButton(app, doubt, 'What is not known', answer),
        ),
      );
    });
  fill(place, cards);
}

export function paintMat(app) {
  const e = app.estimate,
    place = $('histogram');
  if (!e || e.status !== 'done') {
    fill(place);
    return;
  }
  const draw = (colours, wide) => drawHistogram({answers: e.answers, counted: app.counted}, colours, wide, 150);
  fill(
    place,
    draw(palette(), Math.max(280, Math.min(620, place.clientWidth))),
    saveButton(app, 'the histogram', () => ({
      draw: (colours) => draw(colours, 620),
      words: `Diameters expected, by number${app.counted?.length ? `, beside ${app.counted.length} counted` : ''}.`,
      name: 'histogram',
    })),
  );
}

export const timing = (app) =>
  `${app.lastQuick ? `answer ${Math.round(app.lastQuick.ms)} ms` : ''}${app.lastConfirm ? `, with tension ${Math.round(app.lastConfirm.ms)} ms` : ''}${app.lastMap ? `, map ${duration(app.lastMap.whole / 1000)}` : ''}`;
export const sizeWords = size;
