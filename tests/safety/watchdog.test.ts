import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { supervisorCondition } from '../../src/safety/engine-health.js';
import { DEFAULT_WATCHDOG, type WatchdogOptions } from '../../src/safety/options.js';
import {
  createWatch,
  dropWatch,
  isKnown,
  type Observation,
  stepWatch,
  type Watch,
} from '../../src/safety/watchdog.js';
import {
  CONDITIONS,
  type Condition,
  PERFORMER_CONDITIONS,
  PERFORMER_ROWS,
  type PerformerCondition,
  SUPERVISOR_CONDITIONS,
  WATCHDOG_TABLE,
} from '../../src/safety/watchdog-table.js';
import { demand } from '../demand.js';
import { WELL } from './well.js';

const SEED = 20260115;
const TICK_S = 1 / 40;
const OPTIONS: WatchdogOptions = {
  ...DEFAULT_WATCHDOG,
  // All different, so that a mix-up shows.
  engineSilent: { afterS: 0.25, fadeS: 2.1 },
  operatorStop: { fadeS: 1.2 },
  deskLost: { afterS: 3, fadeS: 2.15 },
  feedSilent: { afterS: 0.5, fadeS: 2.2 },
  trackerSilent: { afterS: 0.5, fadeS: 2.3 },
  sensorClockGone: { afterS: 0.5, fadeS: 2.35 },
  frozen: { afterS: 0.45, fadeS: 2.45 },
  jumped: { fadeS: 1 },
  outOfBounds: { afterS: 0.5, fadeS: 2.4, marginM: 0.5 },
  confidenceLow: { afterS: 0.4, fadeS: 2.5, below: 0.35 },
};
/** Alone enough for the condition of the row, given for long enough. */
const PROVOKED: Readonly<Record<PerformerCondition, Partial<Observation>>> = {
  'operator-stop': { stopped: true },
  'desk-lost': { deskLost: true },
  'feed-silent': { feedSilent: true },
  'tracker-silent': { silentForS: 0.51 },
  'sensor-clock-gone': { clockGone: true },
  jumped: { jumped: true },
  frozen: { fresh: 0.34 },
  'out-of-bounds': { outsideM: 0.51 },
  'confidence-low': { confidence: 0.34 },
};
/** Beside the table, by hand: what the show file says of each. */
const FADES: Readonly<Record<PerformerCondition, number>> = {
  'operator-stop': 1.2,
  'desk-lost': 2.15,
  'feed-silent': 2.2,
  'tracker-silent': 2.3,
  'sensor-clock-gone': 2.35,
  frozen: 2.45,
  jumped: 1,
  'out-of-bounds': 2.4,
  'confidence-low': 2.5,
};
const EVERYTHING = Object.assign({}, ...Object.values(PROVOKED)) as Partial<Observation>;

function step(watch: Watch, seen: Partial<Observation>, seconds: number, options = OPTIONS): void {
  for (let i = 0; i < Math.round(seconds / TICK_S); i++) {
    stepWatch(watch, { ...WELL, ...seen }, TICK_S, options);
  }
}

function live(options = OPTIONS): Watch {
  const watch = createWatch(options);
  step(watch, {}, 5, options);
  expect(watch.phase).toBe('live');
  return watch;
}

describe('the table', () => {
  test('has one row a condition, worst first, and one condition a row', () => {
    expect(WATCHDOG_TABLE.map(row => row.condition)).toEqual([...CONDITIONS]);
    expect(new Set(CONDITIONS).size).toBe(CONDITIONS.length);
  });

  test('has a row for each decision of the supervisor and of the engine, and for what takes no light', () => {
    for (const { condition, decidedBy, scope } of WATCHDOG_TABLE) {
      const bySupervisor = (SUPERVISOR_CONDITIONS as readonly string[]).includes(condition);
      const byEngine = (PERFORMER_CONDITIONS as readonly string[]).includes(condition);
      // A reload takes the way of a dead engine; which of the two it was is told by its own event.
      expect(scope === 'everything').toBe(bySupervisor || condition === 'show-reload');
      expect(scope.endsWith('performers') || scope === 'one performer').toBe(byEngine);
      expect(scope === 'nobody').toBe(condition === 'output-down');
      expect(decidedBy === 'engine').toBe(byEngine);
    }
  });

  test("is what runs: each timer is one row's, and each row that has to last has one", () => {
    const timers = PERFORMER_ROWS.flatMap(({ timer }) => timer ?? []);
    const { clockGoneForS, frozenForS, outOfBoundsForS, confidenceLowForS } = createWatch(OPTIONS);
    const held = { clockGoneForS, frozenForS, outOfBoundsForS, confidenceLowForS };
    expect(timers.sort()).toEqual(Object.keys(held).sort());
    for (const row of PERFORMER_ROWS) {
      const { timer, condition } = row;
      expect(row.lastsS(OPTIONS) > 0).toBe(timer !== undefined);
      expect(row.holds({ ...WELL, ...PROVOKED[condition] }, OPTIONS)).toBe(true);
      // Alone: what one row is about, no other takes for its own.
      const others = PERFORMER_ROWS.filter(one => one !== row);
      expect(others.filter(one => one.holds({ ...WELL, ...PROVOKED[condition] }, OPTIONS))).toEqual(
        [],
      );
      expect(row.holds(WELL, OPTIONS)).toBe(false);
    }
  });

  test('every row says when, what, and what clears it', () => {
    for (const { when, action, clears, cause } of WATCHDOG_TABLE) {
      for (const text of [when, action, clears, cause]) expect(text.length).toBeGreaterThan(9);
    }
  });
});

