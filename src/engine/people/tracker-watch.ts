import type { HeardBut } from '../../safety/heard-but.js';
import { keptAwayBy } from '../../safety/watchdog.js';
import type { Show } from '../../show/model/model.js';
import { unreachable } from '../../stage/unreachable.js';
import { farthestPair } from '../../tracking/conflict.js';
import { freshnessOf } from '../../tracking/freeze.js';
import type { EngineEvent } from '../events/events.js';
import type { Orders } from '../events/orders.js';
import type { Reception } from '../reports/receive.js';
import { NOBODY, type Roster, type RosterChange, type Tracker } from '../reports/roster.js';
import type { TrackedPerformer, Tracks } from '../reports/tracks.js';
import { KNOWN_WITHIN_S } from '../reports/whereabouts.js';
import { isOffStage, type OffStage } from './off-stage.js';
import type { Watched, WatchedPerformer } from './watch.js';

/**
 * One of several trackers is reported after this much silence: longer than a body hides it in a turn. Common
 * practice; the light does not depend on it, as the others go on.
 */
const TOLD_AFTER_S = 2;
/** It is back when it has been heard for this long without a break. */
const BACK_AFTER_S = 1;
/** Trackers that disagree are reported after this long, and again when they have agreed for this long. */
const APART_AFTER_S = 0.5;
const TOGETHER_AFTER_S = 3;
/** Charge below which a battery is low, and above which it has been charged: figures of common practice. */
const BATTERY_LOW = 0.2;
const BATTERY_CHARGED = 0.3;

/** What the events have said about trackers and the clocks of their systems; the light depends on none of it. */
export interface TrackerWatch {
  /** For each tracker since when its wearer has had it: the first tick, or a change; NaN before. */
  readonly awaitedS: Float64Array;
  /** After it was reported silent: since when it has been heard without a break. */
  readonly steadySinceS: Float64Array;
  /** For each tracker 1 if its wearer got it by an order. */
  readonly wasGiven: Uint8Array;
  /** For each tracker 1 if the events have called it so: silent or frozen, never both. */
  readonly saidSilent: Uint8Array;
  readonly saidLow: Uint8Array;
  readonly saidFrozen: Uint8Array;
  /** For each performer 1 if the events have said that their trackers are apart; and since when that has changed, or NaN. */
  readonly saidApart: Uint8Array;
  readonly apartTurnedS: Float64Array;
  /** For each performer 1 once the light has followed them. */
  readonly wasFollowed: Uint8Array;
  /** For each performer why they are not followed although heard, as the events have said; and since when that has changed, or NaN. */
  readonly saidBut: (HeardBut | undefined)[];
  readonly butTurnedS: Float64Array;
  /** The events have said that charges come in another unit. */
  saidUnit: boolean;
  /** For each input, the steps of its clock that the events have told. */
  readonly saidSteps: number[];
}

/** What the watch reads. */
interface Seen {
  readonly show: Show;
  readonly roster: Roster;
  readonly reception: Reception;
  readonly tracks: Tracks;
  readonly orders: Orders;
  readonly offStage: OffStage;
  /** As of the last tick. */
  readonly watched: Watched;
}

export function createTrackerWatch(
  { inputs, performers }: Show,
  { trackers }: Roster,
): TrackerWatch {
  const count = trackers.length;
  return {
    awaitedS: new Float64Array(count).fill(Number.NaN),
    steadySinceS: new Float64Array(count).fill(Number.NaN),
    wasGiven: new Uint8Array(count),
    saidSilent: new Uint8Array(count),
    saidLow: new Uint8Array(count),
    saidFrozen: new Uint8Array(count),
    saidApart: new Uint8Array(performers.length),
    apartTurnedS: new Float64Array(performers.length).fill(Number.NaN),
    wasFollowed: new Uint8Array(performers.length),
    saidBut: performers.map(() => undefined),
    butTurnedS: new Float64Array(performers.length).fill(Number.NaN),
    saidUnit: false,
    saidSteps: inputs.map(() => 0),
  };
}

