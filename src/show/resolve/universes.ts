import type { OutputFile } from '../schema/schema.js';

/** Most universes in one range: the most that a show can send by far, and a bound for a slip. */
const MAX_RANGE = 2048;

/** The universes of the show that an output sends, ranges written out; undefined for a bad range. */
export function universesOf(output: OutputFile): readonly number[] | undefined {
  const universes = new Set<number>();
  for (const entry of output.universes) {
    if (typeof entry === 'number') {
      universes.add(entry);
      continue;
    }
    const [from, to] = entry.split('-').map(Number);
    if (from === undefined || to === undefined || from > to || to - from >= MAX_RANGE) {
      return undefined;
    }
    for (let universe = from; universe <= to; universe++) universes.add(universe);
  }
  return [...universes].sort((a, b) => a - b);
}
