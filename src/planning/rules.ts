import type { PlanPoint } from '../stage/area.js';
import { type Bounds, distance, distanceOutside, type Vec3 } from '../stage/vector.js';
import type { PlanOptions } from './options.js';
import { holds } from './solid.js';
import { placeAt, type Survey } from './survey.js';
import { stageWords } from './words.js';

/**
 * Rules of thumb of the trade, from practitioners and without a published source: each is common
 * practice, and a plan that breaks one can still be right.
 */
export interface RuleResult {
  readonly rule: RuleName;
  /** `fail` only where a performer would have no position at all. */
  readonly state: 'ok' | 'warn' | 'fail';
  /** What was found, one sentence. */
  readonly found: string;
}

export const RULES = {
  view: 'at least 3 anchors in view everywhere, preferably 4',
  spread: 'performers always between the anchors',
  height: 'anchors at head height or higher',
  edge: 'anchors round the edge, not over the middle',
  lights: 'about 0.6 m (2 ft) away from a light',
  figure: 'not on a regular figure',
  cube: 'all anchors within a cube of 30 m',
  standing: 'no anchor inside an obstacle',
} as const;
export type RuleName = keyof typeof RULES;

const BETTER = 4;
export const LIGHT_CLEARANCE_M = 0.6;
export const CUBE_M = 30;
/** An anchor over the stage is still at its edge within so much of the shorter side. */
const EDGE_SHARE = 0.15;
/** Anchors count as mirror images of each other within this. */
const FIGURE_M = 0.3;
/** Shares above this are written as all. */
const NEARLY_ALL = 0.9995;

export function checkRules(options: PlanOptions, survey: Survey): RuleResult[] {
  return [
    view(options, survey),
    spread(options, survey),
    height(options),
    edge(options),
    lights(options),
    figure(options.anchors.map(one => one.position)),
    cube(options),
    standing(options),
  ];
}

function view({ bounds }: PlanOptions, { grid, open, inView }: Survey): RuleResult {
  const fewest = (map: Uint8Array) => {
    let at = -1;
    for (let i = 0; i < map.length; i++) {
      if (open[i] === 1 && (at < 0 || (map[i] ?? 0) < (map[at] ?? 0))) at = i;
    }
    const place = placeAt(grid, Math.max(at, 0), { x: 0, y: 0, z: 0 });
    return { count: at < 0 ? 0 : (map[at] ?? 0), where: described(bounds, place) };
  };
  const [clear, own] = [fewest(inView.clear), fewest(inView.own.worst)];
  const share = shareOf(open, i => (inView.own.worst[i] ?? 0) >= BETTER);
  const found =
    clear.count < 3
      ? `only ${clear.count} with nobody in the way, ${clear.where}.`
      : own.count < 3
        ? `down to ${own.count} when a performer turns their back, ${own.where}.`
        : `at least ${own.count} whichever way a performer faces; ${BETTER} or more on ${percent(share)} of the stage.`;
  const state = clear.count < 3 ? 'fail' : own.count < BETTER ? 'warn' : 'ok';
  return { rule: 'view', state, found };
}

function spread({ anchors }: PlanOptions, { grid, open }: Survey): RuleResult {
  const hull = convexHull(anchors.map(({ position }) => [position.x, position.y]));
  const at = { x: 0, y: 0, z: 0 };
  const share = shareOf(open, i => {
    placeAt(grid, i, at);
    return isInside(hull, at.x, at.y);
  });
  return {
    rule: 'spread',
    state: share >= NEARLY_ALL ? 'ok' : 'warn',
    found: `${percent(share)} of the stage lies between the anchors.`,
  };
}

function height({ anchors, wearers }: PlanOptions): RuleResult {
  const heads = Math.max(...wearers.map(one => one.heightM));
  const low = anchors.filter(({ position }) => position.z < heads);
  return {
    rule: 'height',
    state: low.length === 0 ? 'ok' : 'warn',
    found:
      low.length === 0
        ? `the lowest is at ${metres(Math.min(...anchors.map(one => one.position.z)))}, heads at ${metres(heads)}.`
        : `below ${metres(heads)}: ${low.map(one => `${one.name} (${metres(one.position.z)})`).join(', ')}.`,
  };
}

function edge({ anchors, bounds: { min, max } }: PlanOptions): RuleResult {
  const mostM = EDGE_SHARE * Math.min(max.x - min.x, max.y - min.y);
  const over = anchors.filter(({ position: { x, y } }) => {
    return Math.min(x - min.x, max.x - x, y - min.y, max.y - y) > mostM;
  });
  return {
    rule: 'edge',
    state: over.length === 0 ? 'ok' : 'warn',
    found:
      over.length === 0
        ? 'none hangs over the middle of the stage.'
        : `more than ${metres(mostM)} inside the edge: ${over.map(one => one.name).join(', ')}.`,
  };
}

