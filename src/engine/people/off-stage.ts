import type { PerformersOrder } from '../../protocols/osc/orders.js';
import type { Show } from '../../show/model/model.js';
import { type Area, compileArea, signedDistanceM } from '../../stage/area.js';
import type { EngineEvent } from '../events/events.js';
import { type Orders, sendOff, takeToldStops } from '../events/orders.js';
import type { TrackedPerformer, Tracks } from '../reports/tracks.js';
import type { StageState } from '../values/stage-state.js';

/**
 * How far inside an exit somebody must have been, in standard deviations of their position: behind a straight edge
 * they then really are in 977 cases of 1000 (normal distribution, 0.9772 at 2).
 */
export const SURE_SIGMAS = 2;

/** Performers who are known to be off stage: absent, not lost. */
export interface OffStage {
  readonly exits: readonly Exit[];
  readonly performers: readonly StagePerformer[];
}

interface Exit {
  readonly name: string;
  readonly area: Area;
}

export interface StagePerformer {
  readonly name: string;
  state: StageState;
  /** The exit that they were surely in when last believed; -1: none. */
  exit: number;
  /** When they were last heard, as of the last tick. */
  heardS: number;
  /** How many of the orders about them have been carried out. */
  asked: number;
}

export function createOffStage({ exits, performers }: Show): OffStage {
  return {
    exits: exits.map(({ name, area }) => ({ name, area: compileArea(area) })),
    performers: performers.map(({ name }) => ({
      name,
      state: 'on',
      exit: -1,
      heardS: Number.NEGATIVE_INFINITY,
      asked: 0,
    })),
  };
}

/** What this stage reads. */
interface Seen {
  readonly show: Show;
  readonly orders: Orders;
  readonly tracks: Tracks;
  /** Performers who were believed in the last tick. */
  readonly watched: {
    /** Time of the engine's first tick; undefined during it. */
    readonly beganS: number | undefined;
    readonly performers: readonly { readonly follows: boolean }[];
  };
}

type Change = Extract<EngineEvent, { kind: 'off-stage' }>;

/** Orders, estimates -> who is known to be off stage; says so where it changes. */
export function leave(stage: OffStage, seen: Seen, nowS: number, events: EngineEvent[]): void {
  const { orders, tracks, watched } = seen;
  const changes: Change[] = [];
  // Nobody can be missed yet: the engine has just begun, or the feed reports nobody.
  const isNew = nowS - (watched.beganS ?? nowS) < HEARD_WITHIN_S;
  const isDeaf = isNobodyHeard(stage, seen, nowS);
  const isQuiet = isFeedQuiet(stage, seen, nowS);
  for (let p = 0; p < stage.performers.length; p++) {
    const one = stage.performers[p] as StagePerformer;
    const tracked = tracks.performers[p] as TrackedPerformer;
    if (one.asked !== orders.stageAsks[p]) {
      carryOut(one, orders, p, isOn(stage, seen, tracked, isNew), changes);
    }
    const heard = tracked.heardS !== one.heardS;
    one.heardS = tracked.heardS;
    if (one.state !== 'on')
      comeOn(stage, seen, one, tracked, heard, isDeaf || (isNew && !tracked.seen), changes);
    else if (stage.exits.length > 0) {
      if (watched.performers[p]?.follows !== true || tracked.jumped) one.exit = -1;
      else if (heard) one.exit = exitAround(stage, tracked);
      if (one.exit >= 0 && isGone(stage, seen, tracked, isQuiet)) {
        one.state = 'away';
        const exit = stage.exits[one.exit]?.name;
        note(changes, one.name, { state: 'away', ...(exit === undefined ? {} : { exit }) });
        one.exit = -1;
      }
    }
  }
  events.push(...changes);
}

/** What is read when the main machine of a pair tells about performers. */
interface ToldOf extends Seen {
  readonly offStage: OffStage;
}

