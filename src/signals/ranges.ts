/**
 * Arithmetic of intervals (R. E. Moore, Interval Analysis, 1966): what comes out is the least interval that holds
 * every result of numbers of those that go in. Lower and upper ends are in arrays of their own, so that nothing is
 * allocated; each function works on the range at one index. Ends may be infinite, and never NaN.
 */
export interface Ranges {
  readonly lo: Float64Array;
  readonly hi: Float64Array;
}

export function createRanges(count: number): Ranges {
  return { lo: new Float64Array(count), hi: new Float64Array(count) };
}

export function setRange({ lo, hi }: Ranges, at: number, least: number, greatest: number): void {
  lo[at] = least;
  hi[at] = greatest;
}

/** It is one number. */
export function isPoint({ lo, hi }: Ranges, at: number): boolean {
  return lo[at] === hi[at];
}

export function add({ lo, hi }: Ranges, at: number, least: number, greatest: number): void {
  const [from, to] = [(lo[at] as number) + least, (hi[at] as number) + greatest];
  // Infinities of both signs: it may be anything.
  lo[at] = Number.isNaN(from) ? Number.NEGATIVE_INFINITY : from;
  hi[at] = Number.isNaN(to) ? Number.POSITIVE_INFINITY : to;
}

export function multiply({ lo, hi }: Ranges, at: number, least: number, greatest: number): void {
  const [from, to] = [lo[at] as number, hi[at] as number];
  const a = times(from, least);
  const b = times(from, greatest);
  const c = times(to, least);
  const d = times(to, greatest);
  lo[at] = Math.min(a, b, c, d);
  hi[at] = Math.max(a, b, c, d);
}

/** 0 times anything finite is 0, however large it gets (IEEE 1788-2015 has it so for the ends of intervals). */
function times(a: number, b: number): number {
  return a === 0 || b === 0 ? 0 : a * b;
}

export function least({ lo, hi }: Ranges, at: number, from: number, to: number): void {
  if (from < (lo[at] as number)) lo[at] = from;
  if (to < (hi[at] as number)) hi[at] = to;
}

export function greatest({ lo, hi }: Ranges, at: number, from: number, to: number): void {
  if (from > (lo[at] as number)) lo[at] = from;
  if (to > (hi[at] as number)) hi[at] = to;
}

/** 1 less the range. */
export function inverse({ lo, hi }: Ranges, at: number): void {
  const [from, to] = [lo[at] as number, hi[at] as number];
  lo[at] = 1 - to;
  hi[at] = 1 - from;
}
