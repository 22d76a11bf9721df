import { describe, expect, it } from 'vitest';
import { tuningText } from '../../../src/commands/calibrating/tune-text.js';
import { assess, ratioTo } from '../../../src/rehearsal/assessing/assess.js';
import type { Tuning } from '../../../src/rehearsal/tuning/tune.js';
import { heardOf } from '../../../src/rehearsal/tuning/tune-feed.js';
import type { Outcome } from '../../../src/rehearsal/tuning/tune-outcome.js';
import { trackerPaths, twinFacts } from '../../../src/rehearsal/tuning/tune-trackers.js';
import { PLAIN_FIT, type TrackingOptions } from '../../../src/tracking/options.js';
import { showOf } from '../../show/show-of.js';
import {
  applied,
  feedOfReports,
  hallText,
  measured,
  stretch,
  tuned,
  walkAbout,
} from './tune-hall.js';

function outcome(tuning: Tuning, what: string): Outcome {
  const found = tuning.outcomes.find(one => one.what.includes(what));
  if (found === undefined) throw new Error(`nothing is said of ${what}`);
  return found;
}

const STAMPED = { args: '[x, y, z, quality, stamp]' };

describe('tune, on simulated recordings whose sensor is known', () => {
  it('finds the latency to 5 ms where the reports are stamped and the clocks agree', () => {
    const text = hallText(STAMPED);
    const feed = walkAbout(text, { sensor: '{ rate: 30, latency: 0.08, outliers: 0, shadow: 0 }' });
    const tuning = tuned(text, feed, { clocksAgree: true });
    const found = outcome(tuning, 'sensorLatency');
    expect(found.kind).toBe('proposed');
    if (found.kind !== 'proposed') return;
    expect(Math.abs(Number(found.proposed) - 0.08)).toBeLessThanOrEqual(0.005);
    // What is aimed at is where they are when the light comes, and no longer where they were.
    expect(found.figures.offM).toBeLessThan(0.9 * tuning.figures.offM);
    const short = walkAbout(text, { sensor: '{ rate: 30, latency: 0.08 }', lengthS: 20 });
    expect(outcome(tuned(text, short), 'sensorLatency')).toMatchObject({
      kind: 'unknown',
      why: expect.stringContaining('--clocks-agree'),
    });
  });

  it('finds how a second tracker is worn to 4 cm, and proposes it', () => {
    const worn = '[1, { id: 2, offset: { forward: -0.25, left: 0.15, up: -0.4 } }]';
    const feed = walkAbout(hallText({ trackers: worn }), {
      sensor: '{ rate: 30, noise: 0.06 }',
      lengthS: 70,
    });
    const tuning = tuned(hallText({ trackers: '[1, 2]' }), feed);
    const [twin] = tuning.twins;
    expect(twin?.forwardM.value).toBeGreaterThan(-0.29);
    expect(twin?.forwardM.value).toBeLessThan(-0.21);
    expect(Math.abs((twin?.leftM.value ?? 0) - 0.15)).toBeLessThan(0.04);
    expect(Math.abs((twin?.upM.value ?? 0) + 0.4)).toBeLessThan(0.04);
    expect(Math.abs(twin?.lagS.value ?? 1)).toBeLessThan(0.03);
    const found = outcome(tuning, 'offset of tracker 2');
    expect(found.kind).toBe('proposed');
    const show = applied(hallText({ trackers: '[1, 2]' }), tuning.changes);
    if (typeof show === 'string') throw new Error(show);
    expect(show.performers[0]?.trackers[1]?.fit.upM).toBeCloseTo(-0.4, 1);
    // As it is declared now, there is nothing more to say.
    expect(outcome(tuned(hallText({ trackers: worn }), feed), 'offset of tracker 2').kind).toBe(
      'kept',
    );
  });

  it('tells a tracker that comes late from one that is worn behind', () => {
    const text = hallText({ trackers: '[1, 2]' });
    const feed = walkAbout(text, {
      sensor: '{ rate: 30, noise: 0.06 }',
      lateS: { 2: 0.15 },
      lengthS: 70,
    });
    const tuning = tuned(text, feed);
    const [twin] = tuning.twins;
    expect(Math.abs((twin?.lagS.value ?? 0) - 0.15)).toBeLessThan(0.03);
    expect(Math.abs(twin?.forwardM.value ?? 1)).toBeLessThan(0.05);
    expect(outcome(tuning, 'lag of tracker 2')).toMatchObject({
      kind: 'unknown',
      why: expect.stringContaining('2 comes later'),
    });
  });

  it('measures white noise to a fifth, and never proposes less than it', () => {
    for (const noiseM of [0.03, 0.1, 0.25]) {
      const text = hallText({ tracking: '{ noise: 0.02 }' });
      const sensor = `{ rate: 30, noise: ${noiseM}, wander: 0, shadow: 0, outliers: 0.01 }`;
      const tuning = tuned(text, walkAbout(text, { sensor, lengthS: 70 }));
      const [tracker] = tuning.trackers;
      expect((tracker?.noiseM ?? 0) / noiseM).toBeGreaterThan(0.8);
      expect((tracker?.noiseM ?? 9) / noiseM).toBeLessThan(1.2);
      const found = outcome(tuning, 'noise');
      expect(found.kind).toBe('proposed');
      if (found.kind === 'proposed') expect(Number(found.proposed)).toBeGreaterThanOrEqual(noiseM);
    }
  });

  it('leaves a show alone that says what the sensor does', () => {
    const text = hallText({ tracking: '{ noise: 0.1 }' });
    const tuning = tuned(
      text,
      walkAbout(text, { sensor: '{ rate: 30, noise: 0.1 }', lengthS: 80 }),
    );
    expect(tuning.changes).toEqual([]);
    expect(tuning.outcomes.filter(({ kind }) => kind === 'proposed')).toEqual([]);
  });

  it('chooses nothing by a recording of twenty seconds, and says why', () => {
    const text = hallText();
    const tuning = tuned(text, walkAbout(text, { lengthS: 20 }));
    expect(tuning.tooShort).toMatch(/they walk for \d+ s in it/);
    expect(tuning.changes).toEqual([]);
  });
});

