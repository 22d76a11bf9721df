import type { AreaOptions } from '../../stage/area.js';

/** How far a zone reaches along a direction of the plan: from `fromM` to `toM` times the unit vector. */
export interface ZoneExtent {
  readonly directionX: number;
  readonly directionY: number;
  readonly fromM: number;
  readonly toM: number;
}

/** @param degrees anticlockwise from x */
export function extentAlong({ shape }: AreaOptions, degrees: number): ZoneExtent {
  const angle = (degrees * Math.PI) / 180;
  const [directionX, directionY] = [Math.cos(angle), Math.sin(angle)];
  const along = (x: number, y: number) => x * directionX + y * directionY;
  if (shape.kind === 'circle') {
    const middleM = along(shape.centre.x, shape.centre.y);
    const { radiusM } = shape;
    return { directionX, directionY, fromM: middleM - radiusM, toM: middleM + radiusM };
  }
  const corners = shape.points.map(([x, y]) => along(x, y));
  return { directionX, directionY, fromM: Math.min(...corners), toM: Math.max(...corners) };
}
