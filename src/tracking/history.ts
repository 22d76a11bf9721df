import type { Sighting } from './sighting.js';

/**
 * The last reports in order of their own time, each with the track's memory as it was before it.
 * A ring in flat arrays: nothing is allocated after `createHistory`.
 */
export interface History {
  readonly capacity: number;
  readonly memoryLength: number;
  readonly before: Float64Array;
  /** tracker, time, arrival, x, y, z, quality */
  readonly sightings: Float64Array;
  /** Index of the oldest entry, and how many there are. */
  first: number;
  length: number;
}

const SIGHTING_NUMBERS = 7;

export function createHistory(capacity: number, memoryLength: number): History {
  return {
    capacity,
    memoryLength,
    before: new Float64Array(capacity * memoryLength),
    sightings: new Float64Array(capacity * SIGHTING_NUMBERS),
    first: 0,
    length: 0,
  };
}

export function forgetHistory(history: History): void {
  history.first = 0;
  history.length = 0;
}

function ring(history: History, index: number): number {
  return (history.first + index) % history.capacity;
}

export function timeAt(history: History, index: number): number {
  return history.sightings[ring(history, index) * SIGHTING_NUMBERS + 1] as number;
}

export function trackerAt(history: History, index: number): number {
  return history.sightings[ring(history, index) * SIGHTING_NUMBERS] as number;
}

/** Adds an entry at the end; the oldest falls out when the ring is full. */
export function pushHistory(history: History, s: Readonly<Sighting>): void {
  if (history.length === history.capacity) history.first = (history.first + 1) % history.capacity;
  else history.length++;
  writeSighting(history, history.length - 1, s);
}

/** Makes room for one entry at `index` and writes the sighting there; the oldest falls out when full. */
export function insertHistory(history: History, index: number, s: Readonly<Sighting>): number {
  let place = index;
  if (history.length === history.capacity) {
    history.first = (history.first + 1) % history.capacity;
    place--;
  } else history.length++;
  for (let i = history.length - 1; i > place; i--) {
    const to = ring(history, i) * SIGHTING_NUMBERS;
    const from = ring(history, i - 1) * SIGHTING_NUMBERS;
    history.sightings.copyWithin(to, from, from + SIGHTING_NUMBERS);
  }
  writeSighting(history, place, s);
  return place;
}

/** Takes one entry out. */
export function dropHistory(history: History, index: number): void {
  for (let i = index; i < history.length - 1; i++) {
    const to = ring(history, i) * SIGHTING_NUMBERS;
    const from = ring(history, i + 1) * SIGHTING_NUMBERS;
    history.sightings.copyWithin(to, from, from + SIGHTING_NUMBERS);
  }
  history.length--;
}

function writeSighting(history: History, index: number, s: Readonly<Sighting>): void {
  const at = ring(history, index) * SIGHTING_NUMBERS;
  const n = history.sightings;
  n[at] = s.tracker;
  n[at + 1] = s.timeS;
  n[at + 2] = s.arrivalS;
  n[at + 3] = s.x;
  n[at + 4] = s.y;
  n[at + 5] = s.z;
  n[at + 6] = s.quality;
}

export function readSighting(history: History, index: number, out: Sighting): void {
  const at = ring(history, index) * SIGHTING_NUMBERS;
  const n = history.sightings;
  out.tracker = n[at] as number;
  out.timeS = n[at + 1] as number;
  out.arrivalS = n[at + 2] as number;
  out.x = n[at + 3] as number;
  out.y = n[at + 4] as number;
  out.z = n[at + 5] as number;
  out.quality = n[at + 6] as number;
}

export function saveBefore(history: History, index: number, memory: Float64Array): void {
  history.before.set(memory, ring(history, index) * history.memoryLength);
}

export function restoreBefore(history: History, index: number, memory: Float64Array): void {
  const at = ring(history, index) * history.memoryLength;
  memory.set(history.before.subarray(at, at + history.memoryLength));
}
