import type { AreaOptions, PlanPoint } from './area.js';

/**
 * Edges nearer than this touch: a micrometre, far below what anybody measures on a stage and far
 * above the rounding of coordinates in metres.
 */
const TOUCH_M = 1e-6;

export interface SelfCrossing {
  /** Index of an edge; edge i runs from point i to the next, the last edge back to the first point. */
  readonly first: number;
  /** Index of the edge that it meets, above `first`. */
  readonly second: number;
  readonly kind: 'no-length' | 'folds-back' | 'crosses-or-touches';
}

/**
 * A pair of edges that makes a polygon other than simple: first of all an edge without length (a point
 * given twice in a row, or the first again at the end) with its neighbour, then two neighbours of which
 * one folds back on the other (a spike), then two others that cross or touch.
 */
export function selfCrossing(points: readonly PlanPoint[]): SelfCrossing | undefined {
  return meetingNeighbours(points) ?? meetingOthers(points);
}

function meetingNeighbours(points: readonly PlanPoint[]): SelfCrossing | undefined {
  const count = points.length;
  for (let edge = 0; edge < count; edge++) {
    const next = (edge + 1) % count;
    const [a, corner, b] = [at(points, edge), at(points, next), at(points, next + 1)];
    const kind = noLength(a, corner, b)
      ? 'no-length'
      : folds(a, corner, b)
        ? 'folds-back'
        : undefined;
    if (kind !== undefined && edge !== next) {
      return { first: Math.min(edge, next), second: Math.max(edge, next), kind };
    }
  }
  return undefined;
}

function meetingOthers(points: readonly PlanPoint[]): SelfCrossing | undefined {
  const count = points.length;
  for (let first = 0; first < count; first++) {
    // The last edge is a neighbour of the first one.
    const end = first === 0 ? count - 1 : count;
    for (let second = first + 2; second < end; second++) {
      const [a, b] = [at(points, first), at(points, first + 1)];
      const [c, d] = [at(points, second), at(points, second + 1)];
      if (touches(a, b, c, d) || crosses(a, b, c, d)) {
        return { first, second, kind: 'crosses-or-touches' };
      }
    }
  }
  return undefined;
}

/** A point by its index, counted round and round. */
function at(points: readonly PlanPoint[], index: number): PlanPoint {
  return points[index % points.length] ?? [0, 0];
}

function noLength(a: PlanPoint, corner: PlanPoint, b: PlanPoint): boolean {
  return distance(a, corner) <= TOUCH_M || distance(corner, b) <= TOUCH_M;
}

/** Edges that share a corner fold back when the other end of one lies on the other. */
function folds(a: PlanPoint, corner: PlanPoint, b: PlanPoint): boolean {
  return distanceToEdge(a, corner, b) <= TOUCH_M || distanceToEdge(b, a, corner) <= TOUCH_M;
}

function touches(a: PlanPoint, b: PlanPoint, c: PlanPoint, d: PlanPoint): boolean {
  return (
    distanceToEdge(a, c, d) <= TOUCH_M ||
    distanceToEdge(b, c, d) <= TOUCH_M ||
    distanceToEdge(c, a, b) <= TOUCH_M ||
    distanceToEdge(d, a, b) <= TOUCH_M
  );
}

function crosses(a: PlanPoint, b: PlanPoint, c: PlanPoint, d: PlanPoint): boolean {
  return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
}

/** 1 where `p` is left of the line from a to b, -1 right of it, 0 on it. */
function side(a: PlanPoint, b: PlanPoint, p: PlanPoint): number {
  return Math.sign((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]));
}

function distance(a: PlanPoint, b: PlanPoint): number {
  return Math.hypot(b[0] - a[0], b[1] - a[1]);
}

function distanceToEdge(p: PlanPoint, a: PlanPoint, b: PlanPoint): number {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const lengthSquared = dx * dx + dy * dy;
  const along = lengthSquared > 0 ? ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / lengthSquared : 0;
  const share = Math.min(1, Math.max(0, along));
  return distance(p, [a[0] + share * dx, a[1] + share * dy]);
}

/** Area in square metres by the shoelace formula, whichever way round the points run. */
export function polygonArea(points: readonly PlanPoint[]): number {
  const [originX, originY] = points[0] ?? [0, 0];
  let [lastX, lastY] = points.at(-1) ?? [0, 0];
  let twice = 0;
  for (const [x, y] of points) {
    // Taken from the first point, so that a polygon far from the origin loses no digits.
    twice += (lastX - originX) * (y - originY) - (x - originX) * (lastY - originY);
    [lastX, lastY] = [x, y];
  }
  return Math.abs(twice) / 2;
}

/** An upright rectangle on the plan, metres: both ends of each side, the lower first. */
export interface Rectangle {
  readonly x: readonly [from: number, to: number];
  readonly y: readonly [from: number, to: number];
}

/** Whether the whole shape of an area lies within the rectangle, its sides included; heights aside. */
export function isInsideBounds({ shape }: AreaOptions, { x, y }: Rectangle): boolean {
  const holds = (px: number, py: number, margin: number) =>
    px - margin >= x[0] && px + margin <= x[1] && py - margin >= y[0] && py + margin <= y[1];
  switch (shape.kind) {
    case 'circle':
      return holds(shape.centre.x, shape.centre.y, shape.radiusM);
    case 'polygon':
      return shape.points.every(([px, py]) => holds(px, py, 0));
  }
}
