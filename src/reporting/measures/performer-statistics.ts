import type { Phase } from '../../safety/watchdog.js';
import type { PerformerPlan } from '../../show/model/model.js';
import type { Verdict } from '../../tracking/sighting.js';
import { WalkedPath } from './walked-path.js';

/** `held`: their light isn't as the engine asks, because all light is at the safe look or can't be sent. */
export type StretchPhase = Phase | 'no engine' | 'held';

/** A performer is in one phase of the watchdog from one time to another. */
export interface Stretch {
  readonly phase: StretchPhase;
  readonly fromS: number;
  toS: number;
}

export interface PerformerStatistics {
  readonly name: string;
  /** Their label in the show that ran last. */
  label: string;
  /** When they were first heard; undefined: never. */
  firstS: number | undefined;
  /** Time since then, and the part of it in which their light followed them, seconds. */
  sinceS: number;
  followedS: number;
  confidenceS: number;
  reports: number;
  /** How many of these came while they were known to be off stage. */
  offStageReports: number;
  /** How often an operator stopped them, alone or with everybody. */
  stops: number;
  readonly verdicts: Partial<Record<Verdict, number>>;
  readonly stretches: Stretch[];
  readonly path: WalkedPath;
  x: number;
  y: number;
  /** Where they were before their reports put them elsewhere for good, metres. */
  before: { readonly x: number; readonly y: number; readonly atS: number } | undefined;
  readonly trackers: Map<string, number>;
  /** Sums since anybody at all was followed; added to the others only when somebody is followed again. */
  readonly tail: { sinceS: number; confidenceS: number };
}

/** The statistics of a performer who has not been heard yet. */
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
    // A tracker that is never heard is theirs too.
    trackers: new Map(trackers.map(({ id }) => [id, 0])),
    tail: { sinceS: 0, confidenceS: 0 },
  };
}

/** A day of a show that flickers. */
const MOST_KEPT = 20_000;

/** Continues the last stretch, or begins the next one. */
export function extend(stretches: Stretch[], phase: StretchPhase, nowS: number): void {
  const last = stretches.at(-1);
  if (last !== undefined) last.toS = Math.max(last.toS, nowS);
  if (last?.phase !== phase && stretches.length < MOST_KEPT) {
    stretches.push({ phase, fromS: nowS, toS: nowS });
  }
}
