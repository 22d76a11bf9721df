import type { AreaOptions } from '../../stage/area.js';
import { vec3 } from '../../stage/vector.js';
import type { VolumeOptions } from '../../stage/volume.js';
import type { KeepOutFile, ZoneFile } from '../schema/schema.js';

/** The area of a zone or an exit in the stage's terms; undefined where it has no shape. */
export function areaOf(
  zone: Pick<ZoneFile, 'circle' | 'polygon' | 'height'>,
): AreaOptions | undefined {
  const height = zone.height && { fromM: zone.height[0], toM: zone.height[1] };
  const common = height === undefined ? {} : { height };
  if (zone.circle !== undefined) {
    // If it moves: relative to the performer it moves with.
    const [x, y] = 'centre' in zone.circle ? zone.circle.centre : [0, 0];
    return { shape: { kind: 'circle', centre: { x, y }, radiusM: zone.circle.radius }, ...common };
  }
  if (zone.polygon !== undefined) {
    return { shape: { kind: 'polygon', points: zone.polygon }, ...common };
  }
  return undefined;
}

/** Of a keep-out; undefined where it has no shape. */
export function volumeOf(keepOut: KeepOutFile): VolumeOptions | undefined {
  const { point, radius } = keepOut;
  if (point !== undefined && radius !== undefined) {
    return { kind: 'ball', centre: vec3(...point), radiusM: radius };
  }
  const area = areaOf(keepOut);
  return area && { kind: 'upright', area };
}
