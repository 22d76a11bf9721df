import { aimAt, compileHead, type HeadOptions, panTilt } from '../../fixtures/kinematics.js';
import { toDegrees } from '../../stage/units.js';
import type { Aimed } from '../palettes/palette-plans.js';
import type { PointFile } from '../schema/palettes.js';
import type { ShowFile } from '../schema/schema.js';

type Place = readonly [number, number, number];

/** Of a file, what a target may name. */
export type TargetsFile = Pick<ShowFile, 'palettes' | 'fixtures'>;

export function placeOf(point: PointFile): Place {
  return Array.isArray(point) ? point : point.at;
}

/** A point of the palette, or where a fixture is; undefined where there is none of that name, or it has no position. */
export function targetPlace({ palettes, fixtures }: TargetsFile, name: string): Place | undefined {
  if (Object.hasOwn(palettes.points, name)) return placeOf(palettes.points[name] as PointFile);
  return Object.hasOwn(fixtures, name) ? fixtures[name]?.position : undefined;
}

export function aimedAt(head: HeadOptions, [x, y, z]: Place): Aimed {
  const { pan, tilt, missedBy } = aimAt(compileHead(head), x, y, z, 0, 0, panTilt());
  return { panDeg: toDegrees(pan), tiltDeg: toDegrees(tilt), missedByDeg: toDegrees(missedBy) };
}