/**
 * The main machine of a pair says who is stopped there, and who is off stage; that holds here too, besides what was
 * ordered at this machine. Which machine sent somebody off is remembered: an order given here is taken back only
 * here.
 * @param from address of the sender
 */
export function takeTold(
  seen: ToldOf,
  order: PerformersOrder,
  from: string | undefined,
): 'unknown-performer' | undefined {
  const { orders } = seen;
  const who = order.teller === 'main' ? 'the main machine' : 'the standby machine';
  const by = from === undefined ? who : `${who}, ${from}`;
  takeToldStops(orders, order, by);
  let unknown = false;
  for (const { name, stage } of order.performers) {
    const p = orders.names.indexOf(name);
    if (p < 0) unknown = true;
    else if (stage !== 'unsaid') takeToldStage(seen, p, stage, by);
  }
  return unknown ? 'unknown-performer' : undefined;
}

function takeToldStage(seen: ToldOf, p: number, told: StageState, by: string): void {
  const { orders, offStage, tracks } = seen;
  const one = offStage.performers[p] as StagePerformer;
  const isOpen = one.asked !== orders.stageAsks[p];
  const state = isOpen ? (orders.stageWants[p] as StageState) : one.state;
  if (state === 'on') {
    orders.sentOffHere[p] = 0;
    orders.offToldByMain[p] = 0;
    if (told === 'on') return;
    // Who is heard here has not left: the main machine doesn't hear them.
    const tracked = tracks.performers[p] as TrackedPerformer;
    if (told === 'away' && isOn(offStage, seen, tracked, false)) return;
  }
  if (orders.sentOffHere[p] === 1) return;
  const before = orders.offToldByMain[p] as number;
  orders.offToldByMain[p] = told === 'on' ? 0 : 1;
  // Left by an exit: this machine has seen that itself.
  const isNews = told === 'on' ? before === 1 : state === 'on';
  if (!isNews) return;
  orders.cause = 'command';
  orders.by = by;
  sendOff(orders, [one.name], told);
}

export function isOffStage({ performers }: OffStage, performer: number): boolean {
  return performers[performer]?.state !== 'on';
}

function carryOut(
  one: StagePerformer,
  orders: Orders,
  p: number,
  isThere: boolean,
  changes: Change[],
): void {
  one.asked = orders.stageAsks[p] as number;
  const asked = orders.stageWants[p] as StageState;
  // A performer who is not heard on the stage has already left.
  const wanted = asked === 'leaving' && !isThere ? 'away' : asked;
  // A performer who is already away and is sent off again stays away.
  if (wanted === one.state || (wanted === 'leaving' && one.state === 'away')) return;
  one.state = wanted;
  one.exit = -1;
  const { cause, by } = orders;
  note(changes, one.name, { state: wanted, cause, ...(by === undefined ? {} : { by }) });
}

/** Performers for whom the rest of the event is the same are reported together. */
function note(changes: Change[], performer: string, what: Omit<Change, 'kind' | 'performers'>) {
  const key = JSON.stringify(what);
  const same = changes.findIndex(
    ({ kind: _, performers: __, ...one }) => JSON.stringify(one) === key,
  );
  const before = changes[same];
  if (before === undefined) changes.push({ kind: 'off-stage', performers: [performer], ...what });
  else changes[same] = { ...before, performers: [...before.performers, performer] };
}

/** Heard on the stage; or the engine has just begun and has not had time to hear who is there. */
function isOn(
  { exits }: OffStage,
  { show: { watchdog } }: Seen,
  { estimate: { x, y, z }, seen, silentForS, outsideM }: TrackedPerformer,
  isNew: boolean,
): boolean {
  if (!seen) return isNew;
  if (!(silentForS <= watchdog.trackerSilent.afterS)) return false;
  if (!(outsideM <= watchdog.outOfBounds.marginM)) return false;
  return !exits.some(({ area }) => signedDistanceM(area, x, y, z) <= 0);
}

