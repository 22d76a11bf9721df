import { unreachable } from '../stage/unreachable.js';
import type { WatchdogOptions } from './options.js';
import { fall, rise } from './ramp.js';
import { PERFORMER_CONDITIONS, type PerformerCondition } from './watchdog-table.js';

/**
 * Where a performer stands with the watchdog.
 * waiting: never tracked well yet. rearming: well again, not yet for long enough; trust goes on
 * falling. returning: trust rises. losing: trust falls. safe: trust is 0.
 */
export const PHASES = ['waiting', 'rearming', 'returning', 'live', 'losing', 'safe'] as const;
export type Phase = (typeof PHASES)[number];

export interface Watch {
  phase: Phase;
  /** 0 = safe values only, 1 = live values only. */
  trust: number;
  /** Why the performer isn't live; undefined while live, returning or never seen. */
  cause: PerformerCondition | undefined;
  /** Live to safe, seconds: the shortest fade of all conditions that have acted in this loss, or the last. */
  fadeS: number;
  /** How long no condition has held, seconds. */
  wellForS: number;
  /** How long each timed condition has held, seconds. */
  clockGoneForS: number;
  frozenForS: number;
  outOfBoundsForS: number;
  confidenceLowForS: number;
}

/** What the engine saw of one performer in one tick. */
export interface Observation {
  /** Any report of any tracker of the performer since the start. */
  seen: boolean;
  /** An operator has stopped the performer, or everybody. */
  stopped: boolean;
  /** The desk is required, and has not been heard for deskLost.after. */
  deskLost: boolean;
  /** Nobody at all has been heard for feedSilent.after. */
  feedSilent: boolean;
  /** Since a report of the performer last arrived, seconds. */
  silentForS: number;
  /** The time tags of the performer's reports are missing or can't be right. */
  clockGone: boolean;
  /** The track restarted elsewhere in this tick. */
  jumped: boolean;
  /** Confidence in that the reports are not a repetition, 0..1. */
  fresh: number;
  /** Metres outside of the stage bounds. */
  outsideM: number;
  /** 0..1 */
  confidence: number;
  /** No light of the performer still shows what it showed before the loss. */
  settled: boolean;
}

export function createWatch(options: WatchdogOptions): Watch {
  return {
    phase: 'waiting',
    trust: 0,
    cause: undefined,
    fadeS: options.trackerSilent.fadeS,
    wellForS: 0,
    clockGoneForS: 0,
    frozenForS: 0,
    outOfBoundsForS: 0,
    confidenceLowForS: 0,
  };
}

/**
 * One tick of a performer's watchdog. Anything that isn't a finite, healthy figure counts against
 * the performer: comparisons are written so that NaN is never "well".
 * @param dtS seconds since the last tick, at least 0
 * @returns whether the phase changed
 */
export function stepWatch(
  watch: Watch,
  seen: Readonly<Observation>,
  dtS: number,
  options: WatchdogOptions,
): boolean {
  const { outOfBounds, confidenceLow } = options;
  watch.clockGoneForS = seen.clockGone ? watch.clockGoneForS + dtS : 0;
  watch.frozenForS = seen.fresh >= confidenceLow.below ? 0 : watch.frozenForS + dtS;
  watch.outOfBoundsForS = seen.outsideM <= outOfBounds.marginM ? 0 : watch.outOfBoundsForS + dtS;
  watch.confidenceLowForS =
    seen.confidence >= confidenceLow.below ? 0 : watch.confidenceLowForS + dtS;

  const cause = takeConditions(watch, seen, options);
  // A performer who is only just below a limit isn't lost yet, but isn't well either.
  const well =
    cause === undefined &&
    watch.clockGoneForS === 0 &&
    watch.frozenForS === 0 &&
    watch.outOfBoundsForS === 0 &&
    watch.confidenceLowForS === 0 &&
    seen.seen;
  watch.wellForS = well ? watch.wellForS + dtS : 0;

  const before = watch.phase;
  const after = nextPhase(before, {
    seen: seen.seen,
    lost: cause !== undefined,
    well,
    // From full loss the light comes back only once all of it has arrived at its safe values, so that
    // it starts afresh at the performer's place of today; a brief loss returns from mid-fade.
    rearmed: watch.wellForS >= options.rearmS && (watch.trust > 0 || seen.settled),
    trust: watch.trust,
  });
  if (cause !== undefined && seen.seen) watch.cause = cause;
  else if (after === 'live' || after === 'returning' || after === 'waiting')
    watch.cause = undefined;

  switch (after) {
    case 'losing':
    case 'rearming':
      watch.trust = fall(watch.trust, dtS, watch.fadeS);
      break;
    case 'returning':
      watch.trust = rise(watch.trust, dtS, options.returnS);
      break;
    case 'live':
      watch.trust = 1;
      break;
    case 'safe':
    case 'waiting':
      watch.trust = 0;
      break;
    default:
      return unreachable(after);
  }
  watch.phase = after;
  return after !== before;
}

