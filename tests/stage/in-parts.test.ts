import { expect, it } from 'vitest';
import { mapInParts, whole } from '../../src/stage/in-parts.js';

it('does in parts what map does at once, so many at a time', () => {
  const all = Array.from({ length: 10 }, (_, i) => 3 * i);
  const parts = mapInParts(all, (one, index) => one + index, 4);
  let pauses = 0;
  let result = parts.next();
  for (; result.done !== true; result = parts.next()) pauses += 1;
  expect(result.value).toEqual(all.map((one, index) => one + index));
  expect(pauses).toBe(2);
  expect(whole(mapInParts([], () => 1))).toEqual([]);
});
