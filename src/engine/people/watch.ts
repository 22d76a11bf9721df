import {
  createWatch,
  dropWatch,
  isKnown,
  type Observation,
  stepWatch,
  type Watch,
  wantsLive,
} from '../../safety/watchdog.js';
import type { Show } from '../../show/model/model.js';
import type { EngineEvent } from '../events/events.js';
import type { Orders } from '../events/orders.js';
import type { Roster } from '../reports/roster.js';
import type { TrackedPerformer, Tracks } from '../reports/tracks.js';
import { isOffStage, type OffStage } from './off-stage.js';

/**
 * Share of the feed's timeout after which the loss of one tracker counts as loss of the feed: with the usual 0.5 s,
 * trackers may fall silent up to 0.125 s apart, the interval of slow (10 Hz) ones.
 */
const ALMOST = 0.75;

/** Whom to believe. */
export interface Watched {
  readonly performers: readonly WatchedPerformer[];
  /** The performers, then the mappings: those that depend on signals are believed while these are known (lanes.ts). */
  readonly believed: readonly WatchedPerformer[];
  /** Time of the first tick, monotonic seconds: a feed that never spoke has been silent since then. */
  beganS: number | undefined;
  /** Nobody who should be heard is heard: the light goes by this. */
  feedSilent: boolean;
  /** As reported: also while all are off stage, since they would walk on unseen. */
  feedToldSilent: boolean;
}

export interface WatchedPerformer {
  readonly watch: Watch;
  /** What the watchdog was given in the last tick. */
  readonly observation: Observation;
  /** Their light may follow the estimate in this tick: live or returning. */
  follows: boolean;
  /** Known to be off stage: absent, not lost. They are in no zone. */
  offStage: boolean;
  /** Their light shows what is known of them; off stage, that they are in no zone. */
  isKnown: boolean;
  /** None of their levels rises faster than this, seconds: coming back from off stage must not make a step in the light. */
  risesInS: number;
  /** How much longer that holds, seconds. */
  comingOnS: number;
  /** All their light is at its safe values: their levels may begin anywhere. */
  startsAfresh: boolean;
}

export function createWatched(show: Show): Watched {
  const performers = show.performers.map(() => blankWatched(show));
  return {
    performers,
    believed: [...performers, ...show.mappings.map(() => blankWatched(show))],
    beganS: undefined,
    feedSilent: false,
    feedToldSilent: false,
  };
}

/** Everything known of another one. */
export function takeWatched(one: WatchedPerformer, was: WatchedPerformer): void {
  Object.assign(one.watch, was.watch);
  Object.assign(one.observation, was.observation);
  one.follows = was.follows;
  one.offStage = was.offStage;
  one.isKnown = was.isKnown;
  one.risesInS = was.risesInS;
  one.comingOnS = was.comingOnS;
  one.startsAfresh = was.startsAfresh;
}

/** For somebody who was never heard. */
export function blankWatched({ watchdog }: Show): WatchedPerformer {
  return {
    watch: createWatch(watchdog),
    observation: {
      seen: false,
      offStage: false,
      stopped: false,
      deskLost: false,
      feedSilent: false,
      silentForS: Number.POSITIVE_INFINITY,
      clockGone: false,
      jumped: false,
      fresh: 1,
      outsideM: 0,
      confidence: 0,
      settled: true,
    },
    follows: false,
    offStage: false,
    isKnown: false,
    risesInS: 0,
    comingOnS: 0,
    startsAfresh: true,
  };
}

/** What the watch reads. */
interface Seen {
  readonly show: Show;
  readonly roster: Roster;
  readonly orders: Orders;
  readonly tracks: Tracks;
  readonly offStage: OffStage;
  /** For each performer 1 while a fixture still shows something of them, as of the last tick. */
  readonly shown: Uint8Array;
}

