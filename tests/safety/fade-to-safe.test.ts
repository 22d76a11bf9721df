import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  createSafeFade,
  dropSafeFade,
  isFullyLive,
  isFullySafe,
  movedValue,
  SAFE_FADE_STAGES,
  type SafeFade,
  showLive,
  steppedValue,
  stepSafeFade,
} from '../../src/safety/fade-to-safe.js';
import { fall, rise } from '../../src/safety/ramp.js';

const SEED = 20260116;
const TICK_S = 1 / 40;
const FADE_S = 2;
const TIMES = { returnS: 1.5, moveS: 1 };
/** What a channel of aim or colour has live and safe. */
const LIVE = 200;
const SAFE = -50;
/** Steepest slope of 3 a^2 - 2 a^3, at a = 1/2. */
const STEEPEST_EASE = 1.5;

interface Shown {
  readonly stage: SafeFade['stage'];
  readonly live: number;
  readonly safe: number;
  readonly value: number;
}

/** A fixture with one channel of aim, driven by somebody who is lost and found. */
class Fixture {
  readonly safeFade = createSafeFade();
  #from = SAFE;
  value = SAFE;

  constructor(
    private readonly moves: boolean,
    private readonly safeIsDark: boolean,
  ) {}

  step(wantLive: boolean, dtS = TICK_S): Shown {
    stepSafeFade(this.safeFade, wantLive, this.moves, this.safeIsDark, dtS, FADE_S, TIMES);
    if (this.safeFade.departed) this.#from = this.value;
    this.value = movedValue(this.safeFade, this.#from, LIVE, SAFE);
    const { stage, live, safe } = this.safeFade;
    return { stage, live, safe, value: this.value };
  }

  run(wantLive: boolean, seconds: number): Shown[] {
    return Array.from({ length: Math.round(seconds / TICK_S) }, () => this.step(wantLive));
  }
}

const stages = (shown: readonly Shown[]) =>
  shown.map(one => one.stage).filter((stage, i, all) => stage !== all[i - 1]);

describe('a fixture that moves', () => {
  test('goes out, moves, and comes up: and back the same way', () => {
    const head = new Fixture(true, false);
    expect(stages(head.run(true, 10))).toEqual(['safe', 'to-live', 'rising', 'live']);
    expect(isFullyLive(head.safeFade)).toBe(true);
    const out = head.run(false, 10);
    expect(stages(out)).toEqual(['fading', 'to-safe', 'safe']);
    expect(isFullySafe(head.safeFade)).toBe(true);
    // 2 s of fade, 1 s of movement, 2 s up to the safe intensity; each stage begins on a tick.
    const fullAt = out.findIndex(one => one.safe === 1);
    expect(fullAt * TICK_S).toBeGreaterThanOrEqual(5 - TICK_S);
    expect(fullAt * TICK_S).toBeLessThanOrEqual(5 + 4 * TICK_S);
  });

  test('has nothing to fade up where its safe look is dark', () => {
    const head = new Fixture(true, true);
    head.run(true, 10);
    const out = head.run(false, 10);
    const fullAt = out.findIndex(one => one.safe === 1);
    expect(fullAt * TICK_S).toBeLessThanOrEqual(3 + 3 * TICK_S);
    expect(stages(head.run(true, 10))).toEqual(['to-live', 'rising', 'live']);
  });

  test('once fading, goes to dark even if all is well again', () => {
    const head = new Fixture(true, true);
    head.run(true, 10);
    head.run(false, 0.5);
    const back = head.run(true, 10);
    expect(Math.min(...back.map(one => one.live))).toBe(0);
    expect(stages(back)).toEqual(['fading', 'to-live', 'rising', 'live']);
  });
});

describe('a fixture that can not move', () => {
  test('crossfades, and turns back in mid-fade', () => {
    const lamp = new Fixture(false, false);
    lamp.run(true, 10);
    const out = lamp.run(false, 1);
    expect(out.at(-1)?.live).toBeCloseTo(0.5, 9);
    const back = lamp.run(true, 0.75);
    expect(back.at(-1)?.live).toBeCloseTo(1, 9);
    for (const { live, safe } of [...out, ...back]) expect(live + safe).toBe(1);
  });
});

describe('for any course of losses and returns', () => {
  const course = fc.array(fc.tuple(fc.boolean(), fc.integer({ min: 1, max: 120 })), {
    maxLength: 12,
  });

  function check(moves: boolean, safeIsDark: boolean, each: (was: Shown, is: Shown) => void): void {
    fc.assert(
      fc.property(course, turns => {
        const fixture = new Fixture(moves, safeIsDark);
        let was: Shown = { stage: 'safe', live: 0, safe: 1, value: SAFE };
        for (const [wantLive, times] of turns) {
          for (let i = 0; i < times; i++) {
            const is = fixture.step(wantLive);
            each(was, is);
            was = is;
          }
        }
      }),
      { seed: SEED, numRuns: 100 },
    );
  }

  test.each([true, false])('it moves only in the dark (safe look dark: %s)', safeIsDark => {
    check(true, safeIsDark, (was, is) => {
      const dark = (one: Shown) => one.live === 0 && (one.safe === 0 || safeIsDark);
      if (was.value !== is.value && !(dark(was) && dark(is))) {
        throw new Error(`moved in the light: ${JSON.stringify([was, is])}`);
      }
    });
  });

  test.each([
    [true, true],
    [true, false],
    [false, false],
  ])(
    'shares are within 0..1 and never jump (moves: %s, safe look dark: %s)',
    (moves, safeIsDark) => {
      const most = TICK_S / Math.min(FADE_S, TIMES.returnS) + 1e-9;
      check(moves, safeIsDark, (was, is) => {
        const bad =
          is.live < 0 ||
          is.live > 1 ||
          is.safe < 0 ||
          is.safe > 1 ||
          (moves && is.live > 0 && is.safe > 0) ||
          Math.abs(is.live - was.live) > most ||
          // Where the safe look is dark its share is no light, and may jump.
          (!safeIsDark && Math.abs(is.safe - was.safe) > most);
        if (bad) throw new Error(JSON.stringify([was, is]));
      });
    },
  );

  test('the aim never jumps', () => {
    const most = ((LIVE - SAFE) * STEEPEST_EASE * TICK_S) / TIMES.moveS + 1e-9;
    check(true, true, (was, is) => {
      if (Math.abs(is.value - was.value) > most) throw new Error(JSON.stringify([was, is]));
    });
  });
});

describe('ramps', () => {
  test('run straight, end exactly, and take no time at 0 s', () => {
    expect(rise(0.25, 0.5, 2)).toBe(0.5);
    expect(fall(0.75, 0.5, 2)).toBe(0.5);
    expect(rise(0.99, 0.1, 1)).toBe(1);
    expect(fall(0.01, 0.1, 1)).toBe(0);
    expect(rise(0.5, 0, 1)).toBe(0.5);
    expect(fall(0.5, 0, 1)).toBe(0.5);
    expect(rise(0, 0, 0)).toBe(1);
    expect(fall(1, 0, 0)).toBe(0);
  });
});

describe('a channel with nothing between two of its values', () => {
  const at = (stage: SafeFade['stage'], move = 0, live = 0): SafeFade => ({
    ...createSafeFade(),
    stage,
    move,
    live,
  });
  const FROM = 7;
  const shown = (safeFade: SafeFade, moves: boolean) =>
    steppedValue(safeFade, moves, FROM, LIVE, SAFE);

  test.each([
    ['live', 0, LIVE],
    ['fading', 0, LIVE],
    ['to-safe', 0, FROM],
    ['to-safe', 0.01, SAFE],
    ['safe', 0, SAFE],
    ['to-live', 0, FROM],
    ['to-live', 0.01, LIVE],
    ['rising', 0, LIVE],
  ] as const)('of a head goes over in the dark only: %s, moved by %s', (stage, move, value) => {
    expect(shown(at(stage, move), true)).toBe(value);
  });

  test('of a fixture that stays is live for as long as any live light shows', () => {
    for (const stage of SAFE_FADE_STAGES) {
      expect(shown(at(stage, 0, 0.01), false)).toBe(LIVE);
      expect(shown(at(stage, 0, 0), false)).toBe(SAFE);
    }
  });
});

describe('a head that is not there yet', () => {
  const turn = { returnS: 1, moveS: 0.5 };
  const step = (fade: SafeFade, wantLive: boolean, hasArrived: boolean, dtS = 0.25) =>
    stepSafeFade(fade, wantLive, true, false, dtS, 1, turn, hasArrived);

  test.each([
    [true, 'to-live', 'rising'],
    [false, 'to-safe', 'safe'],
  ] as const)(
    'is waited for in the dark (to live: %s), though not for ever',
    (wantLive, going, there) => {
      const fade = createSafeFade();
      if (!wantLive) showLive(fade);
      for (let i = 0; i < 20 && fade.stage !== going; i++) step(fade, wantLive, false);
      expect(fade).toMatchObject({ stage: going, move: 0, waitedS: 0, live: 0, safe: 0 });
      // The move's own time, and all but the last quarter of a second of the 30 that it waits.
      for (let i = 0; i < 2 + 4 * 30 - 2; i++) step(fade, wantLive, false);
      expect(fade).toMatchObject({ stage: going, move: 1, live: 0, safe: 0 });
      step(fade, wantLive, false);
      expect(fade.stage).toBe(there);
    },
  );

  test('is lit as soon as it is there', () => {
    const fade = createSafeFade();
    for (let i = 0; i < 20 && fade.stage !== 'to-live'; i++) step(fade, true, false);
    for (let i = 0; i < 10; i++) step(fade, true, false);
    expect(fade.stage).toBe('to-live');
    step(fade, true, true);
    expect(fade.stage).toBe('rising');
  });
});

test('put at one end, whatever it was doing, it begins nothing', () => {
  const busy = (): SafeFade => ({
    stage: 'to-live',
    live: 0.4,
    safe: 0.2,
    move: 0.5,
    waitedS: 0,
    departed: true,
  });
  const [dropped, shown] = [busy(), busy()];
  dropSafeFade(dropped);
  showLive(shown);
  expect(dropped).toMatchObject({ stage: 'safe', live: 0, safe: 1, move: 0, departed: false });
  expect(shown).toMatchObject({ stage: 'live', live: 1, safe: 0, move: 0, departed: false });
  expect(createSafeFade().departed).toBe(false);
});
