import { describe, expect, test } from 'vitest';
import {
  DEFAULT_SENSOR,
  type SensorOptions,
  simulateSensor,
} from '../../../src/rehearsal/sensors/sensor.js';
import { speedAt, type Truth, truthAt } from '../../../src/rehearsal/sensors/truth.js';

/** A straight walk of 1 m/s, two instants. */
const WALK: Truth = {
  timesS: Float64Array.of(0, 400),
  xs: Float64Array.of(0, 400),
  ys: Float64Array.of(0, 0),
  zs: Float64Array.of(1.5, 1.5),
};
const QUIET: SensorOptions = { ...DEFAULT_SENSOR, outlierShare: 0, dropoutsPerS: 0, shadowM: 0 };

function errorsOf(options: SensorOptions, seed = 5) {
  return simulateSensor(WALK, options, seed).map(({ timeS, x, y }) => ({ timeS, x: x - timeS, y }));
}

function deviation(values: readonly number[]): number {
  return Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
}

describe('truth', () => {
  test('is interpolated, and stays at its ends', () => {
    const out = { x: 0, y: 0, z: 0 };
    truthAt(WALK, 12.5, 0, out);
    expect(out).toEqual({ x: 12.5, y: 0, z: 1.5 });
    truthAt(WALK, -3, 0, out);
    expect(out.x).toBe(0);
    truthAt(WALK, 500, 0, out);
    expect(out.x).toBe(400);
    expect(speedAt(WALK, 20, 0)).toBeCloseTo(1, 9);
  });
});

describe('the simulated sensor', () => {
  test('is the same for the same seed, and another for another', () => {
    expect(simulateSensor(WALK, DEFAULT_SENSOR, 5)).toEqual(
      simulateSensor(WALK, DEFAULT_SENSOR, 5),
    );
    expect(simulateSensor(WALK, DEFAULT_SENSOR, 6)).not.toEqual(
      simulateSensor(WALK, DEFAULT_SENSOR, 5),
    );
  });

  test('has the noise and the colour asked of it', () => {
    const errors = errorsOf({ ...QUIET, timeJitter: 0 });
    expect(errors).toHaveLength(400 * 40 + 1);
    for (const axis of ['x', 'y'] as const) {
      const values = errors.map(error => error[axis]);
      const sigma = deviation(values);
      // 400 s of noise that lasts 0.4 s are some 500 independent values: 3 % of sigma; three of those.
      expect(Math.abs(sigma - 0.1)).toBeLessThan(0.01);
      const lag1 =
        values.slice(1).reduce((sum, value, i) => sum + value * (values[i] as number), 0) /
        (values.length * sigma ** 2);
      expect(lag1).toBeCloseTo(0.64 * Math.exp(-1 / (40 * 0.4)), 1);
    }
  });

  test('has the share of outliers asked of it, in bursts', () => {
    const far = errorsOf({ ...QUIET, noiseM: 0.01, outlierShare: 0.05 }).map(
      ({ x, y }) => Math.hypot(x, y) > 0.5,
    );
    const share = far.filter(Boolean).length / far.length;
    expect(share).toBeGreaterThan(0.035);
    expect(share).toBeLessThan(0.065);
    const bursts = far.filter((now, i) => now && far[i - 1] !== true).length;
    expect((share * far.length) / bursts).toBeGreaterThan(3);
    expect((share * far.length) / bursts).toBeLessThan(5);
  });

  test('falls silent for up to the time asked of it', () => {
    const times = errorsOf({ ...QUIET, dropoutsPerS: 0.2 }).map(({ timeS }) => timeS);
    const gaps = times.slice(1).map((timeS, i) => timeS - (times[i] as number));
    const longest = Math.max(...gaps);
    expect(longest).toBeLessThan(1.1);
    expect(gaps.filter(gap => gap > 0.1).length).toBeGreaterThan(40);
  });

  test('a body pulls the position backwards, along the way it faces', () => {
    const shadowed = errorsOf({ ...QUIET, noiseM: 0, shadowM: 0.2 });
    // Beyond the middle the walker faces away from it: fully shadowed; before it, not at all.
    const late = shadowed.filter(({ timeS }) => timeS > 220).map(({ x }) => x);
    const early = shadowed.filter(({ timeS }) => timeS > 20 && timeS < 180).map(({ x }) => x);
    expect(late.reduce((a, b) => a + b) / late.length).toBeCloseTo(-0.2, 2);
    expect(early.reduce((a, b) => a + b) / early.length).toBeCloseTo(0, 2);
  });
});
