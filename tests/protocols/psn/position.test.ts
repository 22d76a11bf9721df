import { describe, expect, test } from 'vitest';
import type { PsnTracker } from '../../../src/protocols/psn/decode.js';
import {
  compilePsnFeed,
  isPsnTracker,
  readPsnPosition,
} from '../../../src/protocols/psn/position.js';
import { qualityAs, rawPosition } from '../../../src/protocols/raw-position.js';

const TRACKER: PsnTracker = {
  id: 7,
  hasPosition: true,
  x: 1,
  y: 2,
  z: 3,
  hasValidity: true,
  validity: 60,
  hasTimestamp: true,
  timestampUs: 1_500_000,
};

function read(
  more: Partial<PsnTracker> = {},
  stamps: 'if sent' | 'ignored' = 'if sent',
  quality: readonly [number, number] = [20, 100],
) {
  const out = { ...rawPosition(), battery: 0.5, batteryOutside: 60, quality: 0.1 };
  const feed = compilePsnFeed({ axes: ['x', '-z', 'y'], quality, stamps });
  const reason = readPsnPosition(feed, { ...TRACKER, ...more }, out);
  return reason ?? out;
}

describe('a position by PosiStageNet', () => {
  test('has its axes, its validity on the scale of the feed, and its own time', () => {
    expect(read()).toEqual({
      tracker: '7',
      x: 1,
      y: -3,
      z: 2,
      quality: 0.5,
      battery: undefined,
      batteryOutside: undefined,
      stampS: 1.5,
    });
  });

  test('is as good as it gets, and of no time, where the feed does not say', () => {
    expect(read({ hasValidity: false, hasTimestamp: false })).toMatchObject({
      quality: undefined,
      stampS: undefined,
    });
    expect(read({}, 'ignored')).toHaveProperty('stampS', undefined);
  });

  test.each([
    [{ hasPosition: false }, 'no-position'],
    [{ x: Number.NaN }, 'not-finite'],
    [{ y: Number.POSITIVE_INFINITY }, 'not-finite'],
    [{ z: Number.NaN }, 'not-finite'],
    [{ validity: Number.NaN }, 'not-finite'],
    [{ validity: 19 }, 'quality-range'],
    [{ validity: 101 }, 'quality-range'],
  ])('%j is refused: %s', (more, reason) => {
    expect(read(more)).toBe(reason);
  });

  test.each([
    [20, 0],
    [100, 1],
    [40, 0.25],
  ])('a validity of %d is a quality of %d, and the way back', (validity, quality) => {
    expect(read({ validity })).toHaveProperty('quality', quality);
    expect(qualityAs([20, 100], quality)).toBe(validity);
  });
});

test.each([
  ['0', true],
  ['65535', true],
  ['65536', false],
  ['123456', false],
  ['07', false],
  ['1a', false],
  ['', false],
])('%s may be the number of a tracker: %s', (name, may) => {
  expect(isPsnTracker(name)).toBe(may);
});
