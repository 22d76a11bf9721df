import { unreachable } from '../stage/unreachable.js';
import type { Observation, WatchTimers } from './observation.js';
import type { WatchdogOptions } from './options.js';
import { fall, rise } from './ramp.js';
import { PERFORMER_ROWS, type PerformerCondition, type PerformerRow } from './watchdog-table.js';

export type { Observation } from './observation.js';

/**
 * A performer's phase. waiting: never tracked well yet. rearming: well again, not yet for long enough; trust goes on
 * falling. returning: trust rises. losing: trust falls. safe: trust is 0. off: known to be off stage, or heard again
 * and not yet well for long enough; trust is 1, or rises: they are trusted to be in no zone.
 */
export const PHASES = [
  'waiting',
  'rearming',
  'returning',
  'live',
  'losing',
  'safe',
  'off',
] as const;
export type Phase = (typeof PHASES)[number];

export interface Watch extends WatchTimers {
  phase: Phase;
  /** 0 = safe values only, 1 = live values only. */
  trust: number;
  /** Why the performer isn't live; undefined while live, returning or never seen. */
  cause: PerformerCondition | undefined;
  /** Live to safe, seconds: the shortest fade of all conditions that have acted in this loss, or in the last one. */
  fadeS: number;
  /** How long all must be well before the light comes back, seconds: the longest that those conditions ask for. */
  rearmS: number;
  /** How long no condition has held, seconds. */
  wellForS: number;
}