test('who is lost already has not jumped when they come back elsewhere', () => {
  const watch = live();
  step(watch, PROVOKED['tracker-silent'], 5);
  expect(watch).toMatchObject({ phase: 'safe', cause: 'tracker-silent' });
  step(watch, PROVOKED.jumped, TICK_S);
  expect(watch.cause).toBe('tracker-silent');
  // While the light follows it is one.
  const other = live();
  step(other, PROVOKED.jumped, TICK_S);
  expect(other.cause).toBe('jumped');
});

describe.each(Object.entries(PROVOKED))('%s', (condition, seen) => {
  test('acts alone, and takes its own fade', () => {
    const watch = live();
    step(watch, seen, 0.6);
    expect(watch.phase).toBe('losing');
    expect(watch.cause).toBe(condition);
    const fadeS = FADES[condition as PerformerCondition];
    expect(watch.fadeS).toBe(fadeS);
    const before = watch.trust;
    step(watch, seen, TICK_S);
    expect(before - watch.trust).toBeCloseTo(Math.min(before, TICK_S / fadeS), 12);
  });

  test('does nothing in the good case', () => {
    const watch = live();
    step(watch, {}, 10);
    expect(watch).toMatchObject({ phase: 'live', cause: undefined, trust: 1 });
  });

  test('is passed over for a worse one, and not for a lesser one', () => {
    const rank = CONDITIONS.indexOf(condition as Condition);
    for (const [other, alsoSeen] of Object.entries(PROVOKED)) {
      const watch = live();
      step(watch, { ...seen, ...alsoSeen }, 0.6);
      const worst = CONDITIONS[Math.min(rank, CONDITIONS.indexOf(other as Condition))];
      expect(watch.cause).toBe(worst);
    }
  });

  test('clears: once it is over, the light comes back after the re-arm time', () => {
    const watch = live();
    step(watch, seen, 6);
    expect(watch).toMatchObject({ phase: 'safe', trust: 0 });
    step(watch, {}, OPTIONS.rearmS - 2 * TICK_S);
    expect(watch).toMatchObject({ phase: 'rearming', trust: 0 });
    step(watch, {}, 3 * TICK_S);
    expect(watch.phase).toBe('returning');
    expect(watch.cause).toBeUndefined();
    step(watch, {}, OPTIONS.returnS + TICK_S);
    expect(watch).toMatchObject({ phase: 'live', trust: 1 });
  });
});

describe('conditions that have to last', () => {
  test.each([
    ['sensor-clock-gone', OPTIONS.sensorClockGone.afterS],
    ['frozen', OPTIONS.frozen.afterS],
    ['out-of-bounds', OPTIONS.outOfBounds.afterS],
    ['confidence-low', OPTIONS.confidenceLow.afterS],
  ] as const)('%s acts after its time and not before', (condition, afterS) => {
    const watch = live();
    step(watch, PROVOKED[condition], afterS - TICK_S);
    expect(watch.phase).toBe('live');
    step(watch, PROVOKED[condition], 3 * TICK_S);
    expect(watch.phase).toBe('losing');
  });

  test('a moment within the limits starts the time anew', () => {
    const watch = live();
    for (let i = 0; i < 10; i++) {
      step(watch, PROVOKED['out-of-bounds'], 0.4);
      step(watch, {}, TICK_S);
    }
    expect(watch.phase).toBe('live');
  });

  test('exactly at a limit is within it', () => {
    const watch = live();
    step(watch, { silentForS: 0.5, outsideM: 0.5, confidence: 0.35 }, 5);
    expect(watch.phase).toBe('live');
  });
});

