// What the page knows: the case, what is wanted, trials, pins; and what it asks the program.
import {keysOf, valueAt, withValue, parts, readCase} from './keys.mjs';
import {recall, keep} from './store.mjs';
import {axisFor, axisText, csvRows, cellOf} from './map.mjs';
import {two, kMicro} from './words.mjs';
import {wantedText, isWanted} from './window_panel.mjs';

/// What a setting that moves asks for; companions of the answer and the spread over the run follow while nothing moves.
const kLight = ['--json', '--without-variants', '--without-run'];
// What the jet is drawn from (jet.mjs).
const kJet = ['--profile', 'jet.csv', '--profile-columns', 'x_mm,y_mm,diameter_um,solvent_mass_fraction'];

/// Rest after a move before the answer with tension and the map, which the next move would stop half-way, ms. The one
/// without tension is asked for at once.
const kRest = 50;

/// How long the map waits for a slow answer with tension, ms.
const kPatience = 400;

/// Pieces of the map that arrive within this are drawn together, ms.
const kMapPaint = 40;

const kColumns = 15,
  kRows = 11,
  kPiece = 5; // points of the map that are asked for together

const waited = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

/// A name that is safe as a file and as a word of a command line, whatever the case is called.
const plainName = (name) =>
  'case-' +
  (name
    .replace(/\.json$/i, '')
    .replace(/[^A-Za-z0-9_.-]+/g, '-')
    .replace(/^[-.]+/, '')
    .slice(0, 60) || 'unnamed') +
  '.json';

export class App {
  constructor(engine, data, paint) {
    this.engine = engine;
    this.cases = data.cases;
    this.keys = keysOf(data.schema);
    this.paint = paint;
    this.pins = [];
    this.version = 0;
    this.wanted = {low: 0.3, high: 3};
    this.example = true;
    this.picture = 'jet';
    this.xKey = 'operation.rotation_speed';
    this.yKey = 'operation.gas_overpressure';
    const kept = recall(window.localStorage ?? {getItem: () => null});
    if (kept) {
      Object.assign(this, {
        name: kept.name,
        document: kept.document,
        law: kept.law,
        lawName: kept.lawName,
        pins: kept.pins,
        trials: kept.trials,
        counted: kept.counted,
      });
      this.wanted = kept.wanted;
      this.example = false;
      for (const [mine, theirs] of [
        ['xKey', 'x'],
        ['yKey', 'y'],
      ])
        if (this.keys.some((key) => key.path === kept[theirs])) this[mine] = kept[theirs];
      if (['jet', 'section', 'mat'].includes(kept.picture)) this.picture = kept.picture;
    } else {
      this.name = this.cases[0].name;
      this.document = JSON.parse(this.cases[0].text);
    }
    this.layAxes();
  }

  open(document_, name) {
    this.document = structuredClone(document_);
    this.name = name;
    const own = /^\s*([\d.eE+-]*)\s*(um|\u00b5m|nm)?\s*\.\.\s*([\d.eE+-]*)\s*(um|\u00b5m|nm)?\s*$/.exec(
      String(this.document.window?.diameter ?? ''),
    );
    if (own) {
      const scale = (own[4] ?? own[2]) === 'nm' ? 1e-3 : 1;
      this.wanted = {low: Number(own[1]) * scale || undefined, high: Number(own[3]) * scale || undefined};
      this.example = false;
    }
    this.samples = this.explain = this.confirmed = this.estimate = this.profile = this.refused = undefined;
    this.changed('case');
  }

  set(path, value) {
    this.document = withValue(this.document, path, value);
    this.changed(path);
  }

  setWanted(low, high) {
    this.wanted = {low, high};
    this.example = false;
    this.cells = this.rows?.map((row) => row && cellOf(row, this.estimate?.answers ?? [], this.mapWanted()));
    this.keepLater();
    this.paint('wanted');
  }

  wantedWords() {
    const {low, high} = this.wanted;
    return low > 0 && high > 0
      ? `${two(low)} to ${two(high)} ${kMicro}`
      : low > 0
        ? `${two(low)} ${kMicro} and more`
        : `up to ${two(high)} ${kMicro}`;
  }

  wantedArguments() {
    return isWanted(this.wanted) ? ['--aim', 'window', `--diameter=${wantedText(this.wanted)}`] : [];
  }
  mapWanted() {
    return isWanted(this.wanted) ? this.wanted : null;
  }

  /// The case as a file that the command line takes, with what is wanted in its window block.
  caseText() {
    const copy = structuredClone(this.document);
    if (isWanted(this.wanted) && !this.example)
      copy.window = {...(typeof copy.window === 'object' ? copy.window : {}), diameter: wantedText(this.wanted)};
    return JSON.stringify(copy, null, 2) + '\n';
  }

  numericKeys() {
    return this.keys.filter(
      (key) =>
        !key.words && parts(valueAt(this.document, key.path) ?? '') && !['polymer', 'solvent'].includes(key.name),
    );
  }

