import type { Phase } from '../../safety/watchdog.js';
import type { PerformerPlan } from '../../show/model/model.js';
import type { Verdict } from '../../tracking/sighting.js';
import { WalkedPath } from './walked-path.js';

/** Held: their light is not where the engine has it, for all light is at the safe look or can't be sent. */
export type StretchPhase = Phase | 'no engine' | 'held';

/** A performer is in one phase of the watchdog from one time to another. */
export interface Stretch {
  readonly phase: StretchPhase;
  readonly fromS: number;
  toS: number;
}

export interface PerformerStatistics {
  readonly name: string;
  /** As the show that ran last has it. */
  label: string;
  /** When they were first heard; undefined: never. */
  firstS: number | undefined;
  /** Since then, and of that the time in which their light followed them, seconds. */
  sinceS: number;
  followedS: number;
  confidenceS: number;
  reports: number;
  /** Of these, those that came while they were known to be off stage. */
  offStageReports: number;
  /** How often an operator stopped them: alone, or with everybody. */
  stops: number;
  readonly verdicts: Partial<Record<Verdict, number>>;
  readonly stretches: Stretch[];
  readonly path: WalkedPath;
  x: number;
  y: number;
  /** Where they were before their reports put them elsewhere for good; metres. */
  before: { readonly x: number; readonly y: number; readonly atS: number } | undefined;
  readonly trackers: Map<string, number>;
  /** Since anybody at all was followed: not part of `sinceS` and its like until somebody is again. */
  readonly tail: { sinceS: number; confidenceS: number };
}

/** Of whom nothing has been heard yet. */
export function createPerformerStatistics({
  name,
  label,
  trackers,
}: PerformerPlan): PerformerStatistics {
  return {
    name,
    label,
    firstS: undefined,
    sinceS: 0,
    followedS: 0,
    confidenceS: 0,
    reports: 0,
    offStageReports: 0,
    stops: 0,
    verdicts: {},
    stretches: [],
    path: new WalkedPath(),
    x: Number.NaN,
    y: Number.NaN,
    before: undefined,
    // Also one that is never heard is theirs.
    trackers: new Map(trackers.map(({ id }) => [id, 0])),
    tail: { sinceS: 0, confidenceS: 0 },
  };
}

/** A day of a show that flickers. */
const MOST_KEPT = 20_000;

/** The stretch goes on, or the next one begins. */
export function extend(stretches: Stretch[], phase: StretchPhase, nowS: number): void {
  const last = stretches.at(-1);
  if (last !== undefined) last.toS = Math.max(last.toS, nowS);
  if (last?.phase !== phase && stretches.length < MOST_KEPT) {
    stretches.push({ phase, fromS: nowS, toS: nowS });
  }
}
