import { placesOf } from '../../fixtures/profile.js';
import { type FixturePlan, type Show, SLOTS_PER_UNIVERSE } from './model.js';

/** Slots that some fixture uses, as runs: where each begins in the levels of all universes, and its length. */
export interface SlotRuns {
  readonly starts: Int32Array;
  readonly lengths: Int32Array;
  /** Sum of the lengths. */
  readonly count: number;
}

/** Only these slots of a show's universes can differ from 0, so only these need to cross the pipe. */
export function patchedSlots(show: Show): SlotRuns {
  const used = show.fixtures
    .map(({ firstSlot, profile }) => [firstSlot, firstSlot + profile.footprint] as const)
    .sort(([a], [b]) => a - b);
  const runs: [start: number, end: number][] = [];
  for (const [start, end] of used) {
    const last = runs.at(-1);
    if (last !== undefined && start <= last[1]) last[1] = Math.max(last[1], end);
    else runs.push([start, end]);
  }
  return {
    starts: Int32Array.from(runs, ([start]) => start),
    lengths: Int32Array.from(runs, ([start, end]) => end - start),
    count: runs.reduce((sum, [start, end]) => sum + end - start, 0),
  };
}

/** Copies the patched slots of `levels` one after another into `packed`, from `at`. */
export function packSlots(
  runs: SlotRuns,
  levels: Uint8Array,
  packed: Uint8Array,
  at: number,
): void {
  let to = at;
  for (let run = 0; run < runs.starts.length; run++) {
    const start = runs.starts[run] as number;
    const end = start + (runs.lengths[run] as number);
    for (let from = start; from < end; from++) packed[to++] = levels[from] as number;
  }
}

/** The reverse of `packSlots`: other slots of `levels` stay as they are. */
export function unpackSlots(runs: SlotRuns, packed: Uint8Array, levels: Uint8Array): void {
  let from = 0;
  for (let run = 0; run < runs.starts.length; run++) {
    const start = runs.starts[run] as number;
    const end = start + (runs.lengths[run] as number);
    for (let to = start; to < end; to++) levels[to] = packed[from++] as number;
  }
}

/** `1/101`: its universe, and its first slot there; of a cell, the first of its own. */
export function patchText({ universes }: Pick<Show, 'universes'>, plan: FixturePlan): string {
  const { profile, universe, firstSlot, inFile, name } = plan;
  const places = profile.channels.flatMap(placesOf).flat();
  const own = inFile === name || places.length === 0 ? 0 : Math.min(...places);
  return `${universes[universe]}/${(firstSlot % SLOTS_PER_UNIVERSE) + own + 1}`;
}
