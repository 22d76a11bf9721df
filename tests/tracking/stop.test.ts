/** Who runs at 4 m/s starts and stops at 12 m/s², seen by a sensor of 0.1 m at 40 Hz: what the aim makes of it. */
import { describe, expect, test } from 'vitest';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate } from '../../src/tracking/sighting.js';
import { createTrack } from '../../src/tracking/track.js';
import { gaussian } from './support.js';

const SPEED_MPS = 4;
const PULL_MPS2 = 12;
const RAMP_S = SPEED_MPS / PULL_MPS2;
const START_S = 3;
const STOP_S = 5.8;
const TICK_S = 1 / 40;
const HORIZON_S = 0.1;
const RUNS = 60;

function placeAt(timeS: number): number {
  const along = (sinceS: number) => {
    const u = Math.min(Math.max(0, sinceS), RAMP_S);
    return (PULL_MPS2 * u * u) / 2 + SPEED_MPS * Math.max(0, sinceS - RAMP_S);
  };
  return along(timeS - START_S) - along(timeS - STOP_S);
}

interface Figures {
  /** Mean of how far the aim goes beyond the end, metres. */
  overshootM: number;
  /** Mean of the hardest acceleration of the aim at the start, m/s². */
  startMps2: number;
  /** By how much the aim is behind in the middle of the run, seconds. */
  lagS: number;
  /** RMS speed of the aim before the start, m/s. */
  stillMps: number;
}

function run(ageS: number): Figures {
  const random = gaussian(17);
  const estimate = createEstimate();
  const sums = { overshoot: 0, start: 0, lag: 0, lags: 0, moved2: 0, moves: 0 };
  for (let n = 0; n < RUNS; n++) {
    const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
    let [next, before, last, overshoot, start] = [n / RUNS / 40, Number.NaN, Number.NaN, 0, 0];
    for (let tick = 0; tick < 300; tick++) {
      const nowS = tick * TICK_S;
      for (; next + ageS <= nowS; next += 1 / 40) {
        const [x, y] = [placeAt(next) + 0.1 * random(), 0.1 * random()];
        observe(track, { tracker: 0, timeS: next, arrivalS: next + ageS, x, y, z: 1, quality: 1 });
      }
      const atS = nowS + HORIZON_S;
      if (!predict(track, atS, estimate, nowS)) continue;
      if (atS > STOP_S) overshoot = Math.max(overshoot, estimate.x - placeAt(20));
      if (atS > START_S && atS < START_S + RAMP_S + 0.5) {
        start = Math.max(start, Math.abs(estimate.x - 2 * last + before) / TICK_S ** 2);
      }
      if (atS > START_S + 1 && atS < STOP_S) {
        sums.lag += (placeAt(atS) - estimate.x) / SPEED_MPS;
        sums.lags++;
      }
      if (atS > 1.5 && atS < START_S) {
        sums.moved2 += (estimate.x - last) ** 2;
        sums.moves++;
      }
      before = last;
      last = estimate.x;
    }
    sums.overshoot += overshoot;
    sums.start += start;
  }
  return {
    overshootM: sums.overshoot / RUNS,
    startMps2: sums.start / RUNS,
    lagS: sums.lag / sums.lags,
    stillMps: Math.sqrt(sums.moved2 / sums.moves) / TICK_S,
  };
}

describe('starting and stopping at 4 m/s', () => {
  const fresh = run(0);

  test('overshoots the end by no more than 0.30 m', () => {
    expect(fresh.overshootM).toBeLessThanOrEqual(0.3);
    expect(fresh.overshootM).toBeGreaterThan(0);
  });

  test('and by no more than 0.55 m where the sensor is 0.15 s old', () => {
    expect(run(0.15).overshootM).toBeLessThanOrEqual(0.55);
  });

  test('lags by no more than 45 ms in between', () => {
    expect(fresh.lagS).toBeLessThanOrEqual(0.045);
  });

  test('does not twitch at the start, and stands still before it', () => {
    expect(fresh.startMps2).toBeLessThanOrEqual(320);
    expect(fresh.stillMps).toBeLessThanOrEqual(0.4);
  });
});
