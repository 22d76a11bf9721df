import type { Show } from '../show/model/model.js';
import type { Vec3 } from '../stage/vector.js';
import { sightingsIn } from './reports.js';
import type { RehearsalScene } from './scenes/scene-file.js';

/** A report to send: a tracker is at a place on the stage. */
export interface PlayedReport {
  /** When it arrives, seconds from the start of the scene. */
  readonly atS: number;
  readonly tracker: string;
  /** Stage frame, metres. */
  readonly at: Readonly<Vec3>;
  /** Quality as the tracking system would give it, 0 to 1. */
  readonly quality: number;
}

/** What trackers would report in a scene, in the order of arrival. */
export function sceneReports(scene: RehearsalScene, show: Show): PlayedReport[] {
  return sightingsIn(scene, show)
    .map(({ tracker, arrivalS, at, quality }) => ({ tracker, atS: arrivalS, at, quality }))
    .sort((a, b) => a.atS - b.atS);
}
