import { describe, expect, test } from 'vitest';
import {
  averageStanding,
  FEWEST_REPORTS,
  type Report,
  type Standing,
} from '../../src/calibration/standing.js';
import { seededNormal } from '../../src/rehearsal/sensors/random.js';

const OPTIONS = { seconds: 10, mostDriftM: 0.15 };

/** A tracker at (3, 4, 1) whose noise is white and a first-order Gauss-Markov process of memory `tauS`. */
function reports(
  seed: number,
  { whiteM = 0.05, colouredM = 0, tauS = 1, rateHz = 20, seconds = 10 } = {},
): Report[] {
  const normal = seededNormal(seed);
  const keep = Math.exp(-1 / (rateHz * tauS));
  const bias = [normal(), normal(), normal()].map(one => colouredM * one);
  return Array.from({ length: rateHz * seconds + 1 }, (_, k) => {
    for (let i = 0; i < 3; i++) {
      bias[i] = keep * (bias[i] ?? 0) + Math.sqrt(1 - keep * keep) * colouredM * normal();
    }
    const [x = 0, y = 0, z = 0] = bias.map(one => one + whiteM * normal());
    return { timeS: 100 + k / rateHz, x: 3 + x, y: 4 + y, z: 1 + z };
  });
}

function standing(all: readonly Report[]): Standing {
  const result = averageStanding(all, OPTIONS);
  if (!result.ok) throw new Error(`refused: ${result.fault.kind}`);
  return result.standing;
}

describe('averaging a tracker that stands', () => {
  test('gives the mean, the span and the scatter', () => {
    const { mean, reports: count, spanS, ...rest } = standing(reports(1));
    expect(mean.x).toBeCloseTo(3, 1);
    expect(mean.y).toBeCloseTo(4, 1);
    expect(mean.z).toBeCloseTo(1, 1);
    expect(count).toBe(201);
    expect(spanS).toBeCloseTo(10, 9);
    expect(rest.longestGapS).toBeCloseTo(0.05, 9);
    expect(rest.spreadHorizontalM).toBeGreaterThan(0.045);
    expect(rest.spreadHorizontalM).toBeLessThan(0.055);
  });

  test.each([
    ['white', { whiteM: 0.05 }],
    ['coloured, memory 0.4 s', { whiteM: 0.03, colouredM: 0.04, tauS: 0.4 }],
  ])('the standard error is that of the means (%s)', (_, noise) => {
    let [actual, stated] = [0, 0];
    const runs = 300;
    for (let seed = 1; seed <= runs; seed++) {
      const { mean, errorM } = standing(reports(1000 + seed, noise));
      actual += ((mean.x - 3) ** 2 + (mean.y - 4) ** 2 + (mean.z - 1) ** 2) / 3 / runs;
      stated += errorM ** 2 / runs;
    }
    const ratio = Math.sqrt(stated / actual);
    expect(ratio).toBeGreaterThan(0.85);
    expect(ratio).toBeLessThan(1.35);
  });

  test('outliers are left out, told, and do not matter', () => {
    const clean = reports(3);
    const dirty = clean.map((report, i) =>
      i % 12 === 5 ? { ...report, x: report.x + 2 } : report,
    );
    const { mean, outliers } = standing(dirty);
    expect(outliers).toBeGreaterThanOrEqual(17);
    expect(outliers).toBeLessThan(20);
    expect(Math.abs(mean.x - standing(clean).mean.x)).toBeLessThan(0.005);
  });

  test('the order of the reports does not matter', () => {
    const all = reports(4);
    expect(standing([...all].reverse())).toEqual(standing(all));
  });

  test('a feed that does not move by a bit is fine', () => {
    const still = reports(5, { whiteM: 0 });
    expect(standing(still)).toMatchObject({ outliers: 0, driftM: 0 });
    expect(standing(still).errorM).toBeLessThan(1e-12);
  });

  test.each([
    ['none', []],
    ['few', reports(6).slice(0, FEWEST_REPORTS - 1)],
    ['short', reports(6).slice(0, 150)],
    ['moved', reports(6).map(report => ({ ...report, x: report.x + 0.03 * (report.timeS - 100) }))],
  ] as const)('%s is refused', (kind, all) => {
    const result = averageStanding(all, OPTIONS);
    expect(result.ok ? 'ok' : result.fault.kind).toBe(kind);
  });
});
