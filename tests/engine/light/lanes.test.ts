import { expect, test } from 'vitest';
import { createEngine, type Engine } from '../../../src/engine/engine.js';
import { type Drive, type Lane, stepDrives } from '../../../src/engine/light/lanes.js';
import type { EnvelopeOptions } from '../../../src/mapping/options.js';
import type { Show } from '../../../src/show/model/model.js';
import { demand } from '../../demand.js';
import { Random, richShow } from '../rich-house.js';

/**
 * How far each mapping acts that rests on signals or conditions, against a slow and plain account of it: whatever
 * signals, conditions, orders and performers may say, also what no walk of people would ever bring about.
 */
type Range = readonly [least: number, most: number];

/** 0..1; not a number is 0. */
const share = (value: number) => (value > 0 ? Math.min(1, value) : 0);
const isOne = ([least, most]: Range) => least === most;

/** As far from `from` towards `to` as a fade lets it go in a tick. */
function faded(from: number, to: number, dtS: number, { inS, outS }: EnvelopeOptions): number {
  const fullS = to > from ? inS : outS;
  const most = fullS > 0 ? dtS / fullS : 1;
  if (to > from) return Math.min(to, from + most);
  return Math.max(to, from - most);
}

/** With one more mapping whose lamps are driven by a signal each. */
function house(): Show {
  const show = richShow();
  const at = (name: string) => show.signals.signals.findIndex(one => one.name === name);
  return {
    ...show,
    mappings: show.mappings.map(one =>
      one.name === 'crowd' && one.kind === 'signal'
        ? { ...one, by: [at('more'), at('lesser')] }
        : one,
    ),
  };
}

/** What is said in a tick, drawn at random: often that something is known, and often that it is nothing. */
function draw(
  { signals, watched, cues, orders, mappings }: Engine,
  random: Random,
  values: readonly number[],
): void {
  const { out, kept, doubts, conditions } = signals.network;
  const some = () => random.of([...values, random.next()]);
  const changes = (in_: number) => random.isOnce(in_);
  for (let at = 0; at < kept.length; at++) {
    if (!changes(12)) continue;
    const [a, b] = random.isOnce(3) ? [some(), some()] : Array<number>(2).fill(some());
    out.lo[at] = Math.min(a as number, b as number);
    out.hi[at] = Math.max(a as number, b as number);
    kept[at] = some();
    doubt(doubts, at, random);
  }
  for (let at = 0; at < conditions.plans.length; at++) {
    if (!changes(25)) continue;
    const isSure = random.isOnce(2) ? 1 : 0;
    conditions.surely[at] = isSure;
    conditions.possibly[at] = Math.max(isSure, random.isOnce(4) ? 1 : 0);
    conditions.kept[at] = random.isOnce(2) ? 1 : 0;
    doubt(conditions.doubts, at, random);
  }
  for (const one of watched.performers) {
    if (!changes(40)) continue;
    one.follows = !random.isOnce(3);
    one.isKnown = one.follows || random.isOnce(2);
    one.watch.fadeS = random.of([0, 0.2, 0.9]);
    one.watch.phase = one.follows ? 'live' : random.of(['losing', 'off']);
    one.risesInS = random.isOnce(2) ? random.of([0.6, 2]) : 0;
  }
  if (changes(60)) orders.allStopped = random.isOnce(2);
  if (changes(60)) orders.needsDesk = random.isOnce(2);
  for (const drive of mappings.drives) {
    if (changes(40)) cues.levels[drive.of] = random.of([0, 0.4, 1]);
    if (changes(40) && drive.mapping.kind === 'follow' && drive.mapping.choice !== undefined) {
      drive.isFree = random.isOnce(2);
      drive.follows = random.of(drive.performers);
    }
    for (const one of drive.crossfades) {
      if (changes(20)) one.ramp = random.of([0, 0, 0.5]);
      if (changes(40)) one.says = random.of([0, 1]);
    }
  }
}

const OFTEN_LIT = [0, 0, 0.3, 1, 1, 1.4, Number.NaN];
const OFTEN_DARK = [0, 0, 0, 0, 0, 0, 0, 1];

