import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { expect, it } from 'vitest';
import {
  packSlots,
  patchedSlots,
  type SlotRuns,
  unpackSlots,
} from '../../../src/show/model/patched-slots.js';
import { safeLook } from '../../../src/show/model/safe-look.js';
import { parseShow } from '../../../src/show/parse.js';

it.each(['salt-lantern', 'minimal'])('all that %s can send survives packing', name => {
  const file = `config/${name}.show.yaml`;
  const result = parseShow(readFileSync(file, 'utf8'), file);
  if (!result.ok) throw new Error('the example is broken');
  const runs = patchedSlots(result.show);
  const levels = safeLook(result.show);
  const packed = new Uint8Array(runs.count);
  packSlots(runs, levels, packed, 0);
  const back = new Uint8Array(levels.length);
  unpackSlots(runs, packed, back);
  expect(back).toEqual(levels);
  expect(runs.count).toBeLessThan(levels.length);
});

it('packs and unpacks any runs, and leaves other slots alone', () => {
  const gaps = fc.array(fc.tuple(fc.integer({ min: 1, max: 9 }), fc.integer({ min: 1, max: 9 })));
  fc.assert(
    fc.property(gaps, fc.nat(20), (list, at) => {
      let end = 0;
      const pairs = list.map(([gap, length]) => {
        const start = end + gap;
        end = start + length;
        return [start, length] as const;
      });
      const runs: SlotRuns = {
        starts: Int32Array.from(pairs, ([start]) => start),
        lengths: Int32Array.from(pairs, ([, length]) => length),
        count: pairs.reduce((sum, [, length]) => sum + length, 0),
      };
      const levels = Uint8Array.from({ length: end }, (_, i) => (i * 7) % 256);
      const packed = new Uint8Array(at + runs.count).fill(99);
      packSlots(runs, levels, packed, at);
      expect([...packed.subarray(0, at)]).toEqual(new Array(at).fill(99));
      const back = new Uint8Array(end).fill(255);
      unpackSlots(runs, packed.subarray(at), back);
      for (let slot = 0; slot < end; slot++) {
        const patched = pairs.some(([start, length]) => slot >= start && slot < start + length);
        expect(back[slot]).toBe(patched ? levels[slot] : 255);
      }
    }),
    { seed: 4 },
  );
});
