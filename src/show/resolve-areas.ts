import type { AreaOptions } from '../stage/area.js';
import type { ExitFile } from './schema.js';

/** The area of a zone or an exit in the stage's terms; undefined where it has no shape. */
export function areaOf(zone: Omit<ExitFile, 'label'>): AreaOptions | undefined {
  const height = zone.height && { fromM: zone.height[0], toM: zone.height[1] };
  const common = height === undefined ? {} : { height };
  if (zone.circle !== undefined) {
    const [x, y] = zone.circle.centre;
    return { shape: { kind: 'circle', centre: { x, y }, radiusM: zone.circle.radius }, ...common };
  }
  if (zone.polygon !== undefined) {
    return { shape: { kind: 'polygon', points: zone.polygon }, ...common };
  }
  return undefined;
}