/** Estimates, orders -> whom to believe; reports changes. */
export function watch(
  watched: Watched,
  { show, roster, orders, tracks, offStage, shown }: Seen,
  nowS: number,
  dtS: number,
  events: EngineEvent[],
): void {
  watched.beganS ??= nowS;
  const before = watched.feedToldSilent;
  const silent = isFeedSilent(watched, tracks, offStage, show, nowS);
  watched.feedToldSilent = silent;
  // None of those who are off stage is lost by it.
  const feedSilent = silent && !isEmpty(offStage, tracks);
  watched.feedSilent = feedSilent;
  const neverHeard = tracks.lastHeardS === undefined;
  const lost: string[] = [];
  for (let p = 0; p < watched.performers.length; p++) {
    const one = watched.performers[p] as WatchedPerformer;
    const tracked = tracks.performers[p] as TrackedPerformer;
    const { observation } = one;
    observation.seen = tracked.seen;
    observation.offStage = isOffStage(offStage, p);
    observation.stopped = orders.stopped[p] === 1;
    observation.deskLost = orders.needsDesk;
    observation.feedSilent = feedSilent;
    observation.silentForS = tracked.silentForS;
    observation.clockGone = tracked.clockGone;
    observation.jumped = tracked.jumped;
    observation.fresh = tracked.fresh;
    observation.outsideM = tracked.outsideM;
    observation.confidence = tracked.confidence.value;
    observation.settled = shown[p] === 0;
    const { phase: from, cause: causeBefore } = one.watch;
    const changed = stepWatch(one.watch, observation, dtS, show.watchdog);
    const { phase, cause } = one.watch;
    one.follows = wantsLive(phase);
    one.offStage = observation.offStage;
    one.isKnown = isKnown(phase);
    one.startsAfresh = observation.settled && from !== 'live';
    const { returnS } = show.watchdog;
    const comesOn = from === 'off' && one.follows;
    one.comingOnS = comesOn ? returnS : Math.max(0, one.comingOnS - dtS);
    one.risesInS = one.comingOnS > 0 ? returnS : 0;
    // A tracker that repeated itself has now fallen silent: the cause says so.
    const died = causeBefore === 'frozen' && cause === 'tracker-silent';
    if (!changed && !died && !isOutlived(causeBefore, cause)) continue;
    if (phase === 'losing' && cause === 'feed-silent') lost.push(tracked.name);
    const wearsNone = !roster.trackers.some(({ performer }) => performer === p);
    events.push({
      kind: 'performer',
      performer: tracked.name,
      from,
      to: phase,
      cause,
      silentForS: tracked.silentForS,
      confidence: tracked.confidence.value,
      ...(wearsNone ? { wearsNone } : {}),
    });
  }
  if (silent === before) return;
  const never = neverHeard ? { neverHeard } : {};
  events.push({ kind: 'feed', silent, performers: lost, ...never });
}

/** The stop is over, or the desk is back, and something else keeps their light away: that is a loss of its own. */
function isOutlived(before: Watch['cause'], cause: Watch['cause']): boolean {
  if (before !== 'operator-stop' && before !== 'desk-lost') return false;
  return cause !== undefined && cause !== before && cause !== 'operator-stop';
}

/**
 * Trackers of a feed that dies fall silent one after the other, within a report's interval. When the
 * first of them is lost and nobody else is heard either, that is the feed: one decision for all, not
 * one a tracker.
 */
function isFeedSilent(
  { performers, beganS, feedToldSilent: before }: Watched,
  tracks: Tracks,
  stage: OffStage,
  { watchdog: { feedSilent, trackerSilent } }: Show,
  nowS: number,
): boolean {
  const silentForS = nowS - (tracks.lastHeardS ?? beganS ?? nowS);
  if (silentForS > feedSilent.afterS) return true;
  // There is nobody to be lost.
  if (isEmpty(stage, tracks)) return before && silentForS >= ALMOST * feedSilent.afterS;
  if (silentForS < ALMOST * feedSilent.afterS) return false;
  if (before) return true; // until somebody is heard
  return performers.some(
    ({ follows }, p) =>
      follows && (tracks.performers[p] as TrackedPerformer).silentForS > trackerSilent.afterS,
  );
}

/** Everybody who was ever heard is off stage; and somebody is. */
function isEmpty(stage: OffStage, { performers }: Tracks): boolean {
  let isAnybodyOff = false;
  for (let p = 0; p < performers.length; p++) {
    if (isOffStage(stage, p)) isAnybodyOff = true;
    else if (performers[p]?.seen === true) return false;
  }
  return isAnybodyOff;
}

/** As after a loss that is over: the supervisor has taken everybody's light to its safe values. */
export function dropWatched({ performers }: Watched, tracks: Tracks, events: EngineEvent[]): void {
  performers.forEach((one, p) => {
    const from = one.watch.phase;
    dropWatch(one.watch);
    const to = one.watch.phase;
    if (from === to) return;
    const { name, silentForS, confidence } = tracks.performers[p] as TrackedPerformer;
    events.push({
      kind: 'performer',
      performer: name,
      from,
      to,
      cause: 'engine-late',
      silentForS,
      confidence: confidence.value,
    });
  });
}