/** Somebody else wears it now, or nobody: its reported silence was about somebody else. */
export function forgetContacts(
  watch: TrackerWatch,
  changes: readonly RosterChange[],
  nowS: number,
): void {
  for (const { tracker, kind } of changes) {
    // Before the first tick these are restored orders.
    const isOrder = kind === 'put on' && !Number.isNaN(watch.awaitedS[tracker.index]);
    watch.wasGiven[tracker.index] = isOrder ? 1 : 0;
    watch.awaitedS[tracker.index] = nowS;
    watch.steadySinceS[tracker.index] = Number.NaN;
    watch.saidSilent[tracker.index] = 0;
    watch.saidFrozen[tracker.index] = 0;
  }
}

/** Once a tick: which of several trackers is silent, whose battery is low, whose feed hangs, what clock has stepped? */
export function watchTrackers(
  watch: TrackerWatch,
  seen: Seen,
  nowS: number,
  events: EngineEvent[],
): void {
  const { tracks, roster, reception } = seen;
  for (const tracker of roster.trackers) {
    const { index, performer } = tracker;
    if (Number.isNaN(watch.awaitedS[index])) watch.awaitedS[index] = nowS;
    const wearer = tracks.performers[performer];
    weighUnit(watch, tracker, reception.batteryOutside[index] as number, wearer?.name, events);
    weighBattery(watch, tracker, reception.battery[index] as number, wearer?.name, events);
  }
  for (const tracker of roster.trackers) {
    if (tracker.performer === NOBODY) continue;
    const wearer = tracks.performers[tracker.performer] as TrackedPerformer;
    weighFrozen(watch, seen, tracker, wearer, nowS, events);
  }
  for (const tracker of roster.trackers) {
    const wearer = tracks.performers[tracker.performer];
    if (wearer !== undefined) weighContact(watch, seen, tracker, wearer, nowS, events);
  }
  for (let p = 0; p < tracks.performers.length; p++) {
    weighApart(watch, seen, p, nowS, events);
    weighWaiting(watch, seen, p, nowS, events);
  }
  reception.clocks.forEach(({ steps, steppedS }, input) => {
    if (steps === watch.saidSteps[input]) return;
    watch.saidSteps[input] = steps;
    events.push({ kind: 'sensor-clock', input: reception.inputs[input]?.name ?? '', steppedS });
  });
}

/** @param charge NaN: the tracker has given no impossible charge */
function weighUnit(
  watch: TrackerWatch,
  { id }: Tracker,
  charge: number,
  performer: string | undefined,
  events: EngineEvent[],
): void {
  if (watch.saidUnit || Number.isNaN(charge)) return;
  watch.saidUnit = true;
  const wearer = performer === undefined ? {} : { performer };
  events.push({ kind: 'battery-unit', tracker: id, ...wearer, charge });
}

/** @param charge NaN: the tracker doesn't say */
function weighBattery(
  watch: TrackerWatch,
  { id, index }: Tracker,
  charge: number,
  performer: string | undefined,
  events: EngineEvent[],
): void {
  if (Number.isNaN(charge)) return;
  const said = watch.saidLow[index] === 1;
  const low = charge < (said ? BATTERY_CHARGED : BATTERY_LOW);
  if (low === said) return;
  watch.saidLow[index] = low ? 1 : 0;
  const wearer = performer === undefined ? {} : { performer };
  events.push({ kind: 'battery', tracker: id, ...wearer, low, charge });
}