describe('several conditions', () => {
  test('all at once: the worst is the cause, the shortest fade is taken', () => {
    const watch = live();
    step(watch, EVERYTHING, 0.1);
    expect(watch.cause).toBe('operator-stop');
    expect(watch.fadeS).toBe(OPTIONS.jumped.fadeS);
  });

  test('one that joins in mid-fade hastens the fade, and never slows it', () => {
    const watch = live();
    step(watch, PROVOKED['confidence-low'], 0.6);
    expect(watch.fadeS).toBe(2.5);
    step(watch, { ...PROVOKED['confidence-low'], ...PROVOKED['tracker-silent'] }, TICK_S);
    expect(watch.fadeS).toBe(2.3);
    step(watch, PROVOKED['confidence-low'], 0.6);
    expect(watch).toMatchObject({ fadeS: 2.3, cause: 'confidence-low' });
  });

  test('the next loss has its own fade again', () => {
    const watch = live();
    stepWatch(watch, { ...WELL, jumped: true }, TICK_S, OPTIONS);
    step(watch, {}, 6);
    expect(watch.phase).toBe('live');
    step(watch, PROVOKED['tracker-silent'], TICK_S);
    expect(watch.fadeS).toBe(2.3);
  });
});

describe('all conditions at once', () => {
  test('every combination: the worst is the cause, and the shortest of their fades is taken', () => {
    // Worst first by hand, as CONDITIONS stands in the reference; the rows are what runs.
    const all = PERFORMER_CONDITIONS;
    for (let set = 1; set < 2 ** all.length; set++) {
      const holding = all.filter((_, i) => ((set >> i) & 1) === 1);
      const seen = Object.assign({}, ...holding.map(one => PROVOKED[one])) as Partial<Observation>;
      const watch = live();
      step(watch, seen, 0.6);
      expect(watch.phase).toBe('losing');
      expect(watch.cause).toBe(holding[0]);
      expect(watch.fadeS).toBe(Math.min(...holding.map(one => FADES[one])));
    }
  });
});

describe('the supervisor', () => {
  test('every combination: stopping before dead before late, and NaN is late', () => {
    for (const stopping of [true, false]) {
      for (const running of [true, false]) {
        for (const frameAgeS of [undefined, 0, 0.25, 0.2501, 60, Number.NaN]) {
          const onTime = frameAgeS === 0 || frameAgeS === 0.25;
          const expected = stopping
            ? 'shutdown'
            : !running
              ? 'engine-dead'
              : onTime
                ? undefined
                : 'engine-late';
          expect(supervisorCondition({ stopping, running, frameAgeS }, 0.25)).toBe(expected);
        }
      }
    }
  });
});

describe('who is not well', () => {
  test.each(['silentForS', 'fresh', 'outsideM', 'confidence'] as const)(
    'whose %s is no number',
    key => {
      const watch = live();
      step(watch, { [key]: Number.NaN }, 4);
      expect(watch).toMatchObject({ phase: 'safe', trust: 0 });
      step(watch, { [key]: Number.NaN }, 10);
      expect(watch.trust).toBe(0);
    },
  );

  test('who was never seen waits, whatever else holds', () => {
    const watch = createWatch(OPTIONS);
    step(watch, { seen: false }, 10);
    expect(watch).toMatchObject({ phase: 'waiting', trust: 0 });
    step(watch, { seen: false, ...EVERYTHING }, 10);
    expect(watch).toMatchObject({ phase: 'waiting', trust: 0, cause: undefined });
  });

  test('whose light still shows what it showed does not start afresh', () => {
    const watch = live();
    step(watch, PROVOKED.jumped, 1.1);
    expect(watch.trust).toBe(0);
    step(watch, { settled: false }, 5);
    expect(watch).toMatchObject({ phase: 'rearming', trust: 0 });
    step(watch, { settled: true }, TICK_S);
    expect(watch.phase).toBe('returning');
  });
});

