import type { AreaOptions, PlanPoint } from '../stage/area.js';

/** Corners of a circle that is drawn as a polygon. */
const CORNERS = 48;

/** A rectangle on the plan, metres. */
export interface PlanFrame {
  readonly x0: number;
  readonly y0: number;
  readonly x1: number;
  readonly y1: number;
}

export function outlineOf({ shape }: AreaOptions): readonly PlanPoint[] {
  if (shape.kind === 'polygon') return shape.points;
  const { centre, radiusM } = shape;
  return Array.from({ length: CORNERS }, (_, i): PlanPoint => {
    const angle = (2 * Math.PI * i) / CORNERS;
    return [centre.x + radiusM * Math.cos(angle), centre.y + radiusM * Math.sin(angle)];
  });
}

/** What of a polygon lies in the frame; empty where nothing does. Sutherland and Hodgman (1974). */
export function clipped(points: readonly PlanPoint[], frame: PlanFrame): readonly PlanPoint[] {
  const sides: readonly ((point: PlanPoint) => number)[] = [
    ([x]) => x - frame.x0,
    ([x]) => frame.x1 - x,
    ([, y]) => y - frame.y0,
    ([, y]) => frame.y1 - y,
  ];
  return sides.reduce<readonly PlanPoint[]>((polygon, inside) => {
    const kept: PlanPoint[] = [];
    polygon.forEach((to, i) => {
      const from = polygon.at(i - 1) as PlanPoint;
      const [a, b] = [inside(from), inside(to)];
      if (a < 0 !== b < 0) {
        const share = a / (a - b);
        kept.push([from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])]);
      }
      if (b >= 0) kept.push(to);
    });
    return kept;
  }, points);
}

/** Places within a polygon for its name: the mean of its corners first, then others that are in it, the nearest first. */
export function placesWithin(points: readonly PlanPoint[]): PlanPoint[] {
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  const mean = (all: readonly number[]) => all.reduce((sum, one) => sum + one, 0) / all.length;
  const [x0, y0] = [Math.min(...xs), Math.min(...ys)];
  const [wide, deep] = [Math.max(...xs) - x0, Math.max(...ys) - y0];
  const middle: PlanPoint = [mean(xs), mean(ys)];
  const grid = Array.from(
    { length: 81 },
    (_, i): PlanPoint => [
      x0 + (wide * ((i % 9) + 0.5)) / 9,
      y0 + (deep * (Math.floor(i / 9) + 0.5)) / 9,
    ],
  ).filter(one => isIn(points, one));
  const off = ([x, y]: PlanPoint) => Math.hypot(x - middle[0], y - middle[1]);
  return [...(isIn(points, middle) ? [middle] : []), ...grid.sort((a, b) => off(a) - off(b))];
}

/** By the even-odd rule. */
export function isIn(points: readonly PlanPoint[], [x, y]: PlanPoint): boolean {
  let inside = false;
  points.forEach(([bx, by], i) => {
    const [ax, ay] = points.at(i - 1) as PlanPoint;
    if (ay > y !== by > y && x < ax + ((y - ay) / (by - ay)) * (bx - ax)) inside = !inside;
  });
  return inside;
}
