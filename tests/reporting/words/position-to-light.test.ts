import { expect, test } from 'vitest';
import {
  positionToLight,
  positionToLightLines,
  positionToLightRows,
} from '../../../src/reporting/words/position-to-light.js';

const RECORDED = [
  {
    atS: 10,
    delays: {
      wait: [
        [15, 60],
        [25, 40],
      ],
      whole: [[20, 60]],
    },
  },
  {
    atS: 20,
    delays: {
      whole: [
        [20, 20],
        [30, 16],
        [null, 4],
      ],
    },
  },
] as const;

test('records are added up: of 100 positions, which share was within what', () => {
  const [wait, whole, ...rest] = positionToLight(RECORDED);
  expect(wait).toMatchObject({ part: 'wait', count: 100, p50S: 0.015, p95S: 0.025, p99S: 0.025 });
  expect(whole).toEqual({
    ...{ part: 'whole', count: 100, p50S: 0.02, p95S: 0.03, p99S: Number.POSITIVE_INFINITY },
    bins: [
      { upToS: 0.02, count: 80 },
      { upToS: 0.03, count: 16 },
      { upToS: Number.POSITIVE_INFINITY, count: 4 },
    ],
  });
  expect(rest).toEqual([]);
});

test('in words, the whole way first; nothing of a recording that has none', () => {
  const all = positionToLight(RECORDED);
  expect(positionToLightLines(all)).toEqual([
    "end to end, from the sensor's reading to the last packet sent: median 20 ms, 95 % within 30 ms, 99 % within more than a second",
    '  of that, 95 % within: the wait for the tick 25 ms',
  ]);
  expect(positionToLightRows(all)).toEqual([
    [
      "end to end, from the sensor's reading to the last packet sent",
      ...['20 ms', '30 ms', 'more than a second'],
    ],
    ['of that, the wait for the tick', '15 ms', '25 ms', '25 ms'],
  ]);
  expect(positionToLight([])).toEqual([]);
  expect(positionToLightLines([])).toEqual([]);
});
