import type { Regime } from './motion.js';

/** How the error of one sensor behaves, along one axis. */
export interface NoiseOptions {
  /** Standard deviation of the part that is new with each report, metres. */
  readonly whiteM: number;
  /** Standard deviation of the part that wanders, metres. */
  readonly biasM: number;
  /** How long the wandering part lasts, seconds. */
  readonly biasMemoryS: number;
}

export interface OutlierOptions {
  /** Bursts of outliers a second. */
  readonly burstsPerS: number;
  /** Mean length of a burst, seconds. */
  readonly burstS: number;
  /** Spread of the outliers along one axis, metres. */
  readonly spreadM: number;
}

/**
 * How one tracker is worn, in the frame of the body: forward along the heading, left of it, up. From the performer's
 * tracked point to the tracker.
 */
export interface TrackerFit {
  readonly forwardM: number;
  readonly leftM: number;
  readonly upM: number;
  /** Its noise as a multiple of the performer's `whiteM` and `biasM`. */
  readonly noiseShare: number;
}

export const PLAIN_FIT: TrackerFit = { forwardM: 0, leftM: 0, upM: 0, noiseShare: 1 };

export interface TrackingOptions {
  readonly horizontal: NoiseOptions;
  readonly vertical: NoiseOptions;
  /** Motion regimes across the floor. */
  readonly regimes: readonly Regime[];
  /** Motion regimes up and down. */
  readonly verticalRegimes: readonly Regime[];
  /** How long a performer stays in a regime before the next draw, seconds. */
  readonly regimeMemoryS: number;
  readonly outliers: OutlierOptions;
  /** The running share of outliers covers about this long, seconds. */
  readonly outlierMemoryS: number;
  /** A report that belongs to the track with less than this probability is gated. */
  readonly gateProbability: number;
  /** A place that gated reports insist on for this long is believed, seconds. */
  readonly reacquireS: number;
  /** Fastest plausible movement, metres a second: ties gated reports into one place. */
  readonly maxSpeedMps: number;
  /** Reports that repeat to the last bit for longer come from a hung feed, whatever its habit, seconds. */
  readonly frozenS: number;
  /** The light makes up for what a report corrects within about this time, seconds: it doesn't jerk with each. */
  readonly blendS: number;
  /** If the median innovation exceeds the declared noise, the region is wider by this multiple of the excess. */
  readonly unexplainedShare: number;
  /** After a silence of this length nothing is known any more: the next report begins the track anew, seconds. */
  readonly forgetS: number;
  /** Uncertainty of a report's own time, seconds: adds to the error along the movement, by the speed. */
  readonly timingS: number;
  /** Error of the sensor that filtering can't reveal (survey, antenna height, body), metres along one axis. */
  readonly hiddenBiasM: number;
  /** Late reports are placed at their own time if no older than this, seconds. */
  readonly historyS: number;
  /** The most reports that are run again for one late report. */
  readonly historyCount: number;
}

/** The wandering part of the noise beside the white one. */
const BIAS_SHARE = 0.4;
const BIAS_MEMORY_S = 0.2;

function noiseOf(whiteM: number): NoiseOptions {
  return { whiteM, biasM: BIAS_SHARE * whiteM, biasMemoryS: BIAS_MEMORY_S };
}

/**
 * One set for every sensor and performer, found by search on the recordings of
 * tests/fixtures/data/tracking; docs/concepts/tracking.md says how far each may be changed. `whiteM` is far above the
 * report-to-report noise of good radio (0.02-0.03 m) on purpose: an error that wanders more slowly than a body moves
 * can't be told from movement, and a larger white part handles it better than a longer bias.
 */
export const DEFAULT_TRACKING_OPTIONS: TrackingOptions = {
  horizontal: noiseOf(0.15),
  vertical: noiseOf(0.15),
  regimes: [
    {
      name: 'standing',
      speedMps: 0.07,
      speedShare: 0.6,
      memoryS: 0.1,
      brakingSpm2: 0,
      share: 0.03,
    },
    { name: 'walking', speedMps: 0.8, speedShare: 0.6, memoryS: 4, brakingSpm2: 0.15, share: 0.3 },
    { name: 'agile', speedMps: 2.7, speedShare: 0.6, memoryS: 0.5, brakingSpm2: 0, share: 0.67 },
  ],
  verticalRegimes: [
    { name: 'level', speedMps: 0.05, speedShare: 0.6, memoryS: 0.1, brakingSpm2: 0, share: 0.3 },
    { name: 'rising', speedMps: 0.6, speedShare: 0.6, memoryS: 0.4, brakingSpm2: 0, share: 0.7 },
  ],
  regimeMemoryS: 2,
  outliers: { burstsPerS: 1, burstS: 1.4, spreadM: 1 },
  outlierMemoryS: 0.5,
  gateProbability: 0.05,
  reacquireS: 0.7,
  // Peak of sprinters 9.46 m/s (di Prampero et al. 2005), rounded up.
  maxSpeedMps: 10,
  // A performer who runs is anywhere on a small stage by then. Common practice.
  forgetS: 3,
  frozenS: 60,
  blendS: 0.03,
  unexplainedShare: 3.8,
  timingS: 0.03,
  hiddenBiasM: 0.04,
  historyS: 0.5,
  historyCount: 32,
};

/** The default options for a sensor whose reports scatter by `whiteM` from one to the next. */
export function optionsForNoise(whiteM: number): TrackingOptions {
  return { ...DEFAULT_TRACKING_OPTIONS, horizontal: noiseOf(whiteM), vertical: noiseOf(whiteM) };
}