/** As after a loss that is over: for a performer whose light somebody else has taken to its safe values. */
export function dropWatch(watch: Watch): void {
  if (watch.phase !== 'waiting') watch.phase = 'safe';
  watch.trust = 0;
  watch.wellForS = 0;
}

export interface PhaseInputs {
  readonly seen: boolean;
  /** A condition of the table acts. */
  readonly lost: boolean;
  /** No condition holds, not even one that hasn't lasted long enough to act. */
  readonly well: boolean;
  readonly rearmed: boolean;
  readonly trust: number;
}

/** The transitions of a performer's watchdog; total over its inputs, and tested over all of them. */
export function nextPhase(phase: Phase, inputs: PhaseInputs): Phase {
  if (!inputs.seen) return 'waiting';
  const falling: Phase = inputs.trust > 0 ? 'losing' : 'safe';
  switch (phase) {
    case 'waiting':
    case 'rearming':
      if (inputs.lost || !inputs.well) return phase === 'waiting' ? 'waiting' : falling;
      return inputs.rearmed ? 'returning' : 'rearming';
    case 'losing':
    case 'safe':
      if (inputs.lost || !inputs.well) return falling;
      return inputs.rearmed ? 'returning' : 'rearming';
    case 'returning':
      if (inputs.lost) return falling;
      return inputs.trust >= 1 ? 'live' : 'returning';
    case 'live':
      return inputs.lost ? 'losing' : 'live';
    default:
      return unreachable(phase);
  }
}

/** Whether the light should be going towards the live values. */
export function wantsLive(phase: Phase): boolean {
  return phase === 'live' || phase === 'returning';
}

/**
 * Looks at every row of the table that the engine decides, worst first.
 * @returns the first that acts, and notes the shortest fade of all that do
 */
function takeConditions(
  watch: Watch,
  seen: Readonly<Observation>,
  options: WatchdogOptions,
): PerformerCondition | undefined {
  let worst: PerformerCondition | undefined;
  // A condition that joins others in mid-fade can hasten the fade, and never slows it.
  let shortestS = wantsLive(watch.phase) ? Number.POSITIVE_INFINITY : watch.fadeS;
  for (const condition of PERFORMER_CONDITIONS) {
    if (!acts(condition, watch, seen, options)) continue;
    worst ??= condition;
    shortestS = Math.min(shortestS, fadeOf(condition, options));
  }
  if (worst !== undefined) watch.fadeS = shortestS;
  return worst;
}

function acts(
  condition: PerformerCondition,
  watch: Watch,
  seen: Readonly<Observation>,
  options: WatchdogOptions,
): boolean {
  switch (condition) {
    case 'operator-stop':
      return seen.stopped;
    case 'desk-lost':
      return seen.deskLost;
    case 'feed-silent':
      return seen.feedSilent;
    case 'tracker-silent':
      return !(seen.silentForS <= options.trackerSilent.afterS);
    case 'sensor-clock-gone':
      return watch.clockGoneForS > options.sensorClockGone.afterS;
    case 'jumped':
      return seen.jumped;
    case 'frozen':
      return watch.frozenForS > options.frozen.afterS;
    case 'out-of-bounds':
      return watch.outOfBoundsForS > options.outOfBounds.afterS;
    case 'confidence-low':
      return watch.confidenceLowForS > options.confidenceLow.afterS;
    default:
      return unreachable(condition);
  }
}

/** Seconds from live to safe for a condition alone. */
export function fadeOf(condition: PerformerCondition, options: WatchdogOptions): number {
  switch (condition) {
    case 'operator-stop':
      return options.operatorStop.fadeS;
    case 'desk-lost':
      return options.deskLost.fadeS;
    case 'feed-silent':
      return options.feedSilent.fadeS;
    case 'tracker-silent':
      return options.trackerSilent.fadeS;
    case 'sensor-clock-gone':
      return options.sensorClockGone.fadeS;
    case 'jumped':
      return options.jumped.fadeS;
    case 'frozen':
      return options.frozen.fadeS;
    case 'out-of-bounds':
      return options.outOfBounds.fadeS;
    case 'confidence-low':
      return options.confidenceLow.fadeS;
    default:
      return unreachable(condition);
  }
}
