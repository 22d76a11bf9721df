import { stepWatch, wantsLive } from '../safety/watchdog.js';
import type { EngineState, PerformerState } from './state.js';

/**
 * Share of the feed's time after which the loss of one tracker counts as that of the feed: of the usual
 * 0.5 s it leaves 0.125 s between the first and the last to fall silent, an interval of slow (10 Hz) ones.
 */
const ALMOST = 0.75;

/** Decides whom to believe, and says so where it changes. */
export function watch(state: EngineState, nowS: number, dtS: number): void {
  const options = state.show.watchdog;
  // A feed that never spoke has been silent since the start.
  state.lastHeardS ??= nowS;
  const feedSilent = isFeedSilent(state, nowS - state.lastHeardS);
  const neverHeard = !state.performers.some(({ observation }) => observation.seen);
  const feedChanged = feedSilent !== state.feedSilent;
  state.feedSilent = feedSilent;
  const lost: string[] = [];

  for (const performer of state.performers) {
    const { observation } = performer;
    observation.feedSilent = feedSilent;
    observation.settled = true;
  }
  for (const { performer, level } of state.trusts) unsettle(state, performer, level);
  const { followed, steady } = state.table;
  for (let i = 0; i < followed.length; i++) {
    const performer = followed[i] as number;
    if (performer < 0) continue;
    unsettle(state, performer, steady[i] === 1 ? 1 : (state.lights[i]?.retreat.live ?? 0));
  }
  for (const performer of state.performers) {
    const { observation } = performer;
    const from = performer.watch.phase;
    const changed = stepWatch(performer.watch, observation, dtS, options);
    observation.jumped = false;
    const to = performer.watch.phase;
    performer.follows = wantsLive(to);
    performer.startsAfresh = observation.settled && from !== 'live';
    if (!changed) continue;
    if (to === 'losing' && performer.watch.cause === 'feed-silent') lost.push(performer.name);
    state.events.push({
      kind: 'performer',
      performer: performer.name,
      from,
      to,
      cause: performer.watch.cause,
      silentForS: observation.silentForS,
      confidence: observation.confidence,
      ...(wearsNone(state, performer) ? { wearsNone: true } : {}),
    });
  }
  if (!feedChanged) return;
  state.events.push({
    kind: 'feed',
    silent: feedSilent,
    performers: lost,
    ...(neverHeard ? { neverHeard } : {}),
  });
}

function wearsNone({ performers, trackers }: EngineState, performer: PerformerState): boolean {
  return !trackers.some(one => performers[one.performer] === performer);
}

/**
 * Trackers of a feed that dies fall silent one after the other, within a report's interval. When the
 * first of them is lost and nobody else is heard either, that is the feed: one decision for all, not
 * one a tracker.
 */
function isFeedSilent(state: EngineState, silentForS: number): boolean {
  const { show, performers } = state;
  const { feedSilent, trackerSilent } = show.watchdog;
  if (silentForS > feedSilent.afterS) return true;
  if (silentForS < ALMOST * feedSilent.afterS) return false;
  if (state.feedSilent) return true; // until somebody is heard
  return performers.some(
    ({ follows, observation }) => follows && observation.silentForS > trackerSilent.afterS,
  );
}

/** A fixture still shows something of what it showed of the performer. */
function unsettle(state: EngineState, performer: number, share: number): void {
  const one = state.performers[performer];
  if (one !== undefined && share > 0) one.observation.settled = false;
}
