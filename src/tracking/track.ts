import { type Bank, type BankScratch, bankLength, createBank, createBankScratch } from './bank.js';
import { type Assessment, createAssessment, type Outlying } from './bank-update.js';
import { createHistory, forgetHistory, type History } from './history.js';
import { PLAIN_FIT, type TrackerFit, type TrackingOptions } from './options.js';
import type { Sighting, Verdict } from './sighting.js';

/** Layout of the numbers that a track keeps besides its two banks. */
export const SLOT = {
  started: 0,
  /** Time of the state, monotonic seconds. */
  timeS: 1,
  /** When the last believed report was measured, and when it arrived, monotonic seconds. */
  acceptedS: 2,
  arrivedS: 3,
  /** Usual interval between accepted reports, seconds; 0 until there were two. */
  intervalS: 4,
  /** Candidate place: since when (NaN: none), last seen, how many reports, x, y. */
  candidateSinceS: 5,
  candidateS: 6,
  candidateCount: 7,
  candidateX: 8,
  candidateY: 9,
  /** Since when the vertical has been gated; NaN when it has not. */
  verticalSinceS: 10,
  /** Since when reports have supported this place, monotonic seconds. */
  beganS: 11,
  /** How often the track began anew. */
  restarts: 12,
  /** 1: the next report begins the track anew, whatever it says. */
  beginNext: 13,
  /** Mean direction in which the performer faces, as far as it is known: see mounting.ts. */
  headingX: 14,
  headingY: 15,
  /** What its uncertainty adds to the place along one axis, m^2. */
  mountingM2: 16,
  /** What is left to make up of recent corrections, metres: see blend.ts. */
  correctionX: 17,
  correctionY: 18,
  correctionZ: 19,
  count: 20,
} as const;

/** Numbers kept for each tracker. */
export const TRACKER = {
  /** Running share of outliers, 0..1. */
  outlierShare: 0,
  /** Its last report. */
  lastS: 1,
  lastX: 2,
  lastY: 3,
  lastZ: 4,
  /** Since when its reports have repeated to the last bit, monotonic seconds; NaN when they don't. */
  repeatedSinceS: 5,
  /** Quality of its last report, by its own word, 0..1. */
  quality: 6,
  /** Probability that its last report was an outlier. */
  outlier: 7,
  /** The report before its last. */
  beforeS: 8,
  beforeX: 9,
  beforeY: 10,
  /** How far its reports scatter from one to the next, along one axis, metres; see noise.ts. */
  noiseM: 11,
  /** Running share of reports that are probably outliers, over 20 s. */
  offShare: 12,
  /** Mean distance of its recent reports from the track, metres: see conflict.ts. */
  apartX: 13,
  apartY: 14,
  /** Its habit of repeating itself: see freeze.ts. */
  repeatedMoving: 15,
  stepX: 16,
  stepY: 17,
  unrepeatedS: 18,
  longestMovingS: 19,
  repeatsStanding: 20,
  /** Running median of how far its reports are from where the track expected them, metres; see noise.ts. */
  innovationM: 21,
  count: 22,
} as const;

/**
 * Everything known of one performer; belongs to `observe` and `predict`. All state lies in `memory`, so that going
 * back in time is one copy; the other arrays are views of it or scratch.
 */
export interface Track {
  readonly options: TrackingOptions;
  readonly trackerCount: number;
  /** For each tracker, how it is worn. */
  readonly fits: readonly TrackerFit[];
  /** Some tracker has a mounting offset across the floor. */
  readonly hasFloorOffset: boolean;
  readonly memory: Float64Array;
  /** View of `memory`, see SLOT. */
  readonly numbers: Float64Array;
  /** View of `memory`, see TRACKER. */
  readonly trackers: Float64Array;
  /** x and y together, z apart. */
  readonly floor: Bank;
  readonly height: Bank;
  readonly history: History;
  /** Why the last report was or wasn't believed. */
  readonly last: Assessment & { verdict: Verdict };
  readonly scratchPool: ScratchPool;
  readonly scratch: Scratch;
}

