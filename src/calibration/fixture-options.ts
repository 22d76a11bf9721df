import type { Bounds } from '../stage/vector.js';
import type { AimNoise, Pose } from './aim-model.js';

/** How a fixture is to be solved. */
export interface FixtureOptions {
  readonly noise: AimNoise;
  /** Where the show has it today; undefined where it has no position. */
  readonly now: Pose | undefined;
  /** The position is known better than the samples tell: only the orientation is solved. */
  readonly keepPosition: boolean;
  /** Solve the trim of the tilt as well. */
  readonly trim: boolean;
  readonly bounds: Bounds;
}
