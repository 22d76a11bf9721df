/**
 * How good the tracking is, with one set of options for everything, against recordings of real movement and
 * real radio (tests/fixtures/data/tracking/README.md has sources and licences). What is not met is not
 * here but in docs/concepts/tracking.md: containment of the calibrated trolley.
 */
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { type Assessment, assess, type Passage } from '../../src/rehearsal/assessing/assess.js';
import {
  parseRecording,
  passagesOf,
  type Recording,
  RUNS,
} from '../../src/rehearsal/assessing/recording.js';
import { compare, ratioToHold } from '../../src/rehearsal/assessing/summary.js';
import { DEFAULT_SENSOR, simulateSensor } from '../../src/rehearsal/sensors/sensor.js';
import { type Truth, truthAt } from '../../src/rehearsal/sensors/truth.js';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate, type Sighting } from '../../src/tracking/sighting.js';
import { createTrack, type Track } from '../../src/tracking/track.js';

const AT_ONCE = { horizonS: 0.1, latencyS: 0, lagS: 0 };
/**
 * By how much the times in a recording come after its truth, found by src/rehearsal/assessing/offset.ts: the walks' lag, the
 * trolley's tag 0 leads, and who predicts rightly would be that much too far ahead.
 */
function lagOf(name: string): number {
  if (name.startsWith('uwb_walk')) return 0.18;
  return name.startsWith('uwb_trolley_fast_8anchor') ? -0.08 : 0;
}

function load(name: string): Recording {
  const file = new URL(`../fixtures/data/tracking/${name}.csv`, import.meta.url);
  const result = parseRecording(readFileSync(file, 'utf8'));
  if (!result.ok) throw new Error(result.faults.join('\n'));
  return result.value;
}

function truths(name: string): readonly Truth[] {
  const recording = load(name);
  if (recording.kind !== 'truth') throw new Error(`${name} has reports`);
  return recording.truths;
}

/** As `lampwright assess` has them with --seed 1. */
function passages(name: string): readonly Passage[] {
  return passagesOf(load(name), { seed: 1 });
}

const MEASURED = [
  'uwb_trolley_fast_8anchor_cal',
  'uwb_trolley_fast_8anchor_raw',
  'uwb_walk_los_B4',
  'uwb_walk_nlos_B4',
  'uwb_walk_nlos_A2_longrange',
];
const SIMULATED = [
  'dance05_06_head',
  'dance05_17_head',
  'dance05_18_head',
  'dance05_20_head',
  'basketball06_13_hips',
  'pedestrian_corridor_25hz',
];
const results = new Map<string, Assessment>(
  [...MEASURED, ...SIMULATED].map(name => {
    return [
      name,
      // Without the peers: docs/reference/assessment.md has those.
      assess(
        passages(name),
        DEFAULT_TRACKING_OPTIONS,
        { ...AT_ONCE, lagS: lagOf(name) },
        undefined,
        [],
      ),
    ];
  }),
);
const of = (names: readonly string[]) => names.map(name => results.get(name) as Assessment);

/** A jump while the truth stands counts as movement, and ticks show it that reports did not. */
const RESTLESS = new Set([
  'uwb_walk_nlos_B4',
  'uwb_walk_nlos_A2_longrange',
  'basketball06_13_hips',
]);
/** 99.8 %: docs/concepts/tracking.md says why. */
const TOO_SURE = 'uwb_trolley_fast_8anchor_cal';

describe.each([...results])('%s', (name, assessment) => {
  const { ours, hold } = assessment;
  test('is not more than 2 % worse than holding the last report, as far as so short a recording can tell', () => {
    const { ratio, low } = ratioToHold(assessment);
    expect(Number.isNaN(low) ? ratio : low).toBeLessThanOrEqual(1.02);
    expect(ratio).toBeLessThanOrEqual(1.03);
  });

  if (!RESTLESS.has(name) && !Number.isNaN(ours.jitter)) {
    test('stands still where the performer does', () => {
      expect(ours.jitter / hold.jitter).toBeLessThanOrEqual(0.3);
    });
  }

  if (name !== TOO_SURE) {
    test('the 90 % region holds about as much', () => {
      expect(ours.containment90).toBeGreaterThanOrEqual(0.8);
      expect(ours.containment90).toBeLessThanOrEqual(0.98);
    });
  }
});

/** What the comparison with the peers says of the tracker as it is: docs/reference/assessment.md. */
test('over all of one kind it is far better than holding', () => {
  expect(compare(of(MEASURED)).ours.rmse).toBeLessThanOrEqual(0.55);
  expect(compare(of(SIMULATED)).ours.rmse).toBeLessThanOrEqual(0.55);
});

/** Pooled runs hide a bad one: each run of some seconds by itself, with the seeds of nothing else. */
test('the 90 % region holds about as much in single simulated runs, 19 times of 20', () => {
  const shares = SIMULATED.flatMap(name =>
    Array.from({ length: RUNS }, (_, run) => {
      const passages = truths(name).map((truth, person) => ({
        truth,
        sightings: simulateSensor(truth, DEFAULT_SENSOR, (300 + run) * 1000 + person),
      }));
      return assess(passages, DEFAULT_TRACKING_OPTIONS, AT_ONCE, undefined, []).ours.containment90;
    }),
  );
  const good = shares.filter(share => share >= 0.8 && share <= 0.98);
  expect(good.length / shares.length).toBeGreaterThanOrEqual(0.95);
});

/** Not after every one: docs/concepts/tracking.md says after how many. */
test('after a second without reports it is back within 0.3 m in 0.4 s in 98 of 100 cases', () => {
  const sensor = { ...DEFAULT_SENSOR, dropoutsPerS: 0 };
  const back = SIMULATED.flatMap(truths).flatMap(truth =>
    [77, 78, 79].flatMap(seed => {
      const sightings = simulateSensor(truth, sensor, seed);
      return gapsOf(truth, sightings);
    }),
  );
  expect(back.length).toBeGreaterThan(600);
  expect(back.filter(Boolean).length / back.length).toBeGreaterThanOrEqual(0.98);
});

/** Whether it is back after each of the gaps of a recording, each cut into it for itself. */
function gapsOf(truth: Truth, sightings: readonly Sighting[]): boolean[] {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
  const gaps: boolean[] = [];
  const endS = truth.timesS.at(-1) ?? 0;
  let next = 0;
  for (let gapS = (truth.timesS[0] ?? 0) + 1.5; gapS + 1.5 < endS; gapS += 0.7) {
    for (; (sightings[next]?.timeS ?? Number.POSITIVE_INFINITY) <= gapS; next++)
      observe(track, sightings[next] as Sighting);
    gaps.push(isBack(truth, structuredClone(track), sightings.slice(next), gapS + 1));
  }
  return gaps;
}

function isBack(
  truth: Truth,
  track: Track,
  sightings: readonly Sighting[],
  untilS: number,
): boolean {
  const estimate = createEstimate();
  const at = { x: 0, y: 0, z: 0 };
  for (const sighting of sightings) {
    const { timeS } = sighting;
    if (timeS < untilS) continue;
    observe(track, sighting);
    if (timeS > untilS + 0.4) return false;
    predict(track, timeS, estimate);
    truthAt(truth, timeS, 0, at);
    if (Math.hypot(estimate.x - at.x, estimate.y - at.y) < 0.3) return true;
  }
  return false;
}
