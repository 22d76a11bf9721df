import type { SoftEdge } from './options.js';

/**
 * Presence of one performer in one zone, 0..1. The signed distance to the edge passes through a
 * play (backlash) of the hysteresis first: coming in, the edge is where it is drawn; going out, it
 * is `hysteresisM` farther out; and a performer who stands still, plus noise smaller than that,
 * gives a presence that doesn't move at all.
 */
export interface Presence {
  /** Distance after the play, metres, negative inside. */
  heldDistanceM: number;
  level: number;
}

export function createPresence(): Presence {
  return { heldDistanceM: Number.POSITIVE_INFINITY, level: 0 };
}

/**
 * @param distanceM signed distance to the edge, negative inside
 * @returns whether the performer went in or out (level leaving or reaching 0)
 */
export function stepPresence(presence: Presence, distanceM: number, edge: SoftEdge): boolean {
  const wasIn = presence.level > 0;
  // max first: a hysteresis of 0 must give distanceM itself.
  presence.heldDistanceM = Math.min(
    Math.max(presence.heldDistanceM, distanceM - edge.hysteresisM),
    distanceM,
  );
  presence.level = levelAt(presence.heldDistanceM, edge.featherM);
  return wasIn !== presence.level > 0;
}

/**
 * The same for a performer who is surely farther away than feather and hysteresis together.
 * @returns whether they went out
 */
export function leavePresence(presence: Presence): boolean {
  const wasIn = presence.level > 0;
  presence.heldDistanceM = Number.POSITIVE_INFINITY;
  presence.level = 0;
  return wasIn;
}

function levelAt(distanceM: number, featherM: number): number {
  if (distanceM <= 0) return 1;
  return distanceM < featherM ? 1 - distanceM / featherM : 0;
}
