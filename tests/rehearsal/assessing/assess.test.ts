import { describe, expect, test } from 'vitest';
import {
  assess,
  type Passage,
  ratioTo,
  type Step,
} from '../../../src/rehearsal/assessing/assess.js';
import type { PeerSetting } from '../../../src/rehearsal/assessing/peers.js';
import { passagesOf } from '../../../src/rehearsal/assessing/recording.js';
import { compare } from '../../../src/rehearsal/assessing/summary.js';
import { drawFronts } from '../../../src/rehearsal/charts/front-picture.js';
import { drawHorizonCurves, horizonCurve } from '../../../src/rehearsal/charts/horizon-curve.js';
import type { Truth } from '../../../src/rehearsal/sensors/truth.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../../src/tracking/options.js';

const RATE_HZ = 40;
const LENGTH_S = 30;
const AT_ONCE = { horizonS: 0.1, latencyS: 0, lagS: 0 };
const DAMPED: PeerSetting = {
  kind: 'dampedVelocity',
  memoryS: 100,
  accelerationDensity: 1,
  noiseM: 0.1,
};

/** 1 m/s in a straight line, without any noise; in the file each place comes `lagS` late. */
function walk(lagS = 0, silent: (t: number) => boolean = () => false): Passage {
  const timesS = Float64Array.from({ length: RATE_HZ * LENGTH_S + 1 }, (_, i) => i / RATE_HZ);
  const truth: Truth = {
    timesS,
    xs: timesS,
    ys: new Float64Array(timesS.length),
    zs: new Float64Array(timesS.length),
  };
  const sightings = [...timesS]
    .filter(t => !silent(t))
    .map(t => ({ tracker: 0, timeS: t, arrivalS: t, x: t - lagS, y: 0, z: 0, quality: 1 }));
  return { truth, sightings };
}

/** RMSE of holding, and of damped velocity once it has settled, metres. At 1 m/s a metre is a second. */
function errors(passage: Passage, timing: Parameters<typeof assess>[2]) {
  const settings = [DAMPED];
  const { hold, peers } = assess([passage], DEFAULT_TRACKING_OPTIONS, timing, undefined, settings);
  return { hold: hold.rmse, damped: peers[0]?.scores.median ?? Number.NaN };
}

describe('when a report is told of', () => {
  test('at once, holding is a horizon behind, and who predicts is not', () => {
    const { hold, damped } = errors(walk(), AT_ONCE);
    expect(hold).toBeGreaterThan(0.099);
    // A tick may come a moment before the report that is due with it.
    expect(hold).toBeLessThan(0.126);
    expect(damped).toBeLessThan(0.01);
  });

  test('late, it is later by as much for holding; who predicts knows how late it is', () => {
    const { hold, damped } = errors(walk(), { ...AT_ONCE, latencyS: 0.2 });
    expect(hold).toBeGreaterThan(0.299);
    expect(hold).toBeLessThan(0.326);
    expect(damped).toBeLessThan(0.01);
  });

  test('with a time that lags, truth is compared at the time in the file, not twice as far ahead', () => {
    const { hold, damped } = errors(walk(0.2), { ...AT_ONCE, lagS: 0.2 });
    expect(hold).toBeGreaterThan(0.299);
    expect(hold).toBeLessThan(0.326);
    expect(damped).toBeLessThan(0.01);
    // Who isn't told of the lag is behind by it.
    expect(errors(walk(0.2), AT_ONCE).damped).toBeCloseTo(0.2, 2);
  });
});

test('gaps are judged at every tick', () => {
  const steps: Step[] = [];
  const inGap = (t: number) => t > 10 && t < 12;
  const passage = walk(0, inGap);
  const keep = (step: Step) => steps.push(step);
  const { hold } = assess([passage], DEFAULT_TRACKING_OPTIONS, AT_ONCE, keep, []);
  // The last may fall to rounding.
  expect(Math.abs(steps.length - (LENGTH_S - 0.1) * RATE_HZ)).toBeLessThanOrEqual(1);
  expect(steps.filter(({ reported }) => reported === undefined).length).toBeGreaterThan(75);
  // Holding falls behind by up to two metres, as nothing else is heard.
  expect(hold.max).toBeGreaterThan(2);
});

test('where the truth itself is silent for more than 2 s nothing is judged', () => {
  const { truth, sightings } = walk();
  const kept = [...truth.timesS.keys()].filter(
    i => !((truth.timesS[i] ?? 0) > 10 && (truth.timesS[i] ?? 0) < 15),
  );
  const pick = (values: Float64Array) => Float64Array.from(kept, i => values[i] ?? 0);
  const holed = {
    timesS: pick(truth.timesS),
    xs: pick(truth.xs),
    ys: pick(truth.ys),
    zs: pick(truth.zs),
  };
  const steps: Step[] = [];
  assess([{ truth: holed, sightings }], DEFAULT_TRACKING_OPTIONS, AT_ONCE, s => steps.push(s), []);
  expect(steps.some(({ timeS }) => timeS > 10.03 && timeS < 14.97)).toBe(false);
  expect(steps.some(({ timeS }) => timeS > 15.1)).toBe(true);
});

describe('over passages', () => {
  const { truth } = walk();
  const files = [passagesOf({ kind: 'truth', truths: [truth], ids: [''] }, { seed: 3, runs: 2 })];
  const results = files.map(passages => assess(passages, DEFAULT_TRACKING_OPTIONS, AT_ONCE));
  const [result] = results;
  if (result === undefined) throw new Error('nothing was assessed');

  test('runs of one truth share their blocks, so that they count once', () => {
    expect(result.squares).toHaveLength(LENGTH_S / 5 + 1);
    const { ratio, low, high } = ratioTo(result, result.holdSquares);
    expect(ratio).toBeCloseTo(result.ours.rmse / result.hold.rmse, 12);
    expect(low).toBeLessThanOrEqual(ratio);
    expect(high).toBeGreaterThanOrEqual(ratio);
  });

  test('the rival is one of the front, and the picture has a dot for everybody', () => {
    const comparison = compare(results);
    expect(comparison.front.map(({ name }) => name)).toContain(comparison.rival);
    expect(comparison.share).toBeCloseTo(comparison.ours.rmse / comparison.frontRmse, 12);
    const svg = drawFronts({ walks: comparison });
    expect(svg.match(/<circle/g)).toHaveLength(comparison.peers.length + 1);
    expect(svg).not.toMatch(/NaN|Infinity/);
  });

  test('a horizon costs what an assessment at it says', () => {
    const curve = horizonCurve(
      files.map(passages => ({ passages, timing: AT_ONCE })),
      DEFAULT_TRACKING_OPTIONS,
    );
    expect(curve.find(({ horizonS }) => horizonS === 0.1)?.rmse).toBeCloseTo(result.ours.rmse, 12);
    const rising = curve.map(({ holdRmse }) => holdRmse);
    expect(rising).toEqual([...rising].sort((a, b) => a - b));
    const svg = drawHorizonCurves({ walks: curve });
    expect(svg.match(/<polyline/g)).toHaveLength(2);
    expect(svg).not.toMatch(/NaN|Infinity/);
  });
});