  limitsOf(key, unitText) {
    const found = /^(\S+) to (\S+)(?: (.*))?$/.exec(key.limits),
      limitUnit = (found?.[3] ?? '').replace(/, whole$/, '');
    const own = unitText.startsWith('%') ? '%' : unitText;
    return found && limitUnit === own
      ? [Number(found[1]), Number(found[2])]
      : [key.name === 'gas_overpressure' ? 0 : undefined, undefined];
  }

  layAxes() {
    const axis = (path, fallback, count) => {
      const key =
        this.keys.find((each) => each.path === path && parts(valueAt(this.document, path) ?? '')) ??
        this.keys.find((each) => each.path === fallback);
      const own = parts(valueAt(this.document, key.path) ?? '') ?? {number: 0, rest: parts(key.example)?.rest ?? ''};
      // A basis belongs to the case; sweeps take the bare number of it.
      const shown =
        key.name === 'concentration'
          ? {...own, rest: own.rest.startsWith('%') || /wt|vol/.test(own.rest) ? '%' : own.rest}
          : own;
      return axisFor(key, shown, count, this.limitsOf(key, shown.rest));
    };
    this.axes = {
      x: axis(this.xKey, 'operation.rotation_speed', kColumns),
      y: axis(
        this.yKey === this.xKey ? '' : this.yKey,
        this.xKey === 'operation.gas_overpressure' ? 'operation.rotation_speed' : 'operation.gas_overpressure',
        kRows,
      ),
    };
    this.rows = [];
    this.cells = [];
  }

  setAxes(x, y) {
    this.xKey = x;
    this.yKey = y;
    this.changed('axes');
  }

  useLaw(text, name) {
    this.law = text;
    this.lawName = name;
    this.changed('law');
  }

  pin(index) {
    const {rotation_speed: speed, gas_overpressure: gas} = this.document.operation ?? {};
    this.pins[index] = {
      name: `${speed ?? ''}, ${gas ?? ''}, ${this.document.solution?.concentration ?? ''}`.slice(0, 160),
      document: structuredClone(this.document),
    };
    this.keepLater();
  }

  keepLater() {
    clearTimeout(this.keeping);
    this.keeping = setTimeout(() => {
      this.kept = keep(window.localStorage, {
        name: this.name,
        document: this.document,
        wanted: this.wanted,
        law: this.law,
        lawName: this.lawName,
        pins: this.pins.filter(Boolean),
        x: this.xKey,
        y: this.yKey,
        picture: this.picture,
        trials: this.trials,
        counted: this.counted,
      });
    }, 300);
  }

  /// A command over the case; options: rank, group, quick (without tension), plain (without trials), files, read, document, profile, brief.
  ask(
    verb,
    rest,
    {quick, plain, files = {}, read = [], document: other, profile, rank = 'answer', group = 'answer', brief} = {},
  ) {
    const name = plainName(this.name),
      all = {[name]: JSON.stringify(other ?? this.document), ...files};
    const words = [verb, name, ...rest];
    if (quick) words.push('--set', 'model.tier=inertial');
    if (this.law && !plain) {
      all['trials-law.json'] = this.law;
      words.push('--calibration', 'trials-law.json');
    }
    return this.engine.run({args: words, files: all, read, profile}, {rank, group, brief});
  }

  askPlain(words, {files = {}, read = [], rank, group}) {
    return this.engine.run({args: words, files, read}, {rank, group});
  }

  changed(what) {
    this.keepLater();
    const version = ++this.version;
    if (
      what === 'case' ||
      !this.axes ||
      ['axes', 'law', this.axes.x.key.path, this.axes.y.key.path].includes(what) ||
      what !== 'purpose'
    )
      this.layAxes();
    this.engine.drop('answer', 'confirm', 'map', 'idle');
    this.moved = performance.now();
    // Asked before anything is drawn, so that the worker computes meanwhile.
    this.compute(version);
    this.paint(what);
  }

  async compute(version) {
    const own = () => version === this.version;
    const quick = await this.ask('estimate', [...kLight, ...kJet], {
      quick: true,
      profile: 'jet.csv',
      rank: 'answer',
      group: 'answer',
      brief: true,
    });
    if (!quick || !own()) return;
    this.lastQuick = {ms: quick.ms, whole: performance.now() - this.moved};
    if (!this.take(quick, false)) {
      this.paint('refused');
      const check = await this.ask('check', ['--json'], {rank: 'answer', group: 'answer', plain: true});
      if (!check || !own()) return;
      try {
        const one = JSON.parse(check.out).cases[0];
        if (!one.ok) this.refused = {key: one.key, found: one.found, allowed: one.allowed};
      } catch {
        /* the message itself stands on the page */
      }
      this.paint('refused');
      return;
    }
    this.confirming = valueAt(this.document, 'model.tier') !== 'inertial';
    this.paint('answer');
    const rest = kRest - (performance.now() - this.moved);
    if (rest > 0) await waited(rest);
    if (!own()) return;
    // The map takes every core: it begins when the answer with tension is there and nothing has moved since for a while.
    if (this.confirming) await Promise.race([this.confirm(version).then(() => waited(kRest)), waited(kPatience)]);
    if (own()) await this.fillMap(version);
    if (own()) this.later(version);
  }