/** On the stage again: heard within its bounds, and in no exit. Somebody who was sent off must have left first. */
function comeOn(
  stage: OffStage,
  seen: Seen,
  one: StagePerformer,
  tracked: TrackedPerformer,
  heard: boolean,
  isUnknown: boolean,
  changes: Change[],
): void {
  if (one.state === 'leaving') {
    if (isUnknown || isOn(stage, seen, tracked, false)) return;
    one.state = 'away';
    note(changes, one.name, { state: 'away' });
    return;
  }
  if (!heard || !isOn(stage, seen, tracked, false)) return;
  // A rejected report doesn't say where they are.
  const { verdict } = tracked.track.last;
  if (verdict !== 'accepted' && verdict !== 'started' && verdict !== 'reacquired') return;
  one.state = 'on';
  note(changes, one.name, { state: 'on' });
}

/** The exit that contains the whole region they may be in; -1: none. */
function exitAround({ exits }: OffStage, { estimate }: TrackedPerformer): number {
  const { x, y, z, sigmaHorizontalM } = estimate;
  for (let i = 0; i < exits.length; i++) {
    const distanceM = signedDistanceM((exits[i] as Exit).area, x, y, z);
    // Written so that NaN is in no exit.
    if (distanceM + SURE_SIGMAS * sigmaHorizontalM <= 0) return i;
  }
  return -1;
}

/**
 * For somebody last believed in an exit: silent long enough to be lost, or heard beyond the bounds of the stage.
 * Somebody on the way back to the stage is lost: their predicted position is in no exit.
 */
function isGone(
  { exits }: OffStage,
  { show: { watchdog } }: Seen,
  { estimate: { x, y, z }, silentForS, outsideM, confidence }: TrackedPerformer,
  isQuiet: boolean,
): boolean {
  const isOutside = outsideM > watchdog.outOfBounds.marginM;
  const isSilent =
    !(silentForS <= Math.min(watchdog.trackerSilent.afterS, watchdog.feedSilent.afterS)) ||
    // Silence alone lowers the confidence, which may act sooner.
    (confidence.reason === 'age' && !(confidence.value >= watchdog.confidenceLow.below));
  if (!isOutside && !(isSilent && !isQuiet)) return false;
  return outsideM > 0 || exits.some(({ area }) => signedDistanceM(area, x, y, z) <= 0);
}

/**
 * Nobody is heard, and somebody was on the stage outside the exits: the feed is silent, and nobody has left by an
 * exit. Where those in an exit are is not known either.
 */
function isFeedQuiet(
  { performers }: OffStage,
  { show: { watchdog }, tracks, watched }: Seen,
  nowS: number,
): boolean {
  const { trackerSilent, feedSilent } = watchdog;
  const quietForS = nowS - (tracks.lastHeardS ?? Number.NEGATIVE_INFINITY);
  if (quietForS < QUIET * Math.min(trackerSilent.afterS, feedSilent.afterS)) return false;
  return performers.some(
    ({ state, exit }, p) => state === 'on' && exit < 0 && watched.performers[p]?.follows === true,
  );
}

/** Nobody is heard, and somebody ought to be: nobody knows whether those who were sent off have left. */
function isNobodyHeard({ performers }: OffStage, { show, tracks }: Seen, nowS: number): boolean {
  const { trackerSilent, feedSilent } = show.watchdog;
  const quietForS = nowS - (tracks.lastHeardS ?? Number.NEGATIVE_INFINITY);
  if (quietForS < QUIET * Math.min(trackerSilent.afterS, feedSilent.afterS)) return false;
  return performers.some(({ state }, p) => state === 'on' && tracks.performers[p]?.seen === true);
}

/** Time after which an engine has heard whoever is there, even on a busy machine, seconds. */
const HEARD_WITHIN_S = 2;

/** Trackers of a feed that dies fall silent one after the other. */
const QUIET = 0.5;