function doubt(
  { lost, known, fadeS }: Engine['signals']['network']['doubts'],
  at: number,
  random: Random,
): void {
  lost[at] = random.isOnce(4) ? 1 : 0;
  known[at] = random.isOnce(2) ? 1 : 0;
  fadeS[at] = lost[at] === 1 ? random.of([0, 0.3, 1.1]) : Number.POSITIVE_INFINITY;
}

/** What a lane is, without what makes it quick. */
interface PlainLane {
  own: number;
  before: number;
  range: Range;
  sure: number;
}

class PlainDrive {
  readonly lanes: PlainLane[];
  master: number;
  trust: number;
  fadeS: number;
  follows: boolean;
  masterRange: Range = [1, 1];
  phase = '';
  acts = 1;

  constructor(
    private readonly drive: Drive,
    private readonly engine: Engine,
  ) {
    this.master = drive.mapping.master === undefined ? 1 : 0;
    this.lanes = drive.lanes.map(() => ({ own: 0, before: 0, range: [0, 1], sure: 0 }));
    const { watch, follows } = drive.believed;
    this.trust = watch.trust;
    this.fadeS = watch.fadeS;
    this.follows = follows;
  }

  step(dtS: number): void {
    const { drive, engine } = this;
    const { orders, show, cues } = engine;
    const { network } = engine.signals;
    const { conditions, doubts, out } = network;
    const { mapping, isFree } = drive;
    const { watchdog } = show;
    const isStopped = orders.allStopped || orders.needsDesk;
    const performers = engine.watched.performers;

    // All on which it rests: the condition, the master, the signals; and who stops, or is followed and gone.
    const rowOf = (of: typeof doubts, at: number | undefined) =>
      at === undefined || at < 0
        ? []
        : [{ lost: of.lost[at] === 1, held: of.known[at] === 1, fadeS: of.fadeS[at] as number }];
    const rows = [...rowOf(conditions.doubts, mapping.when), ...rowOf(doubts, mapping.master)];
    const rowsOfLanes = drive.lanes.map(({ by }) => rowOf(doubts, by));
    const isHeld = [...rows, ...rowsOfLanes.flat()].some(({ held }) => held);
    const fades = [...rows, ...rowsOfLanes.flat()].map(({ fadeS }) => fadeS);
    if (orders.allStopped) fades.push(watchdog.operatorStop.fadeS);
    else if (orders.needsDesk) fades.push(watchdog.deskLost.fadeS);

    const gone: number[] = [];
    const whom = drive.follows >= 0 && !isFree ? performers[drive.follows] : undefined;
    if (whom !== undefined && !whom.follows) gone.push(whom.watch.fadeS);
    if (isFree && mapping.kind === 'follow' && mapping.choice !== undefined) {
      const all = mapping.choice.people.map(p => performers[p]);
      if (all.every(one => one?.isKnown === false)) {
        gone.push(Math.min(...all.map(one => one?.watch.fadeS ?? 0)));
      }
    }
    fades.push(...gone);

    if (mapping.master !== undefined) {
      const [lo, hi] = [out.lo[mapping.master] as number, out.hi[mapping.master] as number];
      this.masterRange = [share(lo), hi === lo ? share(lo) : Number.NaN];
      if (lo === hi) this.master = isStopped ? Math.min(this.master, share(lo)) : share(lo);
    }
    this.acts = (cues.levels[drive.of] as number) * this.master;

    const isDark = this.trust === 0 && !drive.crossfades.some(one => one.ramp > 0 && one.says > 0);
    const risesInS = drive.performers.map(p => performers[p]?.risesInS ?? 0);
    const fade = { inS: Math.max(mapping.fade.inS, ...risesInS), outS: mapping.fade.outS };

    let isKnown = !isStopped && isOne(this.masterRange);
    for (const [i, lane] of this.lanes.entries()) {
      const { by } = drive.lanes[i] as Lane;
      let when: Range = [1, 1];
      let kept = 1;
      if (mapping.when !== undefined) {
        const { surely, possibly, kept: was } = conditions;
        when = [surely[mapping.when] as number, possibly[mapping.when] as number];
        kept = was[mapping.when] as number;
      }
      if (isFree) [when, kept] = [[0, 0], 0];
      if (gone.length > 0) when = [0, 1];
      const signal: Range = by < 0 ? [1, 1] : [out.lo[by] as number, out.hi[by] as number];
      const to: Range = [share(when[0] * signal[0]), share(when[1] * signal[1])];
      const isLost = [...rows, ...(rowsOfLanes[i] ?? [])].some(({ lost }) => lost);
      const comesBack = isOne(to) && gone.length === 0 && !isLost;

      // What it shows goes where it is known to go; where that is not known, a signal stays as it was.
      const stays = by < 0 || !isOne(signal);
      const asWas = stays ? lane.own : share(kept * (network.kept[by] as number));
      const isCapped = isStopped || !isOne(when);
      let wants = isOne(to) ? to[0] : asWas;
      if (isCapped) wants = Math.min(wants, lane.before);

      if (comesBack && isDark) {
        lane.own = to[0];
        lane.range = to;
      } else {
        const [least, most] = comesBack && !isOne(lane.range) ? [lane.own, lane.own] : lane.range;
        lane.range = [faded(least, to[0], dtS, fade), faded(most, to[1], dtS, fade)];
        // Of who is lost it comes up no further than it would be without.
        const highest = Math.max(lane.own, lane.range[0]);
        lane.own = Math.min(faded(lane.own, wants, dtS, fade), highest);
      }
      if (!isCapped) lane.before = lane.own;
      isKnown &&= isOne(lane.range) && lane.own === lane.range[0];
    }

    if (isKnown) this.trust = share(watchdog.returnS > 0 ? this.trust + dtS / watchdog.returnS : 1);
    else {
      const fadeS = Math.min(...fades, this.follows ? Number.POSITIVE_INFINITY : this.fadeS);
      this.fadeS = Number.isFinite(fadeS) ? fadeS : watchdog.returnS;
      this.trust = share(this.fadeS > 0 ? this.trust - dtS / this.fadeS : 0);
    }
    this.follows = isKnown;
    this.phase = isKnown ? 'live' : whom?.watch.phase === 'off' ? 'off' : 'losing';
    for (const lane of this.lanes) {
      const [least] = lane.range;
      if (isKnown && this.trust === 1) lane.sure = lane.own;
      else if (!isHeld || isStopped) lane.sure = 0;
      else lane.sure = Math.min(least, lane.sure + (least * dtS) / watchdog.returnS);
    }
  }

