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
