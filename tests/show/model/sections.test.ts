import { describe, expect, it } from 'vitest';
import { patchedSlots } from '../../../src/show/model/patched-slots.js';
import { sectionsOf } from '../../../src/show/model/sections.js';
import { parseShow } from '../../../src/show/parse.js';
import { configShow } from '../base.js';
import { houseOf } from '../house.js';

describe('the sections of a show', () => {
  it.each([1, 2, 16, 17, 36, 37, 64, 200])('of %i universes lie one after the other', universes => {
    const show = houseOf(universes);
    expect(show.universes).toHaveLength(universes);
    const sections = sectionsOf(show);
    expect(sections[0]?.firstUniverse).toBe(0);
    expect(sections.at(-1)?.endUniverse).toBe(universes);
    for (const [i, { firstUniverse, endUniverse }] of sections.entries()) {
      expect(endUniverse).toBeGreaterThan(firstUniverse);
      if (i > 0) expect(firstUniverse).toBe(sections[i - 1]?.endUniverse);
    }
    expect(sections.length === 1).toBe(universes <= 16);
  });

  it('have all patched slots, each once, also of fixtures that touch across two universes', () => {
    const show = houseOf(40);
    const slots = (runs: { starts: Int32Array; lengths: Int32Array }) =>
      [...runs.starts].flatMap((start, run) =>
        Array.from({ length: runs.lengths[run] ?? 0 }, (_, k) => start + k),
      );
    const sections = sectionsOf(show);
    const whole = patchedSlots(show);
    // The last slot of a universe and the first of the next: one run.
    expect([...whole.lengths]).toContain(2);
    expect(sections.flatMap(({ runs }) => slots(runs))).toEqual(slots(whole));
    for (const { runs, firstUniverse, endUniverse } of sections) {
      expect(runs.count).toBe(slots(runs).length);
      for (const slot of slots(runs)) {
        expect(slot).toBeGreaterThanOrEqual(512 * firstUniverse);
        expect(slot).toBeLessThan(512 * endUniverse);
      }
    }
  });

  it('of the examples are one', () => {
    for (const name of ['salt-lantern', 'minimal'] as const) {
      const parsed = parseShow(configShow(name), name);
      if (!parsed.ok) throw new Error('the example is broken');
      expect(sectionsOf(parsed.show)).toHaveLength(1);
    }
  });
});
