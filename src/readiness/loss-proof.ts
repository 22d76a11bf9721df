import { createEngine } from '../engine/engine.js';
import { step } from '../engine/step.js';
import type { Datagram } from '../engine/values/inputs.js';
import type { OperatorAction } from '../engine/values/operator-action.js';
import { type EngineView, type FixtureView, viewOf } from '../engine/view.js';
import { encodePacket } from '../protocols/osc/encode.js';
import { ORDER_ADDRESSES } from '../protocols/osc/orders.js';
import { inputFor, reportDatagram } from '../rehearsal/report-datagram.js';
import { driversIn } from '../show/model/basis.js';
import type { CuePlan, FixturePlan, Show } from '../show/model/model.js';
import { moves, safeIsDark, safeLook, safeValues } from '../show/model/safe-look.js';
import { standingPlace } from './places.js';

/** What the show does when performers are lost: the real engine, on a clock of its own, no socket. */
export interface LossProof {
  /** The label of the cue that was on; undefined: the show has none. */
  readonly cue: string | undefined;
  /** Performers who did not go live when all was well, so that nothing could be proved of them. */
  readonly neverLive: readonly string[];
  readonly losses: readonly ProvedLoss[];
  /** All at once: the feed falls silent. */
  readonly feed: ProvedLoss;
  /** Hazardous fixtures that left their safe values although nobody held their enable. */
  readonly leaks: readonly string[];
}

export interface ProvedLoss {
  readonly performer: string;
  /** From the last report to the decision, seconds; undefined: it never came. */
  readonly decidedS: number | undefined;
  /** What the show declares, and how long it took until no light showed the performer any more. */
  readonly declaredS: number;
  readonly tookS: number | undefined;
  /** Until every slot of the fixtures was that of the safe look, heads at rest included. */
  readonly restedS: number | undefined;
  /** Whether any of the fixtures showed something else than its safe look before the loss. */
  readonly wasLit: boolean;
  /** Fixtures that only this performer drives in the cue that was on: the ones that were looked at. */
  readonly fixtures: readonly string[];
}

const TICK_S = 1 / 40;
/** Monotonic clocks count from the start of the machine. */
const START_S = 1000;
const UNIX_OFFSET_S = 1_700_000_000;
/** Radio wanders; a place that repeats to the last bit is a feed that hangs. */
const SWAY_M = 0.01;
/** Beyond the times of the show, for the tracks to begin and for heads to arrive. */
const SPARE_S = 8;
/** From one performer's loss to the next one's. */
const STAGGER_S = 0.25;

/** A cue takes as long to prove as the show has fixtures: beyond so many of both only what has not been proved yet is. */
const MOST_WORK = 1500;

/**
 * The cues in which the losses are simulated: all, or in a show with very many as few as have each mapping
 * and each safe look in one of them. A show without cues has one.
 */
export function cuesToProve({ cues, fixtures }: Show): number[] {
  if (cues.length * fixtures.length <= MOST_WORK) return range(Math.max(1, cues.length));
  const known = new Set<string>();
  const partsOf = ({ levels, safe }: CuePlan) => [
    ...levels.flatMap((level, mapping) => (level > 0 ? [String(mapping)] : [])),
    JSON.stringify(safe),
  ];
  return range(cues.length).filter(index => {
    const parts = partsOf(cues[index] as CuePlan).filter(one => !known.has(one));
    for (const one of parts) known.add(one);
    return parts.length > 0;
  });
}

