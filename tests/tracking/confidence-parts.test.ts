/** Each part of the confidence alone: it takes the whole to 0 while the others stay at 1. */
import { expect, test } from 'vitest';
import {
  assessConfidence,
  CONFIDENCE_PARTS,
  type Confidence,
  type ConfidencePart,
  createConfidence,
  DEFAULT_CONFIDENCE,
} from '../../src/tracking/confidence.js';
import { APART_M } from '../../src/tracking/conflict.js';
import { observe } from '../../src/tracking/observe.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate, type Estimate } from '../../src/tracking/sighting.js';
import { createTrack, SLOT, TRACKER, type Track } from '../../src/tracking/track.js';
import { sighting } from './support.js';

interface Case {
  readonly track: Track;
  readonly estimate: Estimate;
  nowS: number;
  outsideM: number;
}

/** A performer who stands in the middle of the stage and is seen well, at the last report. */
function seenWell(): Case {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 2);
  for (let i = 0; i <= 60; i++) {
    // No radio repeats itself to the last bit.
    observe(track, sighting(i / 10, [0.001 * Math.sin(i), 0, 1.6]));
    observe(track, sighting(i / 10, [0.001 * Math.cos(i), 0, 1.6], 1));
  }
  const estimate = createEstimate();
  predict(track, 6, estimate);
  return { track, estimate, nowS: 6, outsideM: 0 };
}

function assess({ track, estimate, nowS, outsideM }: Case): Confidence {
  const out = createConfidence();
  assessConfidence(track, estimate, nowS, outsideM, out);
  return out;
}

const {
  ageGoodS,
  ageLostS,
  spreadGoodM,
  spreadLostM,
  outsideLostM,
  speedGoodMps,
  speedLostMps,
  outliersGood,
  outliersLost,
  elsewhereGoodS,
  elsewhereLostS,
  conflictLostM,
} = DEFAULT_CONFIDENCE;

/** What harms this part and no other: `share` 0 leaves it at 1, and 1 takes it to 0. */
const HARM: Record<ConfidencePart, (of: Case, share: number) => void> = {
  age: (of, share) => {
    of.nowS =
      6 -
      1e-12 +
      (of.track.numbers[SLOT.intervalS] as number) +
      ageGoodS +
      share * (ageLostS - ageGoodS);
  },
  spread: (of, share) => {
    of.estimate.sigmaHorizontalM = spreadGoodM + share * (spreadLostM - spreadGoodM);
  },
  quality: (of, share) => {
    for (const at of [0, TRACKER.count]) {
      of.track.trackers[at + TRACKER.quality] = 1 - Math.min(1, share);
    }
  },
  gate: (of, share) => {
    for (const at of [0, TRACKER.count]) {
      of.track.trackers[at + TRACKER.outlierShare] =
        outliersGood + share * (outliersLost - outliersGood);
    }
  },
  frozen: (of, share) => {
    const forS = DEFAULT_TRACKING_OPTIONS.frozenS * (1 + share);
    for (const at of [0, TRACKER.count]) {
      of.track.trackers[at + TRACKER.repeatedSinceS] = 6 - forS;
    }
  },
  elsewhere: (of, share) => {
    const { numbers } = of.track;
    numbers[SLOT.verticalSinceS] =
      6 + 1e-12 - elsewhereGoodS - share * (elsewhereLostS - elsewhereGoodS);
  },
  conflict: (of, share) => {
    of.track.trackers[TRACKER.count + TRACKER.apartX] = -(
      APART_M +
      share * (conflictLostM - APART_M)
    );
  },
  bounds: (of, share) => {
    of.outsideM = share * outsideLostM;
  },
  speed: (of, share) => {
    of.estimate.vx = 0;
    of.estimate.vz = 0;
    of.estimate.vy = -(speedGoodMps + share * (speedLostMps - speedGoodMps));
  },
};

