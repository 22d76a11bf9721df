import { createEngine, type EngineState } from '../engine/state.js';
import { type Datagram, step } from '../engine/step.js';
import type { Show } from '../show/model.js';
import { compileArea, signedDistanceM } from '../stage/area.js';
import { placesThatMatter } from './places.js';

/** How well a performer was believed in a zone that they drive, while they walked it. */
export interface WalkedPlace {
  readonly performer: number;
  readonly zone: number;
  /** How long they were there, and were heard, seconds. */
  readonly heldS: number;
  /** Confidence, 0..1: mean over that time, and what it was not below for 95 % of it. */
  readonly mean: number;
  readonly low: number;
}

const TICK_S = 1 / 40;
/** Confidence in steps of a hundredth. */
const STEPS = 101;

/** Arrivals in order, on one clock. */
export interface Stretch {
  readonly datagrams: readonly Datagram[];
  readonly unixOffsetS: number;
}

/**
 * Runs the real engine over what came in, and notes where each performer was believed how well. No
 * light: its frames go nowhere.
 */
export function walk(show: Show, { datagrams, unixOffsetS }: Stretch): WalkedPlace[] {
  const first = datagrams[0];
  const last = datagrams.at(-1);
  const places = placesThatMatter(show).map(place => ({
    ...place,
    area: compileArea(show.zones[place.zone]?.area ?? NOWHERE),
    counts: new Uint32Array(STEPS),
  }));
  if (first === undefined || last === undefined) return places.map(summary);
  const state = createEngine(show);
  let next = 0;
  for (let nowS = first.arrivalS; nowS <= last.arrivalS; nowS += TICK_S) {
    const from = next;
    while (next < datagrams.length && (datagrams[next]?.arrivalS ?? 0) <= nowS) next++;
    step(state, { datagrams: datagrams.slice(from, next), unixOffsetS }, nowS);
    for (const { performer, area, counts } of places) note(state, performer, area, counts);
  }
  return places.map(summary);
}

const NOWHERE = { shape: { kind: 'circle', centre: { x: 0, y: 0 }, radiusM: 0 } } as const;

function note(
  state: EngineState,
  performer: number,
  area: ReturnType<typeof compileArea>,
  counts: Uint32Array,
): void {
  const one = state.performers[performer];
  if (one === undefined || !one.observation.seen) return;
  const { x, y, z } = one.estimate;
  if (signedDistanceM(area, x, y, z) > 0) return;
  const bin = Math.round(100 * Math.min(1, Math.max(0, one.confidence.value)));
  counts[bin] = (counts[bin] ?? 0) + 1;
}

function summary({
  performer,
  zone,
  counts,
}: {
  readonly performer: number;
  readonly zone: number;
  readonly counts: Uint32Array;
}): WalkedPlace {
  const ticks = counts.reduce((sum, count) => sum + count, 0);
  const total = counts.reduce((sum, count, bin) => sum + (count * bin) / 100, 0);
  let left = 0.05 * ticks;
  const low = counts.findIndex(count => {
    left -= count;
    return left < 0;
  });
  return {
    performer,
    zone,
    heldS: ticks * TICK_S,
    mean: ticks > 0 ? total / ticks : Number.NaN,
    low: ticks > 0 ? Math.max(0, low) / 100 : Number.NaN,
  };
}
