import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/rehearsal/sensors/random.js';
import { createSensorClock, isInDoubt, toOurTime } from '../../src/tracking/clock.js';

const FASTEST_S = 0.003;

/**
 * Reports at 40 Hz over a network that takes 3 ms and, exponentially, 4 ms more, and now and then up to 0.2 s.
 * @returns for each, our time less the true one beyond the fastest way, seconds
 */
function errors(seconds: number, stampOf: (timeS: number) => number) {
  const random = seededRandom(2);
  const clock = createSensorClock();
  const list: { atS: number; errorS: number }[] = [];
  let latestS = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < 40 * seconds; i++) {
    const atS = i / 40;
    const jam = random() < 0.01 ? 0.2 * random() : 0;
    const arrivalS = atS + FASTEST_S - 0.004 * Math.log(1 - random()) + jam;
    const ours = toOurTime(clock, stampOf(atS), arrivalS);
    latestS = Math.max(latestS, ours - arrivalS);
    list.push({ atS, errorS: Math.abs(ours - atS - FASTEST_S) });
  }
  expect(latestS, 'beyond its arrival').toBeLessThanOrEqual(0);
  return { clock, list };
}

function worst(list: readonly { atS: number; errorS: number }[], fromS: number, untilS: number) {
  return Math.max(
    ...list.filter(({ atS }) => atS >= fromS && atS < untilS).map(({ errorS }) => errorS),
  );
}

test('a clock that is right to start with knows nothing but the first report', () => {
  expect(toOurTime(createSensorClock(), 1_768_000_000, 12.5)).toBeCloseTo(12.5, 6);
});

describe('the lower envelope of the delays', () => {
  test('follows a clock that drifts by 80 ppm to a millisecond', () => {
    const { clock, list } = errors(300, timeS => 1000 + timeS * (1 + 80e-6));
    expect(worst(list, 5, 300)).toBeLessThan(0.001);
    expect(clock.steps).toBe(0);
  });

  test('and one that lags', () => {
    const { list } = errors(300, timeS => 1000 + timeS * (1 - 80e-6));
    expect(worst(list, 5, 300)).toBeLessThan(0.001);
  });

  test.each([5, -5])('survives a step of the sensor clock by %d s', stepS => {
    const { clock, list } = errors(60, timeS => 1000 + timeS + (timeS > 30 ? stepS : 0));
    expect(worst(list, 5, 30)).toBeLessThan(0.001);
    // Forwards it shows at once, backwards it might be a jam: a while later it is believed.
    expect(worst(list, 33, 60)).toBeLessThan(0.005);
    expect(clock.steps).toBe(1);
  });

  test('a jam of the network is not a step', () => {
    const clock = createSensorClock();
    let worstS = 0;
    for (let i = 0; i < 400; i++) {
      const atS = i / 40;
      // For a second nothing comes through, and then all at once.
      const arrivalS = atS >= 5 && atS < 6 ? 6 + (i - 200) * 1e-4 : atS + 0.003;
      const ours = toOurTime(clock, atS, arrivalS);
      worstS = Math.max(worstS, Math.abs(ours - atS - 0.003));
    }
    expect(clock.steps).toBe(0);
    expect(worstS).toBeLessThan(0.001);
  });
});

describe('a step back that is shorter than a jam may be', () => {
  test.each([0.1, 0.19, 0.24])('by %d s is followed within 10 s, and told', stepS => {
    const { clock, list } = errors(60, timeS => 1000 + timeS - (timeS > 30 ? stepS : 0));
    expect(worst(list, 5, 30)).toBeLessThan(0.002);
    expect(worst(list, 40, 60)).toBeLessThan(0.005);
    expect(clock.steps).toBe(1);
    expect(clock.steppedS).toBeCloseTo(-stepS, 2);
  });

  test('a jam of less than 4 s is not taken for one', () => {
    const { clock, list } = errors(
      60,
      timeS => 1000 + timeS - (timeS > 30 && timeS < 33.5 ? 0.2 : 0),
    );
    expect(clock.steps).toBe(0);
    expect(worst(list, 34, 60)).toBeLessThan(0.002);
  });
});

test('a jam that drains for a second is no step, however late its reports are', () => {
  const clock = createSensorClock();
  let worstS = 0;
  for (let i = 0; i < 400; i++) {
    const atS = i / 40;
    // From 5 s on 0.9 s late, and less and less until there is nothing left of it.
    const lateS = atS >= 5 ? Math.max(0, 0.9 - 0.6 * (atS - 5)) : 0;
    const ours = toOurTime(clock, atS, atS + 0.003 + lateS);
    worstS = Math.max(worstS, Math.abs(ours - atS - 0.003));
  }
  expect(clock.steps).toBe(0);
  expect(worstS).toBeLessThan(0.001);
});

test('while reports come too late for their stamps it is in doubt: until one is on time, or the step is believed', () => {
  const clock = createSensorClock();
  const doubtAt = (atS: number, lateS: number) => {
    toOurTime(clock, atS, atS + lateS);
    return isInDoubt(clock);
  };
  expect([0, 0.025, 0.05].map(atS => doubtAt(atS, 0.003))).toEqual([false, false, false]);
  expect([doubtAt(0.075, 0.5), doubtAt(0.1, 0.5), doubtAt(0.125, 0.1)]).toEqual([
    true,
    true,
    false,
  ]);
  expect([0.2, 0.4, 0.55, 0.65].map(atS => doubtAt(atS, 1))).toEqual([true, true, true, false]);
  expect(clock.steps).toBe(1);
});

describe('a clock that steps back by a second', () => {
  /** Without another delay than `jitterOf`; when, after the step at 10 s, our time is right again, seconds. */
  function followedAfterS(jitterOf: (i: number) => number): number {
    const clock = createSensorClock();
    for (let i = 0; ; i++) {
      const atS = i / 40;
      const stampS = atS < 10 ? atS : atS - 1;
      const ours = toOurTime(clock, stampS, atS + jitterOf(i));
      if (atS >= 10 && ours > atS - 0.1) return atS - 10;
      if (atS > 20) throw new Error('never followed');
    }
  }

  test('is followed once it has been so, steadily, for 0.4 s', () => {
    expect(followedAfterS(() => 0)).toBeCloseTo(0.4, 9);
    expect(followedAfterS(i => (i % 2) * 0.04)).toBeLessThan(0.5);
  });

  test('or at all for 2 s, on a network that delays each differently', () => {
    const after = followedAfterS(i => ((i * 7) % 10) * 0.02);
    // Less by how late the report is that decides.
    expect(after).toBeGreaterThan(1.8);
    expect(after).toBeLessThan(2.2);
  });
});