test.each(CONFIDENCE_PARTS)('%s alone takes the whole down, and the others stay', part => {
  for (const share of [0, 0.25, 0.5, 0.9, 1]) {
    const of = seenWell();
    HARM[part](of, share);
    const out = assess(of);
    expect(out[part], `${share}`).toBeCloseTo(1 - share, 9);
    expect(out.value, `${share}`).toBe(out[part]);
    expect(out.reason, `${share}`).toBe(share === 0 ? undefined : part);
    for (const other of CONFIDENCE_PARTS) if (other !== part) expect(out[other], other).toBe(1);
  }
});

test.each(CONFIDENCE_PARTS)('%s beyond its limit stays at 0', part => {
  const of = seenWell();
  HARM[part](of, 3);
  expect(assess(of)).toMatchObject({ [part]: 0, value: 0 });
});

test('the worst part speaks, however many are bad', () => {
  const of = seenWell();
  HARM.bounds(of, 0.5);
  HARM.spread(of, 0.75);
  HARM.quality(of, 0.25);
  const out = assess(of);
  expect(out.value).toBeCloseTo(0.25, 12);
  expect(out.reason).toBe('spread');
});

test('who is late because reports keep giving another place is doubted for that', () => {
  const of = seenWell();
  HARM.age(of, 0.9);
  expect(assess(of).reason).toBe('age');
  HARM.elsewhere(of, 0.25);
  expect(assess(of)).toMatchObject({ reason: 'elsewhere', value: expect.closeTo(0.1, 9) });
});

test('who is late because the reports that come are too far off is doubted for that', () => {
  const of = seenWell();
  HARM.age(of, 0.9);
  HARM.gate(of, 0.25);
  expect(assess(of).reason).toBe('age');
  of.track.trackers[TRACKER.lastS] = of.nowS - 0.1;
  expect(assess(of)).toMatchObject({ reason: 'gate', value: expect.closeTo(0.1, 9) });
});

test.each(['sigmaHorizontalM', 'vx', 'vy', 'vz'] as const)(
  '%s that is no number is not believed',
  key => {
    const of = seenWell();
    of.estimate[key] = Number.NaN;
    expect(assess(of).value).toBe(0);
  },
);

test('a time or a distance that is no number is not believed either', () => {
  const [late, outside] = [seenWell(), seenWell()];
  late.nowS = Number.NaN;
  outside.outsideM = Number.NaN;
  expect(assess(late)).toMatchObject({ age: 0, value: 0 });
  expect(assess(outside)).toMatchObject({ bounds: 0, value: 0 });
});

test('a jump lowers the gate part while it is doubted, and lets it recover once believed', () => {
  const of = seenWell();
  let [lowest, reacquiredAt] = [1, 0];
  for (let i = 61; i <= 100; i++) {
    const verdict = observe(of.track, sighting(i / 10, [4 + 0.001 * Math.sin(i), 0, 1.6]));
    lowest = Math.min(lowest, assess(of).gate);
    if (verdict === 'reacquired') reacquiredAt = i;
  }
  // The first report of the run is at 6.1 s; 0.7 s later is the eighth, and rounding may ask for one more.
  expect(reacquiredAt).toBeGreaterThanOrEqual(68);
  expect(reacquiredAt).toBeLessThanOrEqual(69);
  expect(lowest).toBeLessThan(1);
  expect(assess(of).gate).toBe(1);
});

test('a silence does not count as the usual interval: it goes a tenth of the way to 1 s at most', () => {
  const track = createTrack(DEFAULT_TRACKING_OPTIONS, 1);
  for (let i = 0; i <= 200; i++) observe(track, sighting(i / 40, [0, 0, 1.6]));
  expect(track.numbers[SLOT.intervalS]).toBeCloseTo(0.025, 6);
  observe(track, sighting(7.9, [0, 0, 1.6]));
  // 0.025 + 0.1 (1 - 0.025), where 2.9 s would make it 0.3125.
  expect(track.numbers[SLOT.intervalS]).toBeCloseTo(0.1225, 6);
  observe(track, sighting(8.4, [0, 0, 1.6]));
  expect(track.numbers[SLOT.intervalS]).toBeCloseTo(0.1225 + 0.1 * (0.5 - 0.1225), 6);
});