export function createWatch(options: WatchdogOptions): Watch {
  return {
    phase: 'waiting',
    trust: 0,
    cause: undefined,
    fadeS: options.trackerSilent.fadeS,
    rearmS: options.rearmS,
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
  const cause = takeConditions(watch, seen, dtS, options);
  // A performer just below a limit isn't lost yet, but isn't well either.
  const well =
    cause === undefined &&
    watch.clockGoneForS === 0 &&
    watch.frozenForS === 0 &&
    watch.outOfBoundsForS === 0 &&
    watch.confidenceLowForS === 0 &&
    // Off stage silence takes no light, and is no contact either.
    !(seen.offStage && isSilent(seen, options)) &&
    seen.seen;
  watch.wellForS = well ? watch.wellForS + dtS : 0;

  const before = watch.phase;
  const after = nextPhase(before, {
    seen: seen.seen,
    off: seen.offStage,
    settled: seen.settled,
    lost: cause !== undefined,
    well,
    // After a full loss the light comes back only once all of it has reached its safe values, so that it starts
    // afresh where the performer is now; a brief loss returns from mid-fade.
    rearmed: watch.wellForS >= watch.rearmS && (watch.trust > 0 || seen.settled),
    trust: watch.trust,
  });
  // If their light is already down, it is no jump: they were not heard on the way, and come back at another place.
  const comesBack = cause === 'jumped' && watch.cause !== undefined && !wantsLive(before);
  if (cause !== undefined && (seen.seen || after === 'losing')) {
    if (!comesBack) watch.cause = cause;
  } else if (hasNoCause(after)) watch.cause = undefined;

  switch (after) {
    case 'losing':
    case 'rearming':
      watch.trust = fall(watch.trust, dtS, watch.fadeS);
      break;
    case 'returning':
    case 'off':
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

function hasNoCause(phase: Phase): boolean {
  return phase === 'live' || phase === 'returning' || phase === 'waiting' || phase === 'off';
}

function isSilent(
  { silentForS }: Readonly<Observation>,
  { trackerSilent }: WatchdogOptions,
): boolean {
  return !(silentForS <= trackerSilent.afterS);
}

/**
 * What would keep a performer's light away if nobody were stopped: the worst condition that holds at this moment,
 * however short; undefined: nothing.
 */
export function keptAwayBy(
  seen: Readonly<Observation>,
  options: WatchdogOptions,
): PerformerCondition | undefined {
  return PERFORMER_ROWS.find(row => {
    if (row.condition === 'operator-stop' || row.condition === 'jumped') return false;
    return (!seen.offStage || row.actsOffStage === true) && row.holds(seen, options);
  })?.condition;
}

/** Puts the performer where a finished loss leaves them: somebody else has taken their light to its safe values. */
export function dropWatch(watch: Watch): void {
  if (watch.phase !== 'waiting') watch.phase = 'safe';
  watch.trust = 0;
  watch.wellForS = 0;
}

export interface PhaseInputs {
  readonly seen: boolean;
  /** Known to be off stage. */
  readonly off: boolean;
  /** No light of the performer still shows what it showed before the loss. */
  readonly settled: boolean;
  /** A condition of the table acts. */
  readonly lost: boolean;
  /** No condition holds, not even one that hasn't lasted long enough to act. */
  readonly well: boolean;
  readonly rearmed: boolean;
  readonly trust: number;
}

/** The transitions of a performer's watchdog; total over its inputs, and tested over all of them. */
export function nextPhase(phase: Phase, inputs: PhaseInputs): Phase {
  const falling: Phase = inputs.trust > 0 ? 'losing' : 'safe';
  if (inputs.off && !inputs.lost) {
    // After a loss the safe values are reached first: none of a lost performer's light comes up again.
    const fromLoss = phase === 'losing' || phase === 'safe' || phase === 'rearming';
    return fromLoss && (inputs.trust > 0 || !inputs.settled) ? falling : 'off';
  }
  if (!inputs.seen) {
    const wasOff = phase === 'off' || phase === 'losing';
    return wasOff && inputs.trust > 0 ? 'losing' : 'waiting';
  }
  switch (phase) {
    case 'off':
      if (inputs.lost) return falling;
      if (!inputs.well || !inputs.rearmed) return 'off';
      return inputs.trust >= 1 ? 'live' : 'returning';
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

/** Whether the light may show what is known of them: where they are, or that they are off stage. */
export function isKnown(phase: Phase): boolean {
  return wantsLive(phase) || phase === 'off';
}

interface RunRow
  extends Pick<PerformerRow, 'condition' | 'holds' | 'timer' | 'lastsS' | 'fadeS' | 'rearmS'> {
  readonly actsOffStage: boolean;
}

/**
 * The running part of the rows, all of one shape and without the words: each tick goes through it for each performer,
 * and V8 is fast with objects of one shape.
 */
const ROWS: readonly RunRow[] = PERFORMER_ROWS.map(
  ({ condition, holds, timer, lastsS, fadeS, rearmS, actsOffStage = false }) => {
    return { condition, holds, timer, lastsS, fadeS, rearmS, actsOffStage };
  },
);

/** By name and not by `watch[timer]`: a look-up by a key that varies costs more than all the rest. */
function heldForS(watch: Watch, timer: keyof WatchTimers): number {
  switch (timer) {
    case 'clockGoneForS':
      return watch.clockGoneForS;
    case 'frozenForS':
      return watch.frozenForS;
    case 'outOfBoundsForS':
      return watch.outOfBoundsForS;
    case 'confidenceLowForS':
      return watch.confidenceLowForS;
    default:
      return unreachable(timer);
  }
}

function hold(watch: Watch, timer: keyof WatchTimers, heldS: number): void {
  switch (timer) {
    case 'clockGoneForS':
      watch.clockGoneForS = heldS;
      break;
    case 'frozenForS':
      watch.frozenForS = heldS;
      break;
    case 'outOfBoundsForS':
      watch.outOfBoundsForS = heldS;
      break;
    case 'confidenceLowForS':
      watch.confidenceLowForS = heldS;
      break;
    default:
      unreachable(timer);
  }
}

/**
 * Goes through every row of the table that the engine decides, worst first.
 * @returns the first that acts; and notes the shortest fade, and the longest time to re-arm, of all that do
 */
function takeConditions(
  watch: Watch,
  seen: Readonly<Observation>,
  dtS: number,
  options: WatchdogOptions,
): PerformerCondition | undefined {
  let worst: PerformerCondition | undefined;
  // A condition that joins in mid-fade can speed the fade up, and never slows it.
  const begins = isKnown(watch.phase);
  const isOff = watch.phase === 'off';
  let shortestS = begins ? Number.POSITIVE_INFINITY : watch.fadeS;
  let longestS = begins ? 0 : watch.rearmS;
  for (let i = 0; i < ROWS.length; i++) {
    const row = ROWS[i] as RunRow;
    if (!row.holds(seen, options)) {
      if (row.timer !== undefined) hold(watch, row.timer, 0);
      continue;
    }
    if (seen.offStage && !row.actsOffStage) {
      // Not well, but no time counts until they are on stage again.
      if (row.timer !== undefined) hold(watch, row.timer, dtS);
      continue;
    }
    // They may come back to the stage at another place.
    if (isOff && row.condition === 'jumped') continue;
    if (row.timer !== undefined) {
      const heldS = heldForS(watch, row.timer) + dtS;
      hold(watch, row.timer, heldS);
      if (!(heldS > row.lastsS(options))) continue;
    }
    worst ??= row.condition;
    shortestS = Math.min(shortestS, row.fadeS(options));
    longestS = Math.max(longestS, row.rearmS(options));
  }
  if (worst !== undefined) {
    watch.fadeS = shortestS;
    watch.rearmS = longestS;
  }
  return worst;
}
