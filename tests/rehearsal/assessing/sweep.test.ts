import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { type SweepResult, sweepCase, worseThan } from '../../../src/rehearsal/assessing/sweep.js';
import { type Delivery, SWEEP_CASES } from '../../../src/rehearsal/assessing/sweep-cases.js';

function caseOf(name: string) {
  const found = SWEEP_CASES.find(one => one.name === name);
  if (found === undefined) throw new Error(`no case ${name}`);
  return found;
}

const deliver = (name: string): readonly Delivery[] => caseOf(name).deliveries(7);

describe('the feeds', () => {
  test('have names of their own, arrive in order, and are the same for the same seed', () => {
    expect(new Set(SWEEP_CASES.map(({ name }) => name)).size).toBe(SWEEP_CASES.length);
    for (const one of SWEEP_CASES) {
      const feed = one.deliveries(3);
      expect(feed.slice(-20)).toEqual(one.deliveries(3).slice(-20));
      const times = feed.map(({ arrivalS }) => arrivalS);
      expect(times.every((timeS, i) => i === 0 || timeS >= (times[i - 1] as number))).toBe(true);
    }
  });

  test('come as often as they say, less what is lost', () => {
    expect(deliver('stand, 5 Hz')).toHaveLength(151);
    expect(deliver('stand, 120 Hz')).toHaveLength(3601);
    expect(deliver('walk, 30 % lost, 40 Hz').length / 1201).toBeCloseTo(0.7, 1);
  });

  test('of a socket that stalls come all at once, and none is lost', () => {
    const feed = deliver('walk, socket stalls for 0.5 s, 40 Hz');
    expect(feed).toHaveLength(1201);
    const gaps = feed.slice(1).map((one, i) => one.arrivalS - (feed[i] as Delivery).arrivalS);
    expect(Math.max(...gaps)).toBeGreaterThan(0.5);
    expect(gaps.filter(gap => gap < 1e-4).length).toBeGreaterThan(7 * 18);
  });

  test('of a clock that steps bring stamps that step once', () => {
    const feed = deliver("run, sender's clock steps by -0.24 s, 40 Hz");
    const steps = feed
      .slice(1)
      .map((one, i) => (one.stampS ?? 0) - ((feed[i] as Delivery).stampS ?? 0));
    expect(steps.filter(step => step < 0)).toHaveLength(1);
    expect(Math.min(...steps)).toBeCloseTo(1 / 40 - 0.24, 9);
  });

  test('of two trackers that disagree are three metres apart, the wrong one first', () => {
    const feed = deliver('stand, two trackers disagree by 3 m, 20 Hz');
    expect(feed[0]).toMatchObject({ tracker: 0 });
    const mean = (tracker: number) => {
      const xs = feed.filter(one => one.tracker === tracker).map(({ x }) => x);
      return xs.reduce((sum, x) => sum + x, 0) / xs.length;
    };
    expect(mean(0) - mean(1)).toBeCloseTo(3, 1);
  });
});

describe('worse than before', () => {
  const before = sweepCase(caseOf('stand, 10 Hz'), 1);

  test('is nothing that stayed as it was, or got better, or is new', () => {
    expect(worseThan(before, before)).toEqual([]);
    expect(worseThan(before, { ...before, rmse: 0, worst: 0 })).toEqual([]);
    expect(worseThan(undefined, before)).toEqual([]);
  });

  test('is what grew by more than chance makes it', () => {
    expect(worseThan(before, { ...before, rmse: before.rmse * 1.04 })).toEqual([]);
    expect(worseThan(before, { ...before, rmse: before.rmse * 1.05 + 0.011 })).toEqual(['rmse']);
    expect(worseThan(before, { ...before, trips: 1, sure: 0.01 })).toEqual(['trips', 'sure']);
  });
});

/**
 * What is worse than with version 0.1, and why that is meant: docs/reference/sweep.md has the figures.
 *
 * - A place or height that reports insist on is doubted while it is proved, also where it is none.
 * - Where one report in eight is off, the others are believed less, as on measured walks; here they are as good as ever.
 * - A circle of 5 m/s and 2 m, and a run whose reports come 75 ms late on average: the light makes up for each
 *   correction within 0.03 s. Version 0.1 did not: its light was two to four times as rough in all cases of a run.
 * - `sure` counts among the moments at full confidence, of which there are fewer now.
 */
const MEANT = [
  'walk, outliers 3 m for 0.6 s, 10 Hz: doubted',
  'walk, outliers 3 m for 0.6 s, 40 Hz: doubted',
  'stand, height 2 m off for 2 s, 40 Hz: doubted',
  'walk, outliers 3 m for 0.6 s, 10 Hz: rmse',
  'walk, outliers 3 m for 0.6 s, 40 Hz: rmse',
  'circle at 5 m/s, 40 Hz: rmse',
  'circle at 3 m/s, 30 % lost, 5 Hz: trips',
  'run, out of order by 150 ms, stamped, 10 Hz: sure',
  'run, out of order by 150 ms, stamped, 10 Hz: doubted',
  'run, out of order by 150 ms, 10 Hz: sure',
  'run, out of order by 150 ms, stamped, 40 Hz: rmse',
  'run, out of order by 150 ms, stamped, 40 Hz: sure',
  'run, out of order by 150 ms, 40 Hz: sure',
  'another place at once, 6 m, 10 Hz: sure',
];

test('no case is worse than with the tracker of version 0.1', () => {
  const file = new URL('../../fixtures/data/sweep/tracker-0.1.json', import.meta.url);
  const { seed, cases } = JSON.parse(readFileSync(file, 'utf8')) as {
    seed: number;
    cases: SweepResult[];
  };
  const before = new Map(cases.map(one => [one.name, one]));
  expect([...before.keys()]).toEqual(SWEEP_CASES.map(({ name }) => name));
  const nows = new Map(SWEEP_CASES.map(one => [one.name, sweepCase(one, seed)]));
  const worse = SWEEP_CASES.flatMap(one => {
    const earlier = before.get(one.name);
    const now = nows.get(one.name) as SweepResult;
    return worseThan(earlier, now).map(
      key => `${one.name}: ${key} ${earlier?.[key]} -> ${now[key]}`,
    );
  });
  const tripsAt5Hz = (results: readonly SweepResult[]) =>
    results.filter(({ name }) => name.includes(' 5 Hz')).reduce((sum, one) => sum + one.trips, 0);
  expect(tripsAt5Hz([...nows.values()])).toBeLessThan(0.7 * tripsAt5Hz(cases));
  expect(worse.filter(one => !MEANT.some(meant => one.startsWith(meant)))).toEqual([]);
});
