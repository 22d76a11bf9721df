import { describe, expect, test } from 'vitest';
import { addAnchor, geometry, planDilution } from '../../../src/planning/dilution.js';
import {
  type AnchorSensorOptions,
  isHidden,
  simulateAnchorSensor,
} from '../../../src/rehearsal/sensors/anchor-sensor.js';
import { DEFAULT_SENSOR } from '../../../src/rehearsal/sensors/sensor.js';
import type { Truth } from '../../../src/rehearsal/sensors/truth.js';

const corner = (x: number, y: number) => ({ name: `${x}/${y}`, position: { x, y, z: 4 } });
const HALL: AnchorSensorOptions = {
  anchors: [corner(0, 0), corner(10, 0), corner(10, 8), corner(0, 8), corner(5, 0), corner(5, 8)],
  obstacles: [],
  ranging: { by: 'range', errorM: 0.1 },
  heightM: 1.7,
  wornAtM: 1.3,
};
const SENSOR = { ...DEFAULT_SENSOR, timeJitter: 0, colouredShare: 0 };

function stand(x: number, y: number, z: number, seconds: number): Truth {
  return {
    timesS: Float64Array.of(0, seconds),
    xs: Float64Array.of(x, x),
    ys: Float64Array.of(y, y),
    zs: Float64Array.of(z, z),
  };
}

describe('a body', () => {
  const at = { x: 5, y: 4, z: 1.3 };

  test('hides what is in front of it, for its tracker is on the back', () => {
    expect(isHidden(at, { x: 10, y: 4, z: 2 }, 0, HALL)).toBe(true);
    expect(isHidden(at, { x: 0, y: 4, z: 2 }, 0, HALL)).toBe(false);
    expect(isHidden(at, { x: 0, y: 4, z: 2 }, Math.PI, HALL)).toBe(true);
  });

  test('hides nothing that is overhead', () => {
    expect(isHidden(at, { x: 5.2, y: 4, z: 9 }, Math.PI, HALL)).toBe(false);
  });

  test('is beside the walls that hide whatever is behind them', () => {
    const solid = {
      kind: 'box',
      min: { x: 7, y: 0, z: 0 },
      max: { x: 7.2, y: 8, z: 5 },
    } as const;
    const walled = { ...HALL, obstacles: [{ name: 'flat', solid }] };
    expect(isHidden(at, { x: 10, y: 4, z: 2 }, Math.PI, walled)).toBe(true);
    expect(isHidden(at, { x: 0, y: 4, z: 2 }, 0, walled)).toBe(false);
  });
});

/** A tracker overhead that nothing hides: its errors are those that the geometry of the anchors gives. */
test.each(['range', 'time-difference'] as const)(
  'with every anchor in view the error is the dilution of precision (%s)',
  by => {
    const open = { ...HALL, wornAtM: 0, heightM: 0.01, ranging: { by, errorM: 0.1 } };
    const reports = simulateAnchorSensor(stand(3, 5, 1.5, 250), SENSOR, open, 4);
    expect(reports).toHaveLength(250 * 40 + 1);
    const square = reports.reduce((sum, { x, y }) => sum + (x - 3) ** 2 + (y - 5) ** 2, 0);
    const sums = geometry();
    for (const { position } of open.anchors) {
      addAnchor(sums, position.x - 3, position.y - 5, position.z - 1.5);
    }
    // Held against the published values of tests/reference/dilution.test.ts. 10 000 reports: 0.7 % of sigma.
    const rms = Math.sqrt(square / reports.length);
    expect(rms / (0.1 * planDilution(sums, by))).toBeGreaterThan(0.97);
    expect(rms / (0.1 * planDilution(sums, by))).toBeLessThan(1.03);
  },
);

describe('behind the body', () => {
  const reports = simulateAnchorSensor(stand(5, 4, 1.3, 120), SENSOR, HALL, 9);
  const errors = reports.map(({ x, y }) => Math.hypot(x - 5, y - 4));

  test('errors are large, and come in bursts that last', () => {
    const far = errors.map(error => error > 0.35);
    const share = far.filter(Boolean).length / far.length;
    expect(share).toBeGreaterThan(0.05);
    const bursts = far.filter((now, i) => now && far[i - 1] !== true).length;
    // By chance alone a burst of a share p is 1 / (1 - p) long.
    expect((share * far.length) / bursts).toBeGreaterThan(2 / (1 - share));
  });

  test('places are drawn the same way for as long as they stand and face there', () => {
    const half = Math.floor(reports.length / 2);
    const mean = (from: number, to: number) =>
      reports
        .slice(from, to)
        .reduce((sum, { x, y }) => [sum[0] + x - 5, sum[1] + y - 4] as [number, number], [0, 0] as [
          number,
          number,
        ])
        .map(value => value / (to - from)) as [number, number];
    const [one, other] = [mean(0, half), mean(half, reports.length)];
    expect(Math.hypot(...one)).toBeGreaterThan(0.03);
    expect(one[0] * other[0] + one[1] * other[1]).toBeGreaterThan(0);
  });

  test('and the same for the same seed', () => {
    const again = simulateAnchorSensor(stand(5, 4, 1.3, 120), SENSOR, HALL, 9);
    expect(again).toEqual(reports);
    expect(simulateAnchorSensor(stand(5, 4, 1.3, 120), SENSOR, HALL, 10)).not.toEqual(reports);
  });
});

test('with fewer than three anchors nothing is reported', () => {
  const two = { ...HALL, anchors: HALL.anchors.slice(0, 2) };
  expect(simulateAnchorSensor(stand(5, 4, 1.3, 5), SENSOR, two, 1)).toEqual([]);
});
