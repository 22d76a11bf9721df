import { createEngine } from '../engine/engine.js';
import { step } from '../engine/step.js';
import type { Datagram } from '../engine/values/inputs.js';
import { type EngineView, viewOf } from '../engine/view.js';
import type { Show } from '../show/model/model.js';
import { compileArea, signedDistanceM } from '../stage/area.js';
import { placesThatMatter } from './places.js';
import { isOnStage } from './position-checks.js';

/** How well a performer was believed in a zone that they drive, while they walked it. */
export interface WalkedPlace {
  readonly performer: number;
  readonly zone: number;
  /** The show asks for this performer there; otherwise anybody does. */
  readonly named: boolean;
  /** How long they were there, and were heard, seconds. */
  readonly heldS: number;
  /** How long they were heard within its outline, but off the stage: too high, too low, or beyond its bounds. */
  readonly offS: number;
  /** Confidence, 0..1: mean over that time, and what it was not below for 95 % of it. */
  readonly mean: number;
  readonly low: number;
}

const TICK_S = 1 / 40;
/** Far more than come between two looks. */
const MOST_WAITING = 200_000;
/** Confidence in steps of a hundredth. */
const STEPS = 101;

/** Arrivals in order, on one clock. */
export interface Stretch {
  readonly datagrams: readonly Datagram[];
  readonly unixOffsetS: number;
}

/**
 * Runs the real engine over what comes in, and notes where each performer was believed how well. No
 * light: its frames go nowhere.
 */
export class Walk {
  /** Identifiers of the trackers that were heard of performers. */
  readonly heard = new Set<string>();
  readonly #engine;
  readonly #view: EngineView;
  readonly #places;
  #coming: Datagram[] = [];
  #nextS: number | undefined;

  /** @param unixOffsetS Unix time less the clock of the arrivals, seconds */
  constructor(
    private readonly show: Show,
    private readonly unixOffsetS: number,
  ) {
    this.#engine = createEngine(show);
    this.#view = viewOf(this.#engine);
    this.#view.onReport((_, tracker) => this.heard.add(tracker));
    this.#places = placesThatMatter(show).map(place => ({
      ...place,
      area: compileArea(show.zones[place.zone]?.area ?? NOWHERE),
      counts: new Uint32Array(STEPS),
      off: { ticks: 0 },
    }));
  }

  /** In the order of arrival. @returns false where too many wait to be looked at: it is left out */
  take(datagram: Datagram): boolean {
    if (this.#coming.length >= MOST_WAITING) return false;
    this.#nextS ??= datagram.arrivalS;
    this.#coming.push(datagram);
    return true;
  }

  /** Looks at what has come up to a time on the clock of the arrivals, seconds. */
  runTo(untilS: number): void {
    if (this.#nextS === undefined) return;
    let next = 0;
    const coming = this.#coming;
    for (; this.#nextS <= untilS; this.#nextS += TICK_S) {
      const nowS = this.#nextS;
      const from = next;
      while (next < coming.length && (coming[next]?.arrivalS ?? 0) <= nowS) next++;
      const datagrams = coming.slice(from, next);
      step(this.#engine, { datagrams, unixOffsetS: this.unixOffsetS }, nowS);
      for (const place of this.#places) note(this.show, this.#view, place);
    }
    this.#coming = coming.slice(next);
  }

  /** Performers, by name, who are off stage just now. */
  get offStage(): string[] {
    return this.#view.performers.filter(({ phase }) => phase === 'off').map(({ name }) => name);
  }

  walked(): WalkedPlace[] {
    return this.#places.map(summary);
  }
}

/** A whole stretch at once. */
export function walk(show: Show, { datagrams, unixOffsetS }: Stretch): WalkedPlace[] {
  const all = new Walk(show, unixOffsetS);
  for (const datagram of datagrams) {
    all.take(datagram);
    all.runTo(datagram.arrivalS);
  }
  return all.walked();
}

const NOWHERE = { shape: { kind: 'circle', centre: { x: 0, y: 0 }, radiusM: 0 } } as const;

interface Place {
  readonly performer: number;
  readonly zone: number;
  readonly named: boolean;
  readonly area: ReturnType<typeof compileArea>;
  readonly counts: Uint32Array;
  readonly off: { ticks: number };
}

function note(show: Show, view: EngineView, { performer, area, counts, off }: Place): void {
  const one = view.performers[performer];
  if (one === undefined || !one.seen) return;
  const { x, y, z } = one.estimate;
  if (signedDistanceM(area, x, y, z) > 0) return;
  if (!isOnStage(show, one.estimate)) {
    off.ticks += 1;
    return;
  }
  const bin = Math.round(100 * Math.min(1, Math.max(0, one.confidence.value)));
  counts[bin] = (counts[bin] ?? 0) + 1;
}

function summary({ performer, zone, named, counts, off }: Place): WalkedPlace {
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
    named,
    heldS: ticks * TICK_S,
    offS: off.ticks * TICK_S,
    mean: ticks > 0 ? total / ticks : Number.NaN,
    low: ticks > 0 ? Math.max(0, low) / 100 : Number.NaN,
  };
}
