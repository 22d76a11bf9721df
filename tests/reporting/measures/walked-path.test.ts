import { expect, it } from 'vitest';
import { WalkedPath } from '../../../src/reporting/measures/walked-path.js';

it('keeps where somebody was, broken where nobody saw them', () => {
  const path = new WalkedPath();
  for (let tick = 0; tick < 200; tick++) {
    const atS = tick / 40;
    if (atS < 2 || atS > 4) path.add(atS, atS, 1.23456);
  }
  const stretches = path.stretches();
  expect(stretches).toHaveLength(2);
  expect(stretches[0]?.[1]).toEqual([0.25, 1.23]);
  expect(stretches[1]?.[0]?.[0]).toBeCloseTo(4.03, 1);
});

it('has no more points for an evening than are seen, and all of the way', () => {
  const path = new WalkedPath();
  for (let atS = 0; atS <= 3 * 3600; atS += 0.1) path.add(atS, atS / 3600, 0);
  const stretches = path.stretches();
  expect(stretches).toHaveLength(1);
  expect(stretches[0]?.length).toBeLessThanOrEqual(1000);
  expect(stretches[0]?.at(-1)?.[0]).toBeCloseTo(3, 1);
});
