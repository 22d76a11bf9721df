import { type Area, compileArea, signedDistanceM } from '../stage/area.js';
import { unreachable } from '../stage/unreachable.js';
import { type Doubts, type People, restOn, STANDING } from './doubt.js';
import type { PlacePlan } from './plan.js';
import type { SignalZone } from './scene.js';

/** The far end of a distance, or what somebody walks towards. */
export interface Place {
  readonly kind: 'performers' | 'point' | 'zone';
  readonly performers: Int32Array;
  readonly x: number;
  readonly y: number;
  readonly z: number | undefined;
  readonly area: Area | undefined;
  /** Whom the zone is around, -1 for nobody. */
  readonly around: number;
}

export function compilePlace(plan: PlacePlan, zones: readonly SignalZone[]): Place {
  const nowhere = { x: 0, y: 0, z: undefined, area: undefined, around: -1 };
  switch (plan.kind) {
    case 'performers':
      return { ...nowhere, kind: plan.kind, performers: Int32Array.from(plan.performers) };
    case 'point':
      return { ...nowhere, ...plan, z: plan.z, performers: new Int32Array(0) };
    case 'zone': {
      const zone = zones[plan.zone] as SignalZone;
      return {
        ...nowhere,
        kind: plan.kind,
        performers: new Int32Array(0),
        area: compileArea(zone.area),
        around: zone.around ?? -1,
      };
    }
    default:
      return unreachable(plan);
  }
}

/** Who the zone is around is lost: it may be anywhere, and anybody in it. */
export function isAdrift(doubts: Doubts, at: number, people: People, around: number): boolean {
  return around >= 0 && restOn(doubts, at, people, around) === STANDING.lost;
}

export function isAway(people: People, around: number): boolean {
  return around >= 0 && people.standing[around] === STANDING.away;
}

export function betweenM({ x, y }: People, a: number, b: number): number {
  const dx = (x[a] as number) - (x[b] as number);
  const dy = (y[a] as number) - (y[b] as number);
  return Math.sqrt(dx * dx + dy * dy);
}

/** From a performer to a point, or to the nearest edge of an area; metres, 0 inside. */
export function distanceTo({ area, around, x, y, z }: Place, people: People, p: number): number {
  const [px, py, pz] = [people.x[p] as number, people.y[p] as number, people.z[p] as number];
  if (area !== undefined) {
    const cx = around < 0 ? 0 : (people.x[around] as number);
    const cy = around < 0 ? 0 : (people.y[around] as number);
    return Math.max(0, signedDistanceM(area, px - cx, py - cy, pz));
  }
  const [dx, dy, dz] = [px - x, py - y, z === undefined ? 0 : pz - z];
  return Math.sqrt(dx * dx + dy * dy + dz * dz);
}

export function isPlaceLost(place: Place, people: People, doubts: Doubts, at: number): boolean {
  let isLost = isAdrift(doubts, at, people, place.around);
  for (const other of place.performers) {
    if (restOn(doubts, at, people, other) === STANDING.lost) isLost = true;
  }
  return isLost;
}
