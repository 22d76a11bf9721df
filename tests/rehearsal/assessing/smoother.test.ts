import { describe, expect, it } from 'vitest';
import { type Series, smooth } from '../../../src/rehearsal/assessing/smoother.js';
import { seededSource } from '../../../src/rehearsal/sensors/random.js';

const seriesOf = (timesS: readonly number[], xs: readonly number[]): Series => ({
  timesS: Float64Array.from(timesS),
  xs: Float64Array.from(xs),
  ys: new Float64Array(xs.length),
  zs: new Float64Array(xs.length),
});

describe('smooth', () => {
  it('gives what statsmodels gives at uneven intervals', () => {
    // statsmodels 0.13.5, KalmanSmoother: transition [[1, T], [0, 1]], white acceleration of 1.5 m²/s³, observed
    // with variance 0.04, begun at (1, 0) with variances 1e4 and 9.
    const timesS = [0, 0.1, 0.22, 0.3, 0.55, 0.6, 0.95, 1.0, 1.3, 1.42];
    const measured = [1.0, 1.12, 1.31, 1.28, 1.71, 1.9, 2.4, 2.31, 2.2, 2.05];
    const places = [
      0.992285815, 1.13078431, 1.300294077, 1.415295578, 1.772928865, 1.83975132, 2.182252755,
      2.206023028, 2.230039903, 2.21034438,
    ];
    const speeds = [
      1.373060636, 1.397391395, 1.42749508, 1.447807886, 1.363000696, 1.306903914, 0.549690011,
      0.402471024, -0.135267367, -0.17856035,
    ];
    const variances = [
      0.018750090924, 0.011258054294, 0.008387628925, 0.008308422124, 0.009828676482,
      0.010148736643, 0.0107047908, 0.010620166704, 0.013852126595, 0.022658175284,
    ];
    const smoothed = smooth(seriesOf(timesS, measured), {
      accelerationDensity: 1.5,
      noiseM: 0.2,
      rounds: 0,
    });
    for (let i = 0; i < timesS.length; i++) {
      expect(smoothed.xs[i]).toBeCloseTo(places[i] as number, 7);
      expect(smoothed.vxs[i]).toBeCloseTo(speeds[i] as number, 7);
      expect(smoothed.variances[i]).toBeCloseTo(variances[i] as number, 8);
    }
  });

  it('leaves out a burst of outliers that a plain smoother follows', () => {
    const random = seededSource(1);
    const timesS = Array.from({ length: 400 }, (_, i) => i / 40);
    const isOff = (timeS: number) => timeS >= 4 && timeS < 4.5;
    const xs = timesS.map(t => t + 0.1 * random.normal() + (isOff(t) ? 3 : 0));
    const worst = (rounds: number) => {
      const smoothed = smooth(seriesOf(timesS, xs), {
        accelerationDensity: 2,
        noiseM: 0.3,
        rounds,
      });
      return Math.max(...timesS.map((t, i) => Math.abs((smoothed.xs[i] as number) - t)));
    };
    expect(worst(0)).toBeGreaterThan(2);
    expect(worst(8)).toBeLessThan(0.6);
  });

  it('gives back a single report, and nothing for none', () => {
    const options = { accelerationDensity: 2, noiseM: 0.3, rounds: 8 };
    expect(Array.from(smooth(seriesOf([1], [2]), options).xs)).toEqual([2]);
    expect(smooth(seriesOf([], []), options).xs).toHaveLength(0);
  });
});