describe('for any course of events', () => {
  const observation: fc.Arbitrary<Observation> = fc.record({
    seen: fc.constant(true),
    offStage: fc.oneof({ weight: 9, arbitrary: fc.constant(false) }, fc.boolean()),
    stopped: fc.oneof({ weight: 9, arbitrary: fc.constant(false) }, fc.boolean()),
    deskLost: fc.oneof({ weight: 9, arbitrary: fc.constant(false) }, fc.boolean()),
    clockGone: fc.oneof({ weight: 9, arbitrary: fc.constant(false) }, fc.boolean()),
    fresh: fc.oneof({ weight: 9, arbitrary: fc.constant(1) }, fc.double()),
    feedSilent: fc.oneof({ weight: 5, arbitrary: fc.constant(false) }, fc.boolean()),
    silentForS: fc.oneof({ weight: 5, arbitrary: fc.constant(0) }, fc.double({ min: 0 })),
    jumped: fc.oneof({ weight: 9, arbitrary: fc.constant(false) }, fc.boolean()),
    outsideM: fc.oneof({ weight: 5, arbitrary: fc.constant(0) }, fc.double()),
    confidence: fc.oneof({ weight: 5, arbitrary: fc.constant(1) }, fc.double()),
    settled: fc.boolean(),
  });

  test('trust stays in 0..1, rises only while returning or off stage, and is 0 or 1 where the phase says so', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.tuple(
            observation,
            fc.integer({ min: 1, max: 60 }),
            fc.double({ min: 0, max: 0.1, noNaN: true }),
          ),
          {
            maxLength: 30,
          },
        ),
        course => {
          const watch = createWatch(OPTIONS);
          for (const [seen, times, dtS] of course) {
            for (let i = 0; i < times; i++) {
              const before = watch.trust;
              const phaseBefore = watch.phase;
              const changed = stepWatch(watch, seen, dtS, OPTIONS);
              const { phase, trust, cause } = watch;
              const isRight =
                changed === (phase !== phaseBefore) &&
                trust >= 0 &&
                trust <= 1 &&
                (isKnown(phase) || trust <= before) &&
                (phase !== 'live' || trust === 1) &&
                ((phase !== 'safe' && phase !== 'waiting') || trust === 0) &&
                (phase !== 'losing' || cause !== undefined);
              demand(isRight, () => `${phaseBefore} at ${before}, then ${JSON.stringify(watch)}`);
            }
          }
        },
      ),
      { seed: SEED, numRuns: 100 },
    );
  });

  test('flapping reaches the safe values in the time of the fade, and never rises on the way', () => {
    const bad = fc.constantFrom(
      PROVOKED['feed-silent'],
      PROVOKED['tracker-silent'],
      PROVOKED.jumped,
    );
    const mostWell = Math.floor(OPTIONS.rearmS / TICK_S) - 1;
    fc.assert(
      fc.property(
        fc.array(
          fc.tuple(bad, fc.integer({ min: 1, max: 20 }), fc.integer({ min: 0, max: mostWell })),
          { minLength: 100, maxLength: 120 },
        ),
        pattern => {
          const watch = live();
          let before = watch.trust;
          let elapsedS = 0;
          let safeAfterS = Number.POSITIVE_INFINITY;
          for (const [seen, badTicks, wellTicks] of pattern) {
            const observed = { ...WELL, ...seen };
            for (let i = 0; i < badTicks + wellTicks; i++) {
              stepWatch(watch, i < badTicks ? observed : WELL, TICK_S, OPTIONS);
              elapsedS += TICK_S;
              demand(watch.trust <= before, () => `from ${before} up to ${watch.trust}`);
              before = watch.trust;
              if (watch.trust === 0) safeAfterS = Math.min(safeAfterS, elapsedS);
            }
          }
          expect(safeAfterS).toBeLessThanOrEqual(OPTIONS.trackerSilent.fadeS + 2 * TICK_S);
          expect(watch.trust).toBe(0);
        },
      ),
      { seed: SEED, numRuns: 50 },
    );
  });
});

describe('on the way back', () => {
  test.each(['sensor-clock-gone', 'frozen', 'out-of-bounds', 'confidence-low'] as const)(
    'who is %s now and then, if never for long enough, is not well',
    condition => {
      const watch = live();
      step(watch, PROVOKED[condition], 6);
      expect(watch.phase).toBe('safe');
      const phases = new Set<string>();
      for (let i = 0; i < 400; i++) {
        step(watch, i % 8 === 0 ? PROVOKED[condition] : {}, TICK_S);
        phases.add(watch.phase);
      }
      expect([...phases].filter(phase => phase !== 'safe' && phase !== 'rearming')).toEqual([]);
      step(watch, {}, 5);
      expect(watch.phase).toBe('live');
    },
  );

  test('who is dropped is safe at once and begins afresh; who was never seen goes on waiting', () => {
    const watch = live();
    dropWatch(watch);
    expect(watch).toMatchObject({ phase: 'safe', trust: 0 });
    stepWatch(watch, WELL, TICK_S, OPTIONS);
    expect(watch.phase).not.toBe('live');
    const waiting = createWatch(OPTIONS);
    const before = waiting.phase;
    expect(before).toBe('waiting');
    dropWatch(waiting);
    expect(waiting.phase).toBe('waiting');
  });
});
