import { type EngineState, NOBODY, type Wearer } from './state.js';

/**
 * One of several trackers that is silent for so long is told of: longer than a body hides it in a turn.
 * Common practice; the light does not depend on it, as the others go on.
 */
const TOLD_AFTER_S = 2;
/** It is back when it has been heard for so long without a break. */
const BACK_AFTER_S = 1;
/** Charge below which a battery is low, and above which it has been charged: figures of common practice. */
export const BATTERY_LOW = 0.2;
const BATTERY_CHARGED = 0.3;

/** Once a tick, before the watch: which of several trackers is silent, and whose battery is low? */
export function weighTrackers(state: EngineState, nowS: number): void {
  for (const tracker of state.trackers) {
    if (Number.isNaN(tracker.awaitedS)) tracker.awaitedS = nowS;
    if (tracker.battery !== undefined) weighBattery(state, tracker, tracker.battery);
    if (tracker.performer !== NOBODY) weighContact(state, tracker, nowS);
  }
}

/** Somebody else wears it, or nobody: what was told of its silence was about somebody else. */
export function forgetContact(tracker: Wearer, nowS: number): void {
  tracker.awaitedS = nowS;
  tracker.steadySinceS = Number.NaN;
  tracker.saidSilent = false;
  tracker.saidFrozen = false;
}

function weighBattery(state: EngineState, tracker: Wearer, charge: number): void {
  const low = tracker.saidLow ? charge < BATTERY_CHARGED : charge < BATTERY_LOW;
  if (low === tracker.saidLow) return;
  tracker.saidLow = low;
  const performer = state.performers[tracker.performer]?.name;
  state.events.push({
    kind: 'battery',
    tracker: tracker.id,
    ...(performer === undefined ? {} : { performer }),
    low,
    charge,
  });
}

function weighContact(state: EngineState, tracker: Wearer, nowS: number): void {
  const performer = state.performers[tracker.performer];
  if (performer === undefined) return;
  const breakS = state.show.watchdog.trackerSilent.afterS;
  const heardS = Math.max(tracker.heardS ?? Number.NEGATIVE_INFINITY, tracker.awaitedS);
  const silentForS = nowS - heardS;
  if (!tracker.saidSilent) {
    const { seen, silentForS: performerSilentForS } = performer.observation;
    // Who is heard through none of them is lost: another event.
    if (silentForS <= TOLD_AFTER_S || !seen || !(performerSilentForS <= breakS)) return;
    tracker.saidSilent = true;
    tracker.steadySinceS = Number.NaN;
    tell(state, tracker, performer.name, nowS, breakS);
    return;
  }
  // Who repeats itself to the last bit is heard, and tells nothing.
  if (silentForS > breakS || tracker.saidFrozen) tracker.steadySinceS = Number.NaN;
  else if (Number.isNaN(tracker.steadySinceS)) tracker.steadySinceS = nowS;
  else if (nowS - tracker.steadySinceS >= BACK_AFTER_S) {
    tracker.saidSilent = false;
    tell(state, tracker, performer.name, nowS, breakS);
  }
}

function tell(
  state: EngineState,
  tracker: Wearer,
  performer: string,
  nowS: number,
  breakS: number,
): void {
  const others = state.trackers.filter(
    one =>
      one !== tracker &&
      one.performer === tracker.performer &&
      nowS - (one.heardS ?? Number.NEGATIVE_INFINITY) <= breakS,
  );
  state.events.push({
    kind: 'tracker-contact',
    tracker: tracker.id,
    performer,
    heard: !tracker.saidSilent,
    ...(tracker.heardS === undefined ? {} : { silentForS: nowS - tracker.heardS }),
    others: others.map(({ id }) => id),
  });
}