  take(answer, confirmed) {
    this.refused = undefined;
    if (answer.exit === 2 || !answer.out) {
      this.refused = {key: '', found: answer.err.replace(/^whorl: (case-\S+\.json: )?/, ''), allowed: ''};
      this.estimate = this.profile = undefined;
      return false;
    }
    try {
      this.estimate = JSON.parse(answer.out);
    } catch {
      this.refused = {key: '', found: 'the answer could not be read', allowed: ''};
      return false;
    }
    this.profile = answer.profile;
    this.confirmed = confirmed;
    return true;
  }

  async confirm(version) {
    const answer = await this.ask('estimate', [...kLight, ...kJet], {
      profile: 'jet.csv',
      rank: 'confirm',
      group: 'confirm',
    });
    if (!answer || version !== this.version) return;
    this.confirming = false;
    this.lastConfirm = {ms: answer.ms, whole: performance.now() - this.moved};
    if (answer.exit === 2) return;
    this.take(answer, true);
    this.paint('answer');
  }

  paintMap() {
    clearTimeout(this.mapWaits);
    this.mapWaits = undefined;
    this.paint('map');
  }

  async fillMap(version) {
    const {x, y} = this.axes,
      begun = performance.now();
    const order = y.values
      .map((_, j) => j)
      .sort((a, b) => Math.abs(a - (y.values.length - 1) / 2) - Math.abs(b - (y.values.length - 1) / 2));
    // A worker finishes the piece it has begun, and takes a core from the answer to a move so long.
    const pieces = order.flatMap((j) =>
      x.values.flatMap((_, i) => (i % kPiece ? [] : [{j, from: i, values: x.values.slice(i, i + kPiece)}])),
    );
    await Promise.all(
      pieces.map(async ({j, from, values}) => {
        const answer = await this.ask(
          'sweep',
          [
            `--vary=${x.key.path}=${values.map((value) => axisText(x, value)).join(', ')}`,
            `--vary=${y.key.path}=${axisText(y, y.values[j])}`,
            '--columns=answers',
            '-o',
            'map.csv',
            '--quiet',
          ],
          {quick: true, read: ['map.csv'], rank: 'map', group: 'map', brief: true},
        );
        if (!answer || version !== this.version) return;
        if (!answer.files['map.csv']) {
          this.mapFault = answer.err;
          return;
        }
        csvRows(answer.files['map.csv']).forEach((row, i) => {
          const at = j * x.values.length + from + i;
          this.rows[at] = row;
          this.cells[at] = cellOf(row, this.estimate?.answers ?? [], this.mapWanted());
        });
        this.mapWaits ??= setTimeout(() => this.paintMap(), kMapPaint);
      }),
    );
    if (version !== this.version) return;
    this.paintMap();
    this.lastMap = {whole: performance.now() - begun, points: x.values.length * y.values.length};
  }

  /// The whole answer as the case says, with its companions (one line in other air, with gas and without): {version,
  /// text, estimate}, or null where there is none or the setting has moved on.
  async fetchWhole(how) {
    const version = this.version;
    if (this.whole?.version === version) return this.whole;
    const answer = await this.ask('estimate', ['--json'], how);
    if (!answer?.out || answer.exit === 2 || version !== this.version) return null;
    try {
      this.whole = {version, text: answer.out, estimate: JSON.parse(answer.out)};
    } catch {
      return null;
    }
    this.paint('whole');
    return this.whole;
  }
  wholeEstimate() {
    return this.whole?.version === this.version ? this.whole.estimate : null;
  }

  /// While idle: what each setting does, the companions of the answer, and samples of every doubt, few first.
  async later(version) {
    const explain = await this.ask('explain', ['--json'], {quick: true, plain: true, rank: 'idle', group: 'idle'});
    if (!explain || version !== this.version) return;
    try {
      this.explain = JSON.parse(explain.out);
    } catch {
      this.explain = undefined;
    }
    this.paint('explain');
    await this.fetchWhole({rank: 'idle', group: 'idle'});
    if (version !== this.version) return;
    for (const count of [16, 64, 128]) {
      const begun = performance.now();
      const answer = await this.ask('estimate', [...kLight, '--uncertainty', String(count)], {
        quick: true,
        rank: 'idle',
        group: 'idle',
      });
      if (!answer || version !== this.version) return;
      try {
        this.samples = JSON.parse(answer.out).uncertainty;
      } catch {
        return;
      }
      this.lastSamples = {count, whole: performance.now() - begun};
      this.paint('samples');
    }
  }

  readFile(words, name) {
    this.open(readCase(words), name.slice(0, 200));
  }
}
