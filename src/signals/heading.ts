import { type Doubts, type People, restOn, STANDING } from './doubt.js';
import { angleBetween } from './geometry.js';
import { betweenM, isPlaceLost, type Place } from './places.js';
import { type Ranges, setRange } from './ranges.js';
import type { Scene } from './scene.js';

/** How far somebody's direction of travel is off a direction, or off the way to a place. */
export interface HeadingSource {
  readonly kind: 'heading';
  readonly performer: number;
  readonly towards: Place | undefined;
  readonly directionX: number;
  readonly directionY: number;
  /** Of the last movement that had a direction; NaN before. */
  lastX: number;
  lastY: number;
}

/** Slower than this has no direction, m/s: the noise of a tracker at rest has one in every tick. */
const SLOWEST = 0.3;

export function lookHeading(
  source: HeadingSource,
  scene: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const { people } = scene;
  const { performer: p, towards } = source;
  const standing = restOn(doubts, at, people, p);
  const adrift = towards !== undefined && isPlaceLost(towards, people, doubts, at);
  if (standing === STANDING.lost || adrift) {
    setRange(ranges, at, 0, Math.PI);
    return;
  }
  if (standing === STANDING.known && speedOf(people, p) >= SLOWEST) {
    source.lastX = people.vx[p] as number;
    source.lastY = people.vy[p] as number;
  }
  const is = Number.isNaN(source.lastX) ? Math.PI : offTheWay(source, scene);
  setRange(ranges, at, is, is);
}

/** How far the last direction of travel is off the one asked about, radians. */
function offTheWay(
  { performer: p, towards, directionX, directionY, lastX, lastY }: HeadingSource,
  { people }: Scene,
): number {
  if (towards === undefined) return angleBetween(lastX, lastY, directionX, directionY);
  const [px, py] = [people.x[p] as number, people.y[p] as number];
  let [x, y] = [towards.x, towards.y];
  if (towards.kind === 'performers') {
    const nearest = nearestOf(towards.performers, people, p);
    if (nearest < 0) return Math.PI;
    [x, y] = [people.x[nearest] as number, people.y[nearest] as number];
  } else if (towards.area !== undefined) {
    const { minX, maxX, minY, maxY } = towards.area;
    // The middle of a zone: its nearest edge is another way with every step.
    x = (minX + maxX) / 2 + (towards.around < 0 ? 0 : (people.x[towards.around] as number));
    y = (minY + maxY) / 2 + (towards.around < 0 ? 0 : (people.y[towards.around] as number));
  }
  if (x === px && y === py) return 0;
  return angleBetween(lastX, lastY, x - px, y - py);
}

function nearestOf(performers: Int32Array, people: People, p: number): number {
  let [nearest, leastM] = [-1, Number.POSITIVE_INFINITY];
  for (const other of performers) {
    if (other === p || people.standing[other] !== STANDING.known) continue;
    const awayM = betweenM(people, p, other);
    if (awayM < leastM) [nearest, leastM] = [other, awayM];
  }
  return nearest;
}

export function speedOf({ vx, vy }: People, p: number): number {
  const [x, y] = [vx[p] as number, vy[p] as number];
  return Math.sqrt(x * x + y * y);
}
