/** One position report of one tracker. */
export interface Sighting {
  /** Index among the performer's trackers. */
  tracker: number;
  /** When it was measured, monotonic seconds. */
  timeS: number;
  /** When it arrived, monotonic seconds. */
  arrivalS: number;
  /** Stage frame, metres. */
  x: number;
  y: number;
  z: number;
  /** What the sensor thinks of it, 0..1. */
  quality: number;
}

/** Where a performer is estimated to be. Stage frame, metres, metres a second. */
export interface Estimate {
  x: number;
  y: number;
  z: number;
  vx: number;
  vy: number;
  vz: number;
  /** Standard deviations across the floor, in the direction of (vx, vy) and square to it, metres. */
  sigmaAlongM: number;
  sigmaAcrossM: number;
  /**
   * What the confidence goes by: standard deviation along one axis across the floor, and of z, metres. It leaves out
   * what the two above add for recent outliers, otherwise good moments would be lost.
   */
  sigmaHorizontalM: number;
  sigmaVerticalM: number;
  /** Time since the last accepted report was measured, seconds. */
  ageS: number;
}

export function createEstimate(): Estimate {
  return {
    x: 0,
    y: 0,
    z: 0,
    vx: 0,
    vy: 0,
    vz: 0,
    sigmaAlongM: 0,
    sigmaAcrossM: 0,
    sigmaHorizontalM: 0,
    sigmaVerticalM: 0,
    ageS: 0,
  };
}

/** What a track made of a report. */
export type Verdict =
  /** The first of a track. */
  | 'started'
  | 'accepted'
  /** Late, but within the history: placed at its own time, and later reports run again. */
  | 'replayed'
  /** Improbable: kept out of the track. */
  | 'gated'
  /** From a hung feed: it repeats itself as it normally never does, and counts as silence. */
  | 'frozen'
  /** The track began anew at another place. */
  | 'reacquired'
  /** Older than the history reaches: dropped. */
  | 'out-of-order'
  /** The same tracker, time and place as one already seen: dropped. */
  | 'duplicate'
  /** Not a finite place and time within reason, or no such tracker: dropped. */
  | 'invalid';
