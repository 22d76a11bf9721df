import type { PlanPoint } from '../stage/area.js';

/** A line of several pieces on the plan, compiled: for each piece its start, its way, its length, and the way before it. */
export interface Line {
  readonly pieces: Float64Array;
  /** Metres from its start to its end. */
  readonly lengthM: number;
}

const PIECE = { x: 0, y: 1, dx: 2, dy: 3, lengthM: 4, beforeM: 5, size: 6 } as const;

/** Expects at least two points. */
export function compileLine(points: readonly PlanPoint[]): Line {
  const pieces = new Float64Array(PIECE.size * (points.length - 1));
  let beforeM = 0;
  for (let i = 0; i + 1 < points.length; i++) {
    const [x, y] = points[i] as PlanPoint;
    const [toX, toY] = points[i + 1] as PlanPoint;
    const lengthM = Math.hypot(toX - x, toY - y);
    pieces.set([x, y, toX - x, toY - y, lengthM, beforeM], PIECE.size * i);
    beforeM += lengthM;
  }
  return { pieces, lengthM: beforeM };
}

/**
 * How far along the line its nearest point to another is, metres from the start: the foot of the perpendicular on the
 * nearest piece, held to its ends. Of several as near, the first.
 */
export function alongLine({ pieces }: Line, x: number, y: number): number {
  let nearestSquared = Number.POSITIVE_INFINITY;
  let alongM = 0;
  for (let at = 0; at < pieces.length; at += PIECE.size) {
    const fromX = x - (pieces[at + PIECE.x] as number);
    const fromY = y - (pieces[at + PIECE.y] as number);
    const dx = pieces[at + PIECE.dx] as number;
    const dy = pieces[at + PIECE.dy] as number;
    const lengthM = pieces[at + PIECE.lengthM] as number;
    const share =
      lengthM > 0 ? Math.min(1, Math.max(0, (fromX * dx + fromY * dy) / (lengthM * lengthM))) : 0;
    const [missX, missY] = [fromX - share * dx, fromY - share * dy];
    const squared = missX * missX + missY * missY;
    if (squared >= nearestSquared) continue;
    nearestSquared = squared;
    alongM = (pieces[at + PIECE.beforeM] as number) + share * lengthM;
  }
  return alongM;
}

/** Between two directions, radians, 0 to pi. Neither may be without length. */
export function angleBetween(ax: number, ay: number, bx: number, by: number): number {
  return Math.abs(Math.atan2(ax * by - ay * bx, ax * bx + ay * by));
}