function weighContact(
  watch: TrackerWatch,
  seen: Seen,
  tracker: Tracker,
  wearer: TrackedPerformer,
  nowS: number,
  events: EngineEvent[],
): void {
  const { awaitedS, steadySinceS, saidSilent, saidFrozen } = watch;
  const { index } = tracker;
  const breakS = seen.show.watchdog.trackerSilent.afterS;
  const heardS = Math.max(seen.reception.heardS[index] as number, awaitedS[index] as number);
  const silentForS = nowS - heardS;
  if (saidSilent[index] === 0) {
    // A performer none of whose trackers is heard is lost: that is another event.
    if (silentForS <= TOLD_AFTER_S) return;
    // A frozen one is always reported: otherwise it would be called frozen for ever.
    const isOneOfSeveral = wearer.seen && wearer.silentForS <= breakS;
    if (!isOneOfSeveral && saidFrozen[index] === 0 && !isBehindStop(seen, tracker)) return;
    saidSilent[index] = 1;
    saidFrozen[index] = 0;
    steadySinceS[index] = Number.NaN;
    const event = contactEvent(watch, seen, tracker, wearer.name, false, nowS);
    events.push(wasToldWhenGiven(watch, seen, tracker) ? { ...event, told: true } : event);
    return;
  }
  if (silentForS > breakS) steadySinceS[index] = Number.NaN;
  else if (Number.isNaN(steadySinceS[index])) steadySinceS[index] = nowS;
  else if (nowS - (steadySinceS[index] as number) >= BACK_AFTER_S) {
    saidSilent[index] = 0;
    const heardForS = nowS - (steadySinceS[index] as number);
    events.push({ ...contactEvent(watch, seen, tracker, wearer.name, true, nowS), heardForS });
  }
}

/** No event says that a stopped performer would be lost anyway: they will not come back when the stop ends. */
function isBehindStop({ orders, offStage, watched }: Seen, { performer }: Tracker): boolean {
  // A silent feed is one event.
  return (
    orders.stopped[performer] === 1 && !watched.feedToldSilent && !isOffStage(offStage, performer)
  );
}

/** The operator who assigned it was told that nothing had come from it. */
function wasToldWhenGiven(
  { wasGiven, awaitedS }: TrackerWatch,
  { reception }: Seen,
  { index }: Tracker,
): boolean {
  if (wasGiven[index] === 0) return false;
  const quietForS = (awaitedS[index] as number) - (reception.heardS[index] as number);
  return !(quietForS <= KNOWN_WITHIN_S);
}

function contactEvent(
  { saidFrozen }: TrackerWatch,
  { show, roster, reception }: Seen,
  tracker: Tracker,
  performer: string,
  heard: boolean,
  nowS: number,
): Extract<EngineEvent, { kind: 'tracker-contact' }> {
  const silentForS = (one: Tracker) => nowS - (reception.heardS[one.index] as number);
  const breakS = show.watchdog.trackerSilent.afterS;
  const others = roster.trackers.filter(
    one =>
      one !== tracker &&
      one.performer === tracker.performer &&
      silentForS(one) <= breakS &&
      saidFrozen[one.index] === 0,
  );
  const wasHeard = silentForS(tracker) < Number.POSITIVE_INFINITY;
  return {
    kind: 'tracker-contact',
    tracker: tracker.id,
    performer,
    heard,
    ...(wasHeard ? { silentForS: silentForS(tracker) } : {}),
    others: others.map(({ id }) => id),
  };
}

function weighFrozen(
  watch: TrackerWatch,
  { show, reception }: Seen,
  { id, index, place }: Tracker,
  { track, name }: TrackedPerformer,
  nowS: number,
  events: EngineEvent[],
): void {
  // What is not heard repeats nothing.
  const { afterS } = show.watchdog.trackerSilent;
  if (!(nowS - (reception.heardS[index] as number) <= afterS)) return;
  const freshness = freshnessOf(track, place);
  // At first it is only doubted; reported once it is treated as silent, and when it moves again.
  const said = watch.saidFrozen[index] === 1;
  const frozen = said ? freshness < 1 : freshness === 0;
  if (frozen === said) return;
  watch.saidFrozen[index] = frozen ? 1 : 0;
  if (frozen) watch.saidSilent[index] = 0;
  events.push({ kind: 'tracker-frozen', tracker: id, performer: name, frozen });
}

