/** The region that holds the true place in 90 cases of 100: its shape, and how it learns from the reports. */
import { describe, expect, test } from 'vitest';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import { isInRegion90, predict, reach90 } from '../../src/tracking/predict.js';
import { createEstimate, type Estimate } from '../../src/tracking/sighting.js';
import { createTrack, TRACKER, type Track } from '../../src/tracking/track.js';
import { gaussian, sighting } from './support.js';

const OPTIONS = DEFAULT_TRACKING_OPTIONS;

function estimateOf(part: Partial<Estimate>): Estimate {
  return { ...createEstimate(), ...part };
}

describe('the region', () => {
  // Turned by 30 degrees, a standard deviation of 2 m along and 1 m across.
  const e = estimateOf({
    x: 3,
    y: -1,
    vx: Math.cos(Math.PI / 6),
    vy: Math.sin(Math.PI / 6),
    sigmaAlongM: 2,
    sigmaAcrossM: 1,
  });
  const at = (along: number, across: number): [number, number] => [
    3 + along * Math.cos(Math.PI / 6) - across * Math.sin(Math.PI / 6),
    -1 + along * Math.sin(Math.PI / 6) + across * Math.cos(Math.PI / 6),
  ];

  test('is an ellipse along the movement', () => {
    // sqrt(4.6052) = 2.1460 standard deviations (chi-square, 2 degrees of freedom, 90 %).
    expect(isInRegion90(e, ...at(2 * 2.145, 0))).toBe(true);
    expect(isInRegion90(e, ...at(2 * 2.147, 0))).toBe(false);
    expect(isInRegion90(e, ...at(0, -2.145))).toBe(true);
    expect(isInRegion90(e, ...at(0, -2.147))).toBe(false);
    expect(isInRegion90(e, ...at(2 * 1.6, 1.6))).toBe(false);
  });

  test('reaches along x and y as far as its edge does', () => {
    let [mostX, mostY] = [0, 0];
    for (let turn = 0; turn < 2 * Math.PI; turn += 1e-3) {
      const [x, y] = at(2 * 2.14597 * Math.cos(turn), 2.14597 * Math.sin(turn));
      mostX = Math.max(mostX, x - 3);
      mostY = Math.max(mostY, y + 1);
    }
    const [x, y] = reach90(e);
    expect(x).toBeCloseTo(mostX, 4);
    expect(y).toBeCloseTo(mostY, 4);
  });

  test('holds 90 of 100 draws of its own distribution', () => {
    const random = gaussian(4);
    const draws = 20_000;
    let inside = 0;
    for (let i = 0; i < draws; i++) {
      if (isInRegion90(e, ...at(2 * random(), random()))) inside++;
    }
    // Four standard deviations of a share of 20 000.
    expect(Math.abs(inside / draws - 0.9)).toBeLessThan(4 * Math.sqrt(0.09 / draws));
  });
});

describe('what the reports of late say of the noise', () => {
  /** Somebody who stands, seen with this noise for a while. */
  function spreadAt(noiseM: number, seconds: number): number {
    const track = createTrack(OPTIONS, 1);
    const random = gaussian(11);
    const estimate = createEstimate();
    for (let t = 0; t < seconds; t += 1 / 40) {
      observe(track, sighting(t, [noiseM * random(), noiseM * random(), 1]));
    }
    predict(track, seconds, estimate);
    return estimate.sigmaAcrossM;
  }

  test('leaves the region alone as long as they are no worse than declared', () => {
    const quiet = spreadAt(0.02, 20);
    expect(spreadAt(0.1, 20)).toBeLessThan(1.5 * quiet);
  });

  test('widens it when they are worse, and takes it back when they are good again', () => {
    const bad = spreadAt(0.4, 20);
    expect(bad).toBeGreaterThan(2 * spreadAt(0.1, 20));
    const track = createTrack(OPTIONS, 1);
    const random = gaussian(12);
    const estimate = createEstimate();
    for (let t = 0; t < 40; t += 1 / 40) {
      const noiseM = t < 20 ? 0.4 : 0.05;
      observe(track, sighting(t, [noiseM * random(), noiseM * random(), 1]));
    }
    predict(track, 40, estimate);
    expect(estimate.sigmaAcrossM).toBeLessThan(bad / 2);
  });
});