/** @param cue its index: the one that is on meanwhile */
export function proveLosses(show: Show, cue = 0): LossProof {
  const { watchdog } = show;
  const longestFadeS = Math.max(
    watchdog.trackerSilent.fadeS,
    watchdog.feedSilent.fadeS,
    ...show.fixtures.map(one => one.fadeS ?? 0),
  );
  const cueS = cue > 0 ? (show.cues[cue]?.fadeS ?? 0) : 0;
  const backS = watchdog.rearmS + watchdog.returnS + watchdog.moveS + SPARE_S + cueS;
  const outS =
    Math.max(watchdog.trackerSilent.afterS, watchdog.feedSilent.afterS) +
    2 * longestFadeS +
    watchdog.moveS +
    SPARE_S;
  const proved = new Map<number, ProvedLoss>();
  const neverLive = new Set<number>();
  const leaks = new Set<string>();
  const begin = () => {
    const stage = new Rehearsal(show, cue);
    stage.run(backS, () => true);
    for (const one of stage.notLive()) neverLive.add(one);
    return stage;
  };
  const all = begin();
  const present = all.present();
  // All but one in a row; the one that is left would be the loss of the whole feed, so it has its own turn.
  const groups = present.length > 1 ? [present.slice(0, -1), present.slice(-1)] : [];
  for (const group of groups) {
    const stage = begin();
    const fromS = stage.nowS;
    const lostAtS = new Map(group.map((one, i) => [one, fromS + i * STAGGER_S]));
    const watchers = group.map(
      one => new LossWatcher(stage, [one], lostAtS.get(one) ?? fromS, watchdog.trackerSilent),
    );
    for (const watcher of watchers) watcher.before();
    stage.run(
      outS + group.length * STAGGER_S,
      one => stage.nowS <= (lostAtS.get(one) ?? Number.POSITIVE_INFINITY),
      () => {
        for (const watcher of watchers) watcher.look();
      },
    );
    group.forEach((one, i) => {
      const watcher = watchers[i];
      if (watcher !== undefined) proved.set(one, watcher.result(show.performers[one]?.label ?? ''));
    });
    for (const leak of stage.leaks) leaks.add(leak);
  }
  const watcher = new LossWatcher(all, present, all.nowS, watchdog.feedSilent);
  watcher.before();
  all.run(
    outS,
    () => false,
    () => watcher.look(),
  );
  for (const leak of all.leaks) leaks.add(leak);
  return {
    cue: show.cues[cue]?.label,
    neverLive: [...neverLive].map(one => show.performers[one]?.label ?? ''),
    losses: [...proved].sort(([a], [b]) => a - b).map(([, loss]) => loss),
    feed: watcher.result('everybody'),
    leaks: [...leaks],
  };
}

/** The engine, with performers who stand where they drive something. */
class Rehearsal {
  nowS = START_S;
  readonly view: EngineView;
  readonly #engine;
  readonly leaks = new Set<string>();
  readonly #safe = new Map<number, Uint8Array>();
  readonly #places: readonly { readonly x: number; readonly y: number; readonly z: number }[];
  readonly #orders: number;

  #asks: readonly OperatorAction[];

