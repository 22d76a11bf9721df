import type { Bounds } from '../stage/vector.js';
import type { AimNoise, Pose } from './aim-model.js';

/** How a fixture is to be solved. */
export interface FixtureOptions {
  readonly noise: AimNoise;
  /** Where the show has it now; undefined if it has no position there. */
  readonly now: Pose | undefined;
  /** Solve only the orientation: the position is known better than the samples could tell. */
  readonly keepPosition: boolean;
  /** Solve the trim of the tilt as well. */
  readonly trim: boolean;
  readonly bounds: Bounds;
}