describe('by how much it grows', () => {
  const spreadOf = (change: (track: Track) => void) => {
    const track = createTrack(OPTIONS, 2);
    const estimate = createEstimate();
    for (let i = 0; i < 240; i++) observe(track, sighting(i / 40, [0, 0, 1], i % 2));
    change(track);
    predict(track, 6, estimate);
    return estimate.sigmaAcrossM ** 2 - OPTIONS.hiddenBiasM ** 2;
  };
  const usual = spreadOf(() => {});

  test.each([
    [0, 0],
    [0.15, 0],
    [0.2, 0.05],
    [0.65, 0.5],
  ])(
    'with innovations of %d m by their median, over the 0.15 m that are declared, by 3.8 times %d m',
    (medianM, moreM) => {
      const grown = spreadOf(({ trackers }) => {
        trackers[TRACKER.innovationM] = medianM;
        trackers[TRACKER.count + TRACKER.innovationM] = medianM;
      });
      expect(grown - usual).toBeCloseTo((3.8 * moreM) ** 2, 9);
    },
  );

  test('a tracker that is silent by now does not vouch for one that is often off', () => {
    const off = (silentS: number) =>
      spreadOf(({ trackers }) => {
        trackers[TRACKER.count + TRACKER.innovationM] = 0.65;
        trackers[TRACKER.lastS] = 6 - silentS;
      });
    expect(off(0.1)).toBeCloseTo(usual, 12);
    expect(off(1.1) - usual).toBeCloseTo((3.8 * 0.5) ** 2, 9);
  });

  test('the median goes by 3 % a report, up or down, and never below what is declared', () => {
    const track = createTrack(OPTIONS, 1);
    for (let i = 0; i < 240; i++) observe(track, sighting(i / 40, [0, 0, 1]));
    expect(track.trackers[TRACKER.innovationM]).toBeCloseTo(0.15 / 1.03, 9);
    track.trackers[TRACKER.innovationM] = 0.3;
    observe(track, sighting(6, [0, 0, 1]));
    expect(track.trackers[TRACKER.innovationM]).toBeCloseTo(0.3 / 1.03, 9);
    observe(track, sighting(6.025, [1, 0, 1]));
    expect(track.trackers[TRACKER.innovationM]).toBeCloseTo(0.3, 9);
  });

  test('that of the height, by the speed up and down times the uncertainty of the time', () => {
    const sigmaAt = (timingS: number) => {
      const track = createTrack({ ...OPTIONS, timingS }, 1);
      const estimate = createEstimate();
      for (let i = 0; i < 240; i++) observe(track, sighting(i / 40, [0, 0, i / 40]));
      predict(track, 6, estimate);
      return estimate;
    };
    const { vz, sigmaVerticalM } = sigmaAt(0.3);
    expect(vz).toBeGreaterThan(0.5);
    expect(sigmaVerticalM ** 2 - sigmaAt(0).sigmaVerticalM ** 2).toBeCloseTo((0.3 * vz) ** 2, 9);
  });

  test('by the speed, as who runs may stop or turn', () => {
    const spreadAt = (speedMps: number) => {
      const track = createTrack(OPTIONS, 1);
      const estimate = createEstimate();
      for (let i = 0; i < 240; i++) observe(track, sighting(i / 40, [(speedMps * i) / 40, 0, 1]));
      predict(track, 6.5, estimate);
      return estimate.sigmaAcrossM;
    };
    expect(spreadAt(4)).toBeGreaterThan(1.3 * spreadAt(1));
  });
});

test('along the movement it has the speed times the uncertainty of the time more, and the spread half of that', () => {
  const track = createTrack({ ...OPTIONS, timingS: 0.1 }, 1);
  const estimate = createEstimate();
  for (let t = 0; t < 6; t += 1 / 40) observe(track, sighting(t, [0, 2 * t, 1]));
  predict(track, 6, estimate);
  const { vx, vy, sigmaAlongM, sigmaAcrossM, sigmaHorizontalM } = estimate;
  const timing = 0.1 ** 2 * (vx * vx + vy * vy);
  expect(timing).toBeGreaterThan(0.02);
  expect(sigmaAlongM ** 2 - sigmaAcrossM ** 2).toBeCloseTo(timing, 9);
  expect(sigmaHorizontalM ** 2 - sigmaAcrossM ** 2).toBeCloseTo(timing / 2, 9);
});