describe('tune, of a rounded feed whose bearer stands for 40 s', () => {
  const text = hallText();
  const at = (timeS: number) => (timeS < 5 ? timeS : timeS < 45 ? 5 : timeS - 40);
  const sightings = Array.from({ length: 1000 }, (_, n) => n / 20).map(timeS => ({
    tracker: 0,
    timeS,
    arrivalS: timeS,
    x: Math.round(100 * at(timeS)) / 100,
    y: 2,
    z: 1.5,
    quality: 1,
  }));
  const feed = feedOfReports(text, { truth: measured('uwb_robot_labyrinth').truth, sightings });

  it('proposes a longer time until a feed is taken to hang, though it is too short for the rest', () => {
    const tuning = tuned(text, feed, { isTable: true });
    expect(tuning.tooShort).toBeDefined();
    expect(tuning.trackers[0]?.longestRepeatS).toBeCloseTo(40, 0);
    expect(outcome(tuning, 'frozen')).toMatchObject({
      kind: 'proposed',
      now: '60',
      proposed: '80',
    });
  });

  it('says why a change can not be made', () => {
    const tuning = tuned(text, feed, {
      isTable: true,
      changed: () => 'it is written as an alias.',
    });
    expect(tuning.changes).toEqual([]);
    const why = expect.stringContaining('but it is written as an alias.');
    expect(outcome(tuning, 'frozen')).toMatchObject({ kind: 'kept', why });
  });
});

describe('tune, of a tracker that was silent for 26 s and hung for 12 s', () => {
  const text = hallText();
  const where = (timeS: number) => 2 + 1.5 * Math.sin(timeS / 3);
  const sightings = Array.from({ length: 2000 }, (_, n) => n / 20)
    .filter(timeS => timeS < 20 || timeS > 46)
    .map(timeS => ({
      tracker: 0,
      timeS,
      arrivalS: timeS,
      x: where(timeS > 60 && timeS < 72 ? 60 : timeS),
      y: 2 + 0.3 * Math.cos(timeS),
      z: 1.5,
      quality: 1,
    }))
    .map(one => (one.timeS > 60 && one.timeS < 72 ? { ...one, y: 2 } : one));
  const feed = feedOfReports(text, { truth: measured('uwb_robot_labyrinth').truth, sightings });

  it('tells both, and does not take the time between two recordings for a silence', () => {
    const tuning = tuned(text, taker => [feed, feed].map(one => one(taker)), { isTable: true });
    const [facts] = tuning.trackers;
    expect(facts?.longestSilenceS).toBeCloseTo(26, 0);
    expect(facts).toMatchObject({ hangs: 2, longestRepeatS: 0 });
    expect(facts?.longestHangS).toBeCloseTo(12, 0);
    expect(outcome(tuning, 'frozen')?.why).toMatch(
      /; a tracker was frozen 2 times, at most for 1[12]\.\d s, and went on from elsewhere$/,
    );
    const printed = tuningText(tuning, showOf(text));
    expect(printed).toMatch(/ 26\.\d s +0\.0 s +1[12]\.\d s\n {2}scatter: standard deviation/);
  });

  it('says how much closer a setting is, and not "off by 0.76 of what"', () => {
    const loose = hallText({ tracking: '{ noise: 0.6 }' });
    const { outcomes } = tuned(loose, walkAbout(loose, { sensor: '{ rate: 30, noise: 0.1 }' }));
    const why = outcomes.find(({ what }) => what === 'tracking.noise')?.why;
    expect(why).toMatch(
      /; with [\d.]+ m the aim is \d+ % closer than with 0\.6 m \(90 % sure: \d+ to \d+ % closer\)$/,
    );
  });
});

