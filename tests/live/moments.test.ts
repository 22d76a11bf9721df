import { expect, test } from 'vitest';
import { keepMoment, type Moment } from '../../src/live/moments.js';
import type { LiveSnapshot } from '../../src/live/schema.js';

const at = (atS: number) =>
  ({
    atS,
    status: { feed: { positionsPerS: 1, droppedPerS: 0 }, performers: [] },
    engine: null,
  }) as unknown as LiveSnapshot;
const kept = (...times: number[]) => {
  const moments: Moment[] = [];
  for (const time of times) keepMoment(moments, at(time));
  return moments.map(({ atS }) => atS);
};

test('one a second, for ten minutes', () => {
  expect(kept(0, 0.1, 0.5, 1, 1.9, 2)).toEqual([0, 1, 2]);
  expect(kept(...Array.from({ length: 700 }, (_, i) => i)).length).toBe(601);
});

test('a clock that is set back begins anew, and one that wavers does not', () => {
  expect(kept(100, 101, 50, 51)).toEqual([50, 51]);
  expect(kept(100, 101, 99, 102)).toEqual([100, 101, 102]);
});
