import { describe, expect, test } from 'vitest';
import type { WatchdogOptions } from '../../src/safety/options.js';
import {
  PERFORMER_ROWS,
  rowOf,
  SUPERVISOR_ROWS,
  WATCHDOG_TABLE,
} from '../../src/safety/watchdog-table.js';
import { WELL } from './well.js';

/** No two alike, so that a row that takes the time of another is seen. */
const OPTIONS: WatchdogOptions = {
  engineSilent: { afterS: 1, fadeS: 2 },
  operatorStop: { fadeS: 3 },
  deskLost: { afterS: 4, fadeS: 5 },
  feedSilent: { afterS: 6, fadeS: 7 },
  trackerSilent: { afterS: 8, fadeS: 9 },
  sensorClockGone: { afterS: 10, fadeS: 11 },
  jumped: { fadeS: 12 },
  frozen: { afterS: 13, fadeS: 14 },
  outOfBounds: { afterS: 15, fadeS: 16, marginM: 0.5 },
  confidenceLow: { afterS: 17, fadeS: 18, below: 0.35 },
  rearmS: 19,
  returnS: 20,
  moveS: 21,
  turnS: 22,
};
const TRACKING = { reacquireS: 100, repeatedS: 200, repeatedAtMostS: 300 };

/** Condition; acts after, at most after, fade and re-arm, seconds; what a show has to ask for. */
const TIMES = [
  ['shutdown', 0, undefined, 2, undefined, undefined],
  ['engine-dead', 0, undefined, 2, 19, undefined],
  ['engine-late', 1, undefined, 2, 19, undefined],
  ['show-reload', 0, undefined, 2, 19, undefined],
  ['operator-stop', 0, undefined, 3, 19, undefined],
  ['desk-lost', 4, undefined, 5, 19, 'required desk'],
  ['feed-silent', 6, undefined, 7, 19, undefined],
  ['tracker-silent', 8, undefined, 9, 19, undefined],
  ['sensor-clock-gone', 10, undefined, 11, 19, 'measured times'],
  ['jumped', 100, undefined, 12, 19, undefined],
  ['frozen', 213, 313, 14, 19, undefined],
  ['out-of-bounds', 15, undefined, 16, 19, undefined],
  ['confidence-low', 17, undefined, 18, 19, undefined],
  ['output-down', undefined, undefined, undefined, undefined, undefined],
] as const;

describe('a row of the table', () => {
  test.each(TIMES)('%s declares its own times', (condition, acts, atMost, fade, rearm, needs) => {
    const row = rowOf(condition);
    expect(row.condition).toBe(condition);
    expect(row.actsAfterS(OPTIONS, TRACKING)).toBe(acts);
    expect(row.actsAtMostAfterS?.(OPTIONS, TRACKING)).toBe(atMost);
    expect(row.fadeS(OPTIONS)).toBe(fade);
    expect(row.rearmS(OPTIONS)).toBe(rearm);
    expect(row.needs).toBe(needs);
  });

  test('each is there once, under a title of its own', () => {
    expect(WATCHDOG_TABLE.map(({ condition }) => condition)).toEqual(TIMES.map(([name]) => name));
    const titles = WATCHDOG_TABLE.map(({ title }) => title);
    expect(new Set(titles).size).toBe(titles.length);
    expect(titles.every(title => /^[a-z][a-z ]+$/.test(title))).toBe(true);
  });

  test('says who decides it', () => {
    const bySupervisor = WATCHDOG_TABLE.filter(({ decidedBy }) => decidedBy === 'supervisor');
    expect(bySupervisor.map(({ condition }) => condition)).toEqual([
      'shutdown',
      'engine-dead',
      'engine-late',
      'show-reload',
      'output-down',
    ]);
  });

  test('acts off stage too only where it is an order, or the desk', () => {
    const acting = WATCHDOG_TABLE.filter(row => 'actsOffStage' in row && row.actsOffStage === true);
    expect(acting.map(({ condition }) => condition)).toEqual(['operator-stop', 'desk-lost']);
  });

  test('of one that is not known is a bug, and told as one', () => {
    expect(() => rowOf('weather' as 'frozen')).toThrow('no row for weather');
  });
});

describe('what holds', () => {
  test('a frame is late beyond its time, and where there is none', () => {
    const row = SUPERVISOR_ROWS.find(one => one.condition === 'engine-late');
    const aged = (frameAgeS: number | undefined) => ({ stopping: false, running: true, frameAgeS });
    expect([0, 1, 1.01, Number.NaN, undefined].map(ageS => row?.holds(aged(ageS), 1))).toEqual([
      false,
      false,
      true,
      true,
      true,
    ]);
  });

  test.each([
    ['frozen', 'fresh', 0.35],
    ['confidence-low', 'confidence', 0.35],
  ] as const)('%s: below its bound, and not at it', (condition, field, bound) => {
    const row = PERFORMER_ROWS.find(one => one.condition === condition);
    const at = (value: number) => row?.holds({ ...WELL, [field]: value }, OPTIONS);
    expect([at(bound), at(bound - 0.01), at(Number.NaN)]).toEqual([false, true, true]);
  });
});