/** The watchdog gives no cause for somebody it has never followed: if they are heard, people want to know why. */
function weighWaiting(
  { wasFollowed, saidBut, butTurnedS }: TrackerWatch,
  seen: Seen,
  index: number,
  nowS: number,
  events: EngineEvent[],
): void {
  if (seen.watched.performers[index]?.follows === true) wasFollowed[index] = 1;
  const but = wasFollowed[index] === 1 ? undefined : heardBut(seen, index, nowS);
  if (but === saidBut[index]) {
    butTurnedS[index] = Number.NaN;
    return;
  }
  if (Number.isNaN(butTurnedS[index])) butTurnedS[index] = nowS;
  // At first nobody is well tracked.
  if (but !== undefined && nowS - (butTurnedS[index] as number) < TOLD_AFTER_S) return;
  saidBut[index] = but;
  butTurnedS[index] = Number.NaN;
  const { name } = seen.tracks.performers[index] as TrackedPerformer;
  events.push({ kind: 'heard-but', performer: name, but });
}

/** undefined: nothing comes from them, or nothing is wrong. */
function heardBut(
  { show, roster, reception, tracks, watched }: Seen,
  index: number,
  nowS: number,
): HeardBut | undefined {
  const { watch, observation } = watched.performers[index] as WatchedPerformer;
  if (watch.phase === 'off') return undefined;
  const { afterS } = show.watchdog.trackerSilent;
  let isHeard = false;
  for (const { performer, index: tracker } of roster.trackers) {
    if (performer === index && nowS - (reception.heardS[tracker] as number) <= afterS)
      isHeard = true;
  }
  if (!isHeard) return undefined;
  if (!(tracks.performers[index] as TrackedPerformer).seen) return 'refused';
  const cause = keptAwayBy(observation, show.watchdog);
  switch (cause) {
    case 'sensor-clock-gone':
      return reception.untagged[index] === 1 ? 'no-time-stamp' : 'clock';
    case 'feed-silent':
    case 'tracker-silent':
      return 'refused';
    case 'frozen':
    case 'out-of-bounds':
    case 'confidence-low':
      return cause;
    // What holds everybody's light is reported separately.
    case 'operator-stop':
    case 'desk-lost':
    case 'jumped':
    case undefined:
      return undefined;
    default:
      return unreachable(cause);
  }
}

function weighApart(
  { saidApart, apartTurnedS }: TrackerWatch,
  { tracks, roster }: Seen,
  index: number,
  nowS: number,
  events: EngineEvent[],
): void {
  const { track, name, seen, confidence } = tracks.performers[index] as TrackedPerformer;
  const said = saidApart[index] === 1;
  const apart = seen && confidence.conflict < 1;
  if (apart === said) {
    apartTurnedS[index] = Number.NaN;
    return;
  }
  if (Number.isNaN(apartTurnedS[index])) apartTurnedS[index] = nowS;
  const sinceS = nowS - (apartTurnedS[index] as number);
  if (sinceS < (apart ? APART_AFTER_S : TOGETHER_AFTER_S)) return;
  const pair = apart ? farthestPair(track, nowS) : undefined;
  if (apart && pair === undefined) return;
  saidApart[index] = apart ? 1 : 0;
  apartTurnedS[index] = Number.NaN;
  const idAt = (place: number | undefined) =>
    roster.trackers.filter(one => one.performer === index && one.place === place);
  const trackers = [...idAt(pair?.first), ...idAt(pair?.second)].map(({ id }) => id);
  const wearsOne = !apart && roster.trackers.filter(one => one.performer === index).length < 2;
  events.push({
    kind: 'trackers-apart',
    performer: name,
    trackers,
    apartM: pair?.apartM ?? 0,
    ...(wearsOne ? { wearsOne } : {}),
  });
}
