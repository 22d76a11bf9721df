import { stepWatch, wantsLive } from '../safety/watchdog.js';
import type { EngineState } from './state.js';

/** Decides whom to believe, and says so where it changes. */
export function watch(state: EngineState, nowS: number, dtS: number): void {
  const options = state.show.watchdog;
  // A feed that never spoke has been silent since the start.
  state.lastHeardS ??= nowS;
  const feedSilent = nowS - state.lastHeardS > options.feedSilent.afterS;
  const feedChanged = feedSilent !== state.feedSilent;
  state.feedSilent = feedSilent;
  const lost: string[] = [];

  for (const performer of state.performers) {
    const { observation } = performer;
    observation.feedSilent = feedSilent;
    observation.settled = true;
  }
  for (const { performer, level } of state.trusts) unsettle(state, performer, level);
  for (const { follow, retreat } of state.lights) {
    if (follow !== undefined) unsettle(state, follow.performer, retreat.live);
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
    });
  }
  if (feedChanged) state.events.push({ kind: 'feed', silent: feedSilent, performers: lost });
}

/** A fixture still shows something of what it showed of the performer. */
function unsettle(state: EngineState, performer: number, share: number): void {
  const one = state.performers[performer];
  if (one !== undefined && share > 0) one.observation.settled = false;
}
