import {
  createPresence,
  leavePresence,
  type Presence,
  stepPresence,
} from '../../mapping/presence.js';
import type { Show, ZonePlan } from '../../show/model/model.js';
import type { Nearby } from '../../signals/scene.js';
import { type Area, compileArea, signedDistanceM } from '../../stage/area.js';
import type { EngineEvent } from '../events/events.js';
import type { TrackedPerformer, Tracks } from '../reports/tracks.js';
import type { Watched, WatchedPerformer } from './watch.js';

/** Presence of performers in zones. */
export interface Presences {
  readonly zones: readonly ZonePresences[];
  /** For each zone [least x, most x, least y, most y]; nobody outside is present, metres. */
  readonly boxes: Float64Array;
  /** Where each performer is on the plan, for the check of all pairs. */
  readonly planX: Float64Array;
  readonly planY: Float64Array;
  /** For each zone and performer (zone * performers + performer) 1 if the presence may be above 0. */
  readonly near: Uint8Array;
  /** The same as a list. */
  readonly nearby: Nearby;
  /** Pairs in which somebody came in during this tick. */
  readonly entered: number[];
}

export interface ZonePresences {
  readonly plan: ZonePlan;
  readonly area: Area;
  /** One for each performer; those who aren't believed keep theirs. */
  readonly presences: readonly Presence[];
}

export function createPresences({ zones: plans, performers }: Show): Presences {
  const all = plans.map(
    (plan): ZonePresences => ({
      plan,
      area: compileArea(plan.area),
      presences: performers.map(() => createPresence()),
    }),
  );
  return {
    zones: all,
    boxes: Float64Array.from(all.flatMap(boxOf)),
    planX: new Float64Array(performers.length),
    planY: new Float64Array(performers.length),
    near: new Uint8Array(performers.length * all.length),
    nearby: {
      who: new Int32Array(performers.length * all.length),
      count: new Int32Array(all.length),
    },
    entered: [],
  };
}

/** The zone's box on the plan, widened by feather and hysteresis: presence is 0 outside it. */
function boxOf({ area, plan }: ZonePresences): [number, number, number, number] {
  const reachM = plan.edge.featherM + plan.edge.hysteresisM;
  return [area.minX - reachM, area.maxX + reachM, area.minY - reachM, area.maxY + reachM];
}

/** Estimates -> presence of each performer in each zone. Those who are not believed keep theirs. */
export function zones(
  all: Presences,
  tracks: Tracks,
  watched: Watched,
  events: EngineEvent[],
): void {
  const { boxes, near, nearby, planX: xs, planY: ys, entered } = all;
  const { performers } = tracks;
  const count = performers.length;
  if (entered.length > 0) entered.length = 0;
  for (let p = 0; p < count; p++) {
    const { estimate } = performers[p] as TrackedPerformer;
    const { follows, offStage } = watched.performers[p] as WatchedPerformer;
    // NaN is in no box and out of none. Somebody off stage is out of all.
    xs[p] = follows ? estimate.x : offStage ? Number.POSITIVE_INFINITY : Number.NaN;
    ys[p] = estimate.y;
  }
  for (let i = 0; i < all.zones.length; i++) {
    const { around } = (all.zones[i] as ZonePresences).plan;
    // In the frame of a moving zone. NaN if nobody knows where it is: everybody keeps their presence.
    const fromX = around === undefined ? 0 : originOf(xs[around] as number);
    const fromY = around === undefined ? 0 : (ys[around] as number);
    const [leastX, mostX] = [boxes[4 * i] as number, boxes[4 * i + 1] as number];
    const [leastY, mostY] = [boxes[4 * i + 2] as number, boxes[4 * i + 3] as number];
    const first = i * count;
    let nearbyCount = 0;
    for (let p = 0, pair = first; p < count; p++, pair++) {
      const x = (xs[p] as number) - fromX;
      const y = (ys[p] as number) - fromY;
      const inBox = x >= leastX && x <= mostX && y >= leastY && y <= mostY;
      // In a large house nearly all pairs: far now and far before, nothing to do.
      if (!inBox && near[pair] === 0) continue;
      const isKept = Number.isNaN(x);
      if (inBox || isKept) {
        nearby.who[first + nearbyCount] = p;
        nearbyCount += 1;
      }
      if (isKept) continue;
      near[pair] = inBox ? 1 : 0;
      const inside = look(
        all.zones[i] as ZonePresences,
        performers[p] as TrackedPerformer,
        p,
        x,
        y,
        inBox,
      );
      if (inside === undefined) continue;
      if (inside) entered.push(pair);
      const { plan } = all.zones[i] as ZonePresences;
      const { name } = performers[p] as TrackedPerformer;
      events.push({ kind: 'zone', performer: name, zone: plan.name, inside });
    }
    nearby.count[i] = nearbyCount;
  }
}

/** Somebody off stage is near nobody. */
function originOf(x: number): number {
  return x === Number.POSITIVE_INFINITY ? Number.NEGATIVE_INFINITY : x;
}

/** @returns whether they came in or went out; undefined: neither */
function look(
  { presences, area, plan }: ZonePresences,
  { estimate: { z } }: TrackedPerformer,
  p: number,
  x: number,
  y: number,
  inBox: boolean,
): boolean | undefined {
  const presence = presences[p] as Presence;
  const changed = inBox
    ? stepPresence(presence, signedDistanceM(area, x, y, z), plan.edge)
    : leavePresence(presence);
  return changed ? presence.level > 0 : undefined;
}