  /** What the drive of the engine has to be. */
  seen(level: number) {
    const { acts, master, trust, fadeS, follows, phase } = this;
    const masterLeast = this.masterRange[0];
    return {
      ...{ acts, master, masterLeast, trust, fadeS, follows, phase },
      lanes: this.lanes.map(({ own, before, range, sure }) => ({
        ...{ own, before, sure, acts, master, masterLeast },
        least: range[0],
        greatest: range[1],
        level: acts * own,
        shownSure: level * masterLeast * sure,
      })),
    };
  }
}

function seenOf({ acts, master, masterLeast, believed, lanes }: Drive) {
  const { watch, follows } = believed;
  const { trust, fadeS, phase } = watch;
  return {
    ...{ acts, master, masterLeast, trust, fadeS, follows, phase },
    lanes: lanes.map(({ by: _, fixtures: __, risenFor: ___, ...one }) => one),
  };
}

/** Where two of them are not the same, to rounding; undefined where nowhere. */
function difference(is: unknown, due: unknown, path = ''): string | undefined {
  if (typeof due !== 'object' || due === null) {
    const isSame =
      typeof is === 'number' && typeof due === 'number'
        ? Math.abs(is - due) < 1e-9 || Object.is(is, due)
        : is === due;
    return isSame ? undefined : `${path} is ${is} instead of ${due}`;
  }
  for (const [key, one] of Object.entries(due)) {
    const here: unknown = Reflect.get(Object(is), key);
    const found = difference(here, one, `${path}.${key}`);
    if (found !== undefined) return found;
  }
  return undefined;
}

