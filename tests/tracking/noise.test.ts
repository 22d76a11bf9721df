/** Noise beyond what is declared is learnt from the reports themselves, within bounds. */
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { assess, type Passage } from '../../src/rehearsal/assessing/assess.js';
import { parseRecording } from '../../src/rehearsal/assessing/recording.js';
import { DEFAULT_SENSOR, simulateSensor } from '../../src/rehearsal/sensors/sensor.js';
import { noiseShareOf } from '../../src/tracking/noise.js';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS, optionsForNoise } from '../../src/tracking/options.js';
import { createTrack, TRACKER } from '../../src/tracking/track.js';
import { gaussian, sighting } from './support.js';

const OPTIONS = DEFAULT_TRACKING_OPTIONS;
const AT_ONCE = { horizonS: 0.1, latencyS: 0, lagS: 0 };
const DECLARED_M = OPTIONS.horizontal.whiteM;

function truthsOf(name: string) {
  const file = new URL(`../fixtures/data/tracking/${name}.csv`, import.meta.url);
  const result = parseRecording(readFileSync(file, 'utf8'));
  if (!result.ok || result.value.kind !== 'truth') throw new Error(`no truth in ${name}`);
  return result.value.truths;
}

/** Shares of the declared noise after each report: what the filter takes the sensor for. */
function sharesAt(
  noiseM: (t: number) => number,
  { rateHz = 40, seconds = 20, speedMps = 0 } = {},
): number[] {
  const track = createTrack(OPTIONS, 1);
  const random = gaussian(3);
  return Array.from({ length: rateHz * seconds }, (_, i) => {
    const t = i / rateHz;
    const m = noiseM(t);
    observe(track, sighting(t, [speedMps * t + m * random(), m * random(), 1]));
    return noiseShareOf(track, 0);
  });
}

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;

describe('the noise of a sensor', () => {
  test('that is as declared, or better, is taken as declared, however fast it is carried', () => {
    for (const speedMps of [0, 3, 8]) {
      expect(mean(sharesAt(() => DECLARED_M, { speedMps }))).toBeLessThan(1.03);
      expect(Math.max(...sharesAt(() => 0.02, { speedMps }))).toBe(1);
    }
  });

  test('that is worse is learnt, and forgotten when it gets better', () => {
    const shares = sharesAt(t => (t < 10 ? 2 : 0.5) * DECLARED_M);
    // 1 + 4 (2 - 1.3) = 3.8, with the unrest of a running median.
    expect(mean(shares.slice(200, 400))).toBeGreaterThan(3);
    expect(mean(shares.slice(200, 400))).toBeLessThanOrEqual(4);
    expect(Math.max(...shares.slice(600))).toBe(1);
  });

  test('is not learnt from a walk whose reports come unevenly', () => {
    const track = createTrack(OPTIONS, 1);
    const random = gaussian(5);
    // Every third and fourth report is lost, at a run: a second difference has 9 m/s x 0.1 s of it left, no noise.
    for (let i = 0; i < 1200; i++) {
      if (i % 4 > 1) continue;
      const t = i / 20;
      observe(track, sighting(t, [9 * t + 0.02 * random(), 0.02 * random(), 1]));
    }
    expect(noiseShareOf(track, 0)).toBe(1);
  });

  test('nor from the turns between reports that come slowly', () => {
    const track = createTrack(OPTIONS, 1);
    for (let i = 0; i < 400; i++) {
      const t = i / 4;
      observe(track, sighting(t, [2 * Math.cos(2.5 * t), 2 * Math.sin(2.5 * t), 1]));
    }
    const offShare = track.trackers[TRACKER.offShare] as number;
    expect(noiseShareOf(track, 0)).toBe(1 + 8 * Math.max(0, offShare - 0.03));
  });

  test('is bounded: four times what is declared at most', () => {
    const shares = sharesAt(() => 3);
    // And by what the share of reports that are off adds, 8 (1 - 0.03) at most.
    expect(Math.max(...shares)).toBeGreaterThanOrEqual(4);
    expect(Math.max(...shares)).toBeLessThan(4 + 8 * 0.97);
  });

  test('is not learnt from bursts of outliers, but for their share', () => {
    const track = createTrack(OPTIONS, 1);
    const random = gaussian(5);
    for (let i = 0; i < 800; i++) {
      // Every second five reports that are 3 m off.
      const off = i % 40 < 5 ? 3 : 0;
      observe(track, sighting(i / 40, [off + 0.05 * random(), 0.05 * random(), 1]));
      const offShare = track.trackers[TRACKER.offShare] as number;
      // A share of one in eight, about half of which 20 s show: where some are off, the rest wander.
      expect(noiseShareOf(track, 0)).toBe(1 + 8 * Math.max(0, offShare - 0.03));
      expect(offShare).toBeLessThan(0.125);
    }
    expect(noiseShareOf(track, 0)).toBeGreaterThan(1.1);
  });

  test.each([10, 25, 40])('is not learnt from the turns of dancers, at %i Hz', rateHz => {
    for (const name of ['dance05_06_head', 'dance05_17_head', 'dance05_18_head']) {
      const track = createTrack(OPTIONS, 1);
      const clean = { ...DEFAULT_SENSOR, rateHz, noiseM: 0.03, outlierShare: 0, shadowM: 0 };
      for (const report of simulateSensor(truthsOf(name)[0] as never, clean, 1)) {
        observe(track, report);
        expect(noiseShareOf(track, 0)).toBe(1);
      }
    }
  });

  test('of each of several trackers is its own', () => {
    const track = createTrack(OPTIONS, 2);
    const random = gaussian(9);
    for (let i = 0; i < 800; i++) {
      observe(track, sighting(i / 40, [0.05 * random(), 0.05 * random(), 1], 0));
      observe(track, sighting(i / 40, [0.4 * random(), 0.4 * random(), 1], 1));
    }
    expect(noiseShareOf(track, 0)).toBe(1);
    expect(noiseShareOf(track, 1)).toBeGreaterThan(3);
  });
});

/** The sensor of `assess`, two and three times as noisy as it is there, with nothing declared. */
test.each([0.2, 0.3])(
  'with %d m of noise that nobody declared it is no worse than holding',
  noiseM => {
    for (const name of ['dance05_17_head', 'basketball06_13_hips', 'pedestrian_corridor_25hz']) {
      const passages = [500, 501].flatMap(seed =>
        truthsOf(name).map(
          (truth, person): Passage => ({
            truth,
            sightings: simulateSensor(truth, { ...DEFAULT_SENSOR, noiseM }, seed * 1000 + person),
          }),
        ),
      );
      const { ours, hold } = assess(passages, OPTIONS, AT_ONCE, undefined, []);
      expect(ours.rmse / hold.rmse).toBeLessThan(0.95);
      // Declared, it is better still: what is learnt comes late, and with unrest.
      const declared = assess(passages, optionsForNoise(1.5 * noiseM), AT_ONCE, undefined, []);
      expect(declared.ours.rmse).toBeLessThan(ours.rmse);
    }
  },
);
