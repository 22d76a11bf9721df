import { type Show, SLOTS_PER_UNIVERSE } from './model.js';
import { patchedSlots, type SlotRuns } from './patched-slots.js';

/**
 * Consecutive universes of a show that are computed, handed on and sent together. The first section is on the
 * wire while the next is still computed; what that wins is in docs/decisions/0019-frames-in-sections.md.
 */
export interface Section {
  /** Indices into the show's universes, the second one not included. */
  readonly firstUniverse: number;
  readonly endUniverse: number;
  /** Its patched slots, in the levels of all universes. */
  readonly runs: SlotRuns;
}

/** A show with no more than this is one section: handing on several would cost more than it gains. */
const ONE_SECTION = 16;
/** The first is small: while the process that sends it wakes up, the next is computed. */
const FIRST_SECTION = 4;
const LATER_SECTION = 32;

/** One after the other, together the whole show; at least one. */
export function sectionsOf(show: Show): readonly Section[] {
  const universes = show.universes.length;
  const ends: number[] = [];
  if (universes > ONE_SECTION) {
    const count = Math.ceil((universes - FIRST_SECTION) / LATER_SECTION);
    for (let section = 0; section < count; section++) {
      ends.push(FIRST_SECTION + Math.round((section * (universes - FIRST_SECTION)) / count));
    }
  }
  ends.push(universes);
  const whole = patchedSlots(show);
  return ends.map((endUniverse, section): Section => {
    const firstUniverse = ends[section - 1] ?? 0;
    return { firstUniverse, endUniverse, runs: runsWithin(whole, firstUniverse, endUniverse) };
  });
}

/** Runs of two universes may touch: where a section ends in the middle of one, it is cut there. */
function runsWithin(runs: SlotRuns, firstUniverse: number, endUniverse: number): SlotRuns {
  const [from, end] = [firstUniverse * SLOTS_PER_UNIVERSE, endUniverse * SLOTS_PER_UNIVERSE];
  const starts: number[] = [];
  const lengths: number[] = [];
  runs.starts.forEach((runStart, run) => {
    const start = Math.max(from, runStart);
    const length = Math.min(end, runStart + (runs.lengths[run] as number)) - start;
    if (length <= 0) return;
    starts.push(start);
    lengths.push(length);
  });
  return {
    starts: Int32Array.from(starts),
    lengths: Int32Array.from(lengths),
    count: lengths.reduce((sum, length) => sum + length, 0),
  };
}