  constructor(
    readonly show: Show,
    cue: number,
  ) {
    this.#engine = createEngine(show);
    this.view = viewOf(this.#engine);
    this.#places = show.performers.map((_, index) => standingPlace(show, index, cue));
    const { name } = show.cues[cue] ?? {};
    this.#asks =
      cue > 0 && name !== undefined ? [{ kind: 'cue', to: { name }, cause: 'command' }] : [];
    this.#orders = show.operator?.input ?? -1;
  }

  /** Index of the cue that is on, or coming; 0 in a show without. */
  get cue(): number {
    return this.view.cue?.index ?? 0;
  }

  /** The safe look of that cue. */
  get safe(): Uint8Array {
    const { cue, show } = this;
    const known = this.#safe.get(cue) ?? safeLook(show, cue);
    this.#safe.set(cue, known);
    return known;
  }

  run(seconds: number, isHeard: (performer: number) => boolean, after = () => {}): void {
    const untilS = this.nowS + seconds;
    while (this.nowS < untilS) {
      this.nowS += TICK_S;
      const datagrams = this.#datagrams(isHeard);
      step(
        this.#engine,
        { datagrams, unixOffsetS: UNIX_OFFSET_S, operator: this.#asks },
        this.nowS,
      );
      this.#asks = [];
      this.#lookForLeaks();
      after();
    }
  }

  notLive(): number[] {
    return this.present().filter(index => this.view.performers[index]?.phase !== 'live');
  }

  /** Whom the cue has not sent off stage. */
  present(): number[] {
    return range(this.show.performers.length).filter(
      index => this.view.performers[index]?.phase !== 'off',
    );
  }

  #datagrams(isHeard: (performer: number) => boolean): Datagram[] {
    const arrivalS = this.nowS;
    const datagrams: Datagram[] = [];
    if (this.#orders >= 0) {
      // A desk that is there; nobody holds an enable.
      const bytes = encodePacket({ address: ORDER_ADDRESSES.desk, args: [] });
      datagrams.push({ input: this.#orders, bytes, arrivalS });
    }
    this.show.performers.forEach(({ trackers }, index) => {
      const at = this.#places[index];
      if (at === undefined || !isHeard(index)) return;
      const sway = SWAY_M * Math.sin(1.3 * arrivalS + index);
      const place = { x: at.x + sway, y: at.y + 0.7 * sway, z: at.z };
      for (const { id } of trackers) {
        const input = inputFor(this.show, id);
        const plan = this.show.inputs[input];
        const bytes = plan && reportDatagram(plan, id, place, arrivalS + UNIX_OFFSET_S);
        if (bytes !== undefined) datagrams.push({ input, bytes, arrivalS });
      }
    });
    return datagrams;
  }

  #lookForLeaks(): void {
    const { view, safe } = this;
    for (const plan of this.show.fixtures) {
      plan.hazards.forEach((hazard, index) => {
        if (hazard === 'ordinary') return;
        const offsets = plan.profile.channels[index]?.offsets ?? [];
        const leaks = offsets.some(
          offset => view.levels[plan.firstSlot + offset] !== safe[plan.firstSlot + offset],
        );
        if (leaks) this.leaks.add(plan.name);
      });
    }
  }
}

/** Watches what only some performers drive, in the cue that is on, go from live to safe. */
class LossWatcher {
  readonly #lightsIn = new Map<number, readonly FixtureView[]>();
  readonly #fixtures: readonly FixturePlan[];
  #wasLit = false;
  #decidedS: number | undefined;
  #goneS: number | undefined;
  #restedS: number | undefined;

  constructor(
    private readonly stage: Rehearsal,
    private readonly performers: readonly number[],
    private readonly lostS: number,
    private readonly times: { readonly afterS: number; readonly fadeS: number },
  ) {
    this.#fixtures = this.#lights().map(({ plan }) => plan);
  }

  /** What nobody drives in this cue a loss leaves alone. */
  #lights(): readonly FixtureView[] {
    const { cue, show, view } = this.stage;
    const known = this.#lightsIn.get(cue);
    if (known !== undefined) return known;
    const lights = view.fixtures.filter((_, index) => {
      const drivers = driversIn(show, cue, index);
      return drivers.length > 0 && drivers.every(one => this.performers.includes(one));
    });
    this.#lightsIn.set(cue, lights);
    return lights;
  }

  /** Just before the loss. */
  before(): void {
    this.#wasLit = !this.#isRested();
  }

  look(): void {
    const { view, nowS } = this.stage;
    if (nowS < this.lostS) return;
    const decided = this.performers.every(one => {
      const phase = view.performers[one]?.phase;
      return phase !== 'live' && phase !== 'returning';
    });
    if (decided) this.#decidedS ??= nowS;
    // The last time at which it came true: what shows again counts as not gone.
    const { show, cue } = this.stage;
    const isGone = this.#lights().every(light =>
      hasLetGo(light, safeValues(show, cue, show.fixtures.indexOf(light.plan))),
    );
    if (!isGone) this.#goneS = undefined;
    else this.#goneS ??= nowS;
    if (!this.#isRested()) this.#restedS = undefined;
    else this.#restedS ??= nowS;
  }

  #isRested(): boolean {
    const { view, safe } = this.stage;
    return this.#lights().every(({ plan }) => isAt(plan, view.levels, safe));
  }

  result(performer: string): ProvedLoss {
    const since = (timeS: number | undefined) =>
      timeS === undefined ? undefined : timeS - this.lostS;
    const fades = this.#fixtures.map(({ fadeS }) => fadeS ?? this.times.fadeS);
    return {
      performer,
      decidedS: since(this.#decidedS),
      declaredS: this.times.afterS + Math.max(0, ...fades),
      tookS: since(this.#goneS),
      restedS: since(this.#restedS),
      wasLit: this.#wasLit,
      fixtures: this.#fixtures.map(({ label }) => label),
    };
  }
}

/** A head lets go when it is dark, or where its safe look is; another fixture when it is at its safe values. */
function hasLetGo({ plan, intensity, values }: FixtureView, safes: readonly number[]): boolean {
  const { channels } = plan.profile;
  const isSafe = (index: number) => {
    const safe = safes[index] ?? 0;
    const channel = channels[index];
    const span = channel === undefined ? 1 : Math.abs(channel.to - channel.from);
    return Math.abs((values[index] ?? 0) - safe) <= span / 255;
  };
  if (moves(plan) && intensity >= 0) {
    const value = values[intensity] ?? 0;
    return value <= (safeIsDark(plan, safes) ? 0 : Math.max(0, safes[intensity] ?? 0)) + 1e-9;
  }
  return channels.every((_, index) => isSafe(index));
}

function isAt(
  { profile, firstSlot }: FixturePlan,
  levels: Readonly<Uint8Array>,
  safe: Uint8Array,
): boolean {
  return profile.channels.every(({ offsets }) =>
    offsets.every(offset => levels[firstSlot + offset] === safe[firstSlot + offset]),
  );
}

function range(count: number): number[] {
  return Array.from({ length: count }, (_, index) => index);
}