/** What the present report says: see measure.ts. */
interface Measured extends Outlying {
  /** Where it puts the performer: x, y; and z. */
  readonly place: Float64Array;
  readonly height: Float64Array;
  /** Its white noise as a variance along one axis, m^2. */
  floorM2: number;
  heightM2: number;
}

/** Scratch to compute in, so that no report allocates anything. */
interface Scratch {
  readonly floor: BankScratch;
  readonly vertical: BankScratch;
  readonly measured: Measured;
  readonly assessment: Assessment;
  readonly heightAssessment: Assessment;
  /** The report being run again. */
  readonly again: Sighting;
}

/** Scratch by number of trackers, shared by tracks with the same options; see BankScratch. */
export type ScratchPool = Map<number, Scratch>;

function scratchFor(
  scratchPool: ScratchPool,
  options: TrackingOptions,
  trackerCount: number,
): Scratch {
  const there = scratchPool.get(trackerCount);
  if (there !== undefined) return there;
  const { regimes, verticalRegimes } = options;
  const scratch: Scratch = {
    floor: createBankScratch(regimes, 2, trackerCount),
    vertical: createBankScratch(verticalRegimes, 1, trackerCount),
    measured: {
      place: new Float64Array(2),
      height: new Float64Array(1),
      floorM2: 0,
      heightM2: 0,
      outlierPrior: 0,
      outlierM2: 0,
    },
    assessment: createAssessment(),
    heightAssessment: createAssessment(),
    again: { tracker: 0, timeS: 0, arrivalS: 0, x: 0, y: 0, z: 0, quality: 1 },
  };
  scratchPool.set(trackerCount, scratch);
  return scratch;
}

/**
 * @param fits one for each tracker; missing ones have no offset and the usual noise
 * @param scratchPool shared with other tracks that have the same options
 */
export function createTrack(
  options: TrackingOptions,
  trackerCount: number,
  fits: readonly TrackerFit[] = [],
  scratchPool: ScratchPool = new Map(),
): Track {
  const scratch = scratchFor(scratchPool, options, trackerCount);
  const headLength = SLOT.count + TRACKER.count * trackerCount;
  const floorLength = bankLength(options.regimes.length, 2, trackerCount);
  const heightLength = bankLength(options.verticalRegimes.length, 1, trackerCount);
  const memory = new Float64Array(headLength + floorLength + heightLength);
  const track: Track = {
    options,
    trackerCount,
    fits: Array.from({ length: trackerCount }, (_, k) => fits[k] ?? PLAIN_FIT),
    hasFloorOffset: fits.some(({ forwardM, leftM }) => forwardM !== 0 || leftM !== 0),
    memory,
    numbers: memory.subarray(0, SLOT.count),
    trackers: memory.subarray(SLOT.count, headLength),
    floor: createBank(options.regimes, 2, trackerCount, memory, headLength, scratch.floor),
    height: createBank(
      options.verticalRegimes,
      1,
      trackerCount,
      memory,
      headLength + floorLength,
      scratch.vertical,
    ),
    history: createHistory(options.historyCount, memory.length),
    // Each by its name: with a spread object, V8 looks up each store anew, several for each report.
    last: { association: 0, nis: 0, innovationM: 0, varianceM2: 0, verdict: 'started' },
    scratchPool,
    scratch,
  };
  forget(track);
  return track;
}

/** As if nothing had ever been seen. */
export function forget(track: Track): void {
  track.memory.fill(0);
  track.numbers[SLOT.candidateSinceS] = Number.NaN;
  track.numbers[SLOT.verticalSinceS] = Number.NaN;
  for (let k = 0; k < track.trackerCount; k++) {
    const at = k * TRACKER.count;
    track.trackers[at + TRACKER.lastS] = Number.NaN;
    track.trackers[at + TRACKER.beforeS] = Number.NaN;
    track.trackers[at + TRACKER.repeatedSinceS] = Number.NaN;
  }
  forgetHistory(track.history);
}

export function hasStarted(track: Readonly<Track>): boolean {
  return track.numbers[SLOT.started] === 1;
}

/** Probability of each motion regime, by name: for display, not for the tick. */
export function regimeShares({ floor }: Readonly<Track>): Record<string, number> {
  return Object.fromEntries(floor.regimes.map(({ name }, m) => [name, floor.weight[m] ?? 0]));
}