function lights({ anchors, lights: all }: PlanOptions): RuleResult {
  const near = anchors.flatMap(anchor =>
    all
      .map(light => ({ anchor, light, apartM: distance(anchor.position, light.position) }))
      .filter(({ apartM }) => apartM < LIGHT_CLEARANCE_M),
  );
  const known = `${all.length} ${all.length === 1 ? 'light' : 'lights'} with a position`;
  return {
    rule: 'lights',
    state: near.length === 0 ? 'ok' : 'warn',
    found:
      near.length === 0
        ? `${known}, none too near.`
        : `${near.map(({ anchor, light, apartM }) => `${anchor.name} is ${metres(apartM)} from ${light.name}`).join(', ')}.`,
  };
}

function cube({ anchors }: PlanOptions): RuleResult {
  const span = (axis: 'x' | 'y' | 'z') => {
    const values = anchors.map(one => one.position[axis]);
    return Math.max(...values) - Math.min(...values);
  };
  const spans = [span('x'), span('y'), span('z')];
  return {
    rule: 'cube',
    state: Math.max(...spans) <= CUBE_M ? 'ok' : 'warn',
    found: `they span ${spans.map(value => value.toFixed(1)).join(' x ')} m.`,
  };
}

function standing({ anchors, obstacles }: PlanOptions): RuleResult {
  const inside = anchors.flatMap(({ name, position }) =>
    obstacles
      .filter(({ solid }) => holds(solid, position))
      .map(obstacle => `${name} in ${obstacle.name}`),
  );
  return {
    rule: 'standing',
    state: inside.length === 0 ? 'ok' : 'warn',
    found: inside.length === 0 ? 'none.' : `${inside.join(', ')}.`,
  };
}

/** A layout that is its own mirror image sees two places alike when signals are few. */
function figure(positions: readonly Readonly<Vec3>[]): RuleResult {
  const count = positions.length;
  const middle = (axis: 'x' | 'y') => positions.reduce((sum, one) => sum + one[axis], 0) / count;
  const [x, y] = [middle('x'), middle('y')];
  const same = (move: (p: Readonly<Vec3>) => Vec3) =>
    positions.every(one => positions.some(other => distance(move(one), other) <= FIGURE_M));
  const found = [
    ...(same(p => ({ ...p, x: 2 * x - p.x })) ? ['stage right mirrors stage left'] : []),
    ...(same(p => ({ ...p, y: 2 * y - p.y })) ? ['downstage mirrors upstage'] : []),
    ...(same(p => ({ x: 2 * x - p.x, y: 2 * y - p.y, z: p.z })) ? ['half a turn'] : []),
    ...[3, 4, 5]
      .filter(turns => count >= turns && same(p => turned(p, x, y, (2 * Math.PI) / turns)))
      .map(turns => `a turn of ${360 / turns} degrees`),
  ];
  return {
    rule: 'figure',
    state: found.length === 0 ? 'ok' : 'warn',
    found:
      found.length === 0
        ? 'no symmetry.'
        : `symmetric: ${found.join(', ')}. Move one or two anchors by a metre, or change their heights.`,
  };
}

function turned({ x, y, z }: Readonly<Vec3>, cx: number, cy: number, by: number): Vec3 {
  const [dx, dy, c, s] = [x - cx, y - cy, Math.cos(by), Math.sin(by)];
  return { x: cx + c * dx - s * dy, y: cy + s * dx + c * dy, z };
}

/** Andrew's monotone chain (1979), anticlockwise. */
export function convexHull(points: readonly PlanPoint[]): PlanPoint[] {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const chain = (list: readonly PlanPoint[]) => {
    const hull: PlanPoint[] = [];
    for (const point of list) {
      for (;;) {
        const [a, b] = [hull.at(-2), hull.at(-1)];
        if (a === undefined || b === undefined || cross(a, b, point) > 0) break;
        hull.pop();
      }
      hull.push(point);
    }
    return hull.slice(0, -1);
  };
  return [...chain(sorted), ...chain(sorted.reverse())];
}

function isInside(hull: readonly PlanPoint[], x: number, y: number): boolean {
  return (
    hull.length > 2 &&
    hull.every((corner, i) => cross(corner, hull[(i + 1) % hull.length] ?? corner, [x, y]) >= 0)
  );
}

function cross(a: PlanPoint, b: PlanPoint, p: PlanPoint): number {
  return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
}

/** Share of the places where somebody can stand for which it holds. */
export function shareOf(open: Uint8Array, is: (index: number) => boolean): number {
  let [all, those] = [0, 0];
  for (let i = 0; i < open.length; i++) {
    if (open[i] !== 1) continue;
    all++;
    if (is(i)) those++;
  }
  return all === 0 ? 0 : those / all;
}

export function described(bounds: Bounds, { x, y }: Readonly<Vec3>): string {
  const words = stageWords(bounds, x, y);
  const off = distanceOutside(bounds, x, y, bounds.min.z) > 0 ? 'off ' : '';
  return `${off}${words} (${x.toFixed(1)}, ${y.toFixed(1)})`;
}

export function percent(share: number): string {
  // Not quite all is not all.
  return `${share >= NEARLY_ALL ? 100 : Math.min(99, Math.round(100 * share))} %`;
}

function metres(value: number): string {
  return `${value.toFixed(2)} m`;
}
