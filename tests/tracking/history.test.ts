/** The last reports in order of their own time, in a ring. */
import { expect, test } from 'vitest';
import {
  createHistory,
  dropHistory,
  insertHistory,
  pushHistory,
  readSighting,
  restoreBefore,
  saveBefore,
  timeAt,
  trackerAt,
} from '../../src/tracking/history.js';
import { sighting } from './support.js';

const at = (timeS: number, tracker = 0) => ({
  ...sighting(timeS, [timeS + 1, timeS + 2, timeS + 3], tracker),
  arrivalS: timeS + 0.5,
  quality: 0.25,
});

function filled(times: readonly number[]) {
  const history = createHistory(3, 2);
  for (const timeS of times) pushHistory(history, at(timeS, timeS % 2));
  return history;
}
const timesOf = (history: ReturnType<typeof filled>) =>
  Array.from({ length: history.length }, (_, i) => timeAt(history, i));

test('of too many the oldest falls out, wherever the new one stands', () => {
  const history = filled([1, 2, 3, 4, 5]);
  expect(timesOf(history)).toEqual([3, 4, 5]);
  expect([0, 1, 2].map(i => trackerAt(history, i))).toEqual([1, 0, 1]);
  expect(insertHistory(history, 2, at(4.5))).toBe(1);
  expect(timesOf(history)).toEqual([4, 4.5, 5]);
  expect(insertHistory(history, 3, at(6))).toBe(2);
  expect(timesOf(history)).toEqual([4.5, 5, 6]);
});

test('where there is room nothing does, and one that is taken out leaves the others in order', () => {
  const history = filled([1, 3]);
  expect(insertHistory(history, 1, at(2, 7))).toBe(1);
  expect(timesOf(history)).toEqual([1, 2, 3]);
  const out = at(0);
  readSighting(history, 1, out);
  expect(out).toEqual(at(2, 7));
  dropHistory(history, 0);
  expect(timesOf(history)).toEqual([2, 3]);
});

test('each has what was known before it', () => {
  const history = filled([1, 2, 3, 4]);
  for (const i of [0, 1, 2]) saveBefore(history, i, Float64Array.of(10 + i, 20 + i));
  const memory = new Float64Array(2);
  for (const i of [2, 0, 1]) {
    restoreBefore(history, i, memory);
    expect([...memory]).toEqual([10 + i, 20 + i]);
  }
});