describe('heardOf', () => {
  it('leaves out what is more than can be judged at once, at the same moment with any setting', () => {
    const text = hallText();
    const feed = walkAbout(text, { lengthS: 20 });
    const ends = ['{}', '{ noise: 0.6 }'].map(tracking => {
      const { isCut, lengthS, performers } = heardOf(showOf(hallText({ tracking })), feed, 300);
      expect(isCut).toBe(true);
      expect(lengthS).toBeGreaterThan(9);
      expect(lengthS).toBeLessThan(12);
      return performers[0]?.reports.at(-1)?.timeS;
    });
    expect(ends[0]).toBe(ends[1]);
    expect(heardOf(showOf(text), feed).isCut).toBe(false);
  });
});

describe('twinFacts', () => {
  it('does not tell worn ahead from early of two tags of a trolley that goes at one speed', () => {
    // Tags 1 and 2 of the trolley, 0.28 m apart, at 0.43 m/s: same clock and rows.
    const reports = ['uwb_trolley_fast_tag1_cal', 'uwb_trolley_fast_tag2_cal'].flatMap(
      (name, tracker) =>
        measured(name).sightings.map(one => ({
          ...one,
          tracker,
          verdict: 'accepted' as const,
          take: 1,
        })),
    );
    const fits = [PLAIN_FIT, PLAIN_FIT];
    const [twin] = twinFacts('ines', trackerPaths({ trackers: ['1', '2'], fits, reports }));
    expect([twin?.lagS.low, twin?.forwardM.low]).toEqual([Number.NaN, Number.NaN]);
  });
});

describe('tune, on what was measured', () => {
  // Development recordings alone; the first half is tuned on, the second is judged against its truth, at the time at
  // which reports and truth agree: those of the trolley lead it by up to 0.09 s (clocks of two systems).
  function heldBack(name: string, tracking: string): number {
    const passage = measured(name);
    const text = hallText({ tracking });
    const tuning = tuned(text, feedOfReports(text, stretch(passage, 0, 0.5)), { isTable: true });
    expect(tuning.tooShort).toBeUndefined();
    const after = applied(text, tuning.changes);
    if (typeof after === 'string') throw new Error(after);
    const held = stretch(passage, 0.5, 1);
    const assessed = (options: TrackingOptions, lagS: number) =>
      assess([held], options, { horizonS: 0.1, latencyS: 0, lagS }, () => {}, []);
    const asItIs = showOf(text).tracking.track;
    const lagS = assessed(asItIs, 0).reportsLagS;
    const before = assessed(asItIs, lagS);
    return ratioTo(assessed(after.tracking.track, lagS), before.squares).ratio;
  }

  it.each([
    'uwb_trolley_fast_8anchor_raw',
    'uwb_trolley_fast_tag1_cal',
    'uwb_walk_los_B4',
    'uwb_walk_nlos_A2_longrange',
  ])('%s: the half that was held back is no worse', name => {
    expect(heldBack(name, '{}')).toBeLessThan(1.01);
  });

  it('puts right a noise that is far too large or too small', () => {
    expect(heldBack('uwb_trolley_fast_tag1_cal', '{ noise: 0.45 }')).toBeLessThan(0.85);
    expect(heldBack('uwb_walk_nlos_A2_longrange', '{ noise: 0.02 }')).toBeLessThan(1);
  });
});