const stepOf = ({ mappings, signals, orders, cues, watched, show }: Engine, dtS: number) =>
  stepDrives(mappings.drives, signals.network, orders, cues, watched, show, dtS);

test.for([1, 2, 3])('each lane is where a plain account has it: seed %i', seed => {
  const random = new Random(20261130 + 7919 * seed);
  const engine = createEngine(house());
  const { drives } = engine.mappings;
  const plain = drives.map(drive => new PlainDrive(drive, engine));
  const met = { known: 0, unknown: 0, lit: 0, sure: 0 };
  for (let tick = 0; tick < 700; tick++) {
    draw(engine, random, OFTEN_LIT);
    const dtS = random.isOnce(50) ? 0.3 : 1 / 40;
    // One that rests is looked at below.
    for (const drive of drives) drive.rests = false;
    stepOf(engine, dtS);
    drives.forEach((drive, i) => {
      const due = plain[i] as PlainDrive;
      due.step(dtS);
      const level = engine.cues.levels[drive.of] as number;
      const other = difference(seenOf(drive), due.seen(level));
      demand(other === undefined, () => `tick ${tick}, ${drive.mapping.name}: ${other}`);
      met[drive.believed.follows ? 'known' : 'unknown'] += 1;
      if (drive.lanes.some(one => one.level > 0)) met.lit += 1;
      if (drive.lanes.some(one => one.shownSure > 0)) met.sure += 1;
    });
  }
  for (const [what, times] of Object.entries(met)) expect(times, what).toBeGreaterThan(300);
});

test.for([1, 2])('one that rests asks for what it would ask for anyway: seed %i', seed => {
  const [resting, awake] = [createEngine(house()), createEngine(house())];
  const [random, same] = [0, 1].map(() => new Random(20261130 + 7919 * seed)) as [Random, Random];
  let rested = 0;
  let following = 0;
  for (let tick = 0; tick < 700; tick++) {
    draw(resting, random, OFTEN_DARK);
    draw(awake, same, OFTEN_DARK);
    for (const drive of awake.mappings.drives) drive.rests = false;
    stepOf(resting, 1 / 40);
    stepOf(awake, 1 / 40);
    resting.mappings.drives.forEach((drive, i) => {
      const { believed, lanes, follows } = awake.mappings.drives[i] as Drive;
      const shown = lanes.map(({ own, level, shownSure, before, risenFor }) => ({
        ...{ own, level, shownSure, before, risenFor },
      }));
      const other = difference({ ...drive }, { believed: { ...believed }, lanes: shown });
      demand(other === undefined, () => `tick ${tick}, ${drive.mapping.name}: ${other}`);
      if (!drive.rests) return;
      rested += 1;
      if (follows >= 0) following += 1;
    });
  }
  expect(rested).toBeGreaterThan(200);
  expect(following).toBe(0);
});

test('one rests whose condition is no, whatever its signals are, or whose signals are all nothing', () => {
  const engine = createEngine(house());
  const { out, conditions } = engine.signals.network;
  const { drives } = engine.mappings;
  for (const one of engine.watched.performers) one.follows = true;
  for (let at = 0; at < out.lo.length; at++) out.lo[at] = 1;
  out.hi.set(out.lo);
  conditions.possibly.fill(0);
  const resting = () => {
    for (let tick = 0; tick < 200; tick++) stepOf(engine, 1 / 40);
    return drives.flatMap((drive, i) => (drive.rests ? [i] : []));
  };
  const signals = drives.flatMap(({ mapping }, i) => (mapping.kind === 'signal' ? [i] : []));
  const isConditional = (i: number) => (drives[i] as Drive).when >= 0;
  expect(resting()).toEqual(signals.filter(isConditional));
  expect(signals.filter(isConditional).length).toBeGreaterThan(2);
  // One of two is nothing; then both are.
  const crowd = drives.findIndex(({ mapping }) => mapping.name === 'crowd');
  for (const { by } of (drives[crowd] as Drive).lanes) {
    expect(resting()).not.toContain(crowd);
    out.lo[by] = 0;
    out.hi[by] = 0;
  }
  expect(resting()).toContain(crowd);
});
