import fc from 'fast-check';
import { beforeEach, describe, expect, test } from 'vitest';
import {
  createFallback,
  type Fallback,
  type FallbackChannel,
  type FallbackFixture,
  type FallbackPlan,
  longestMoveToSafeS,
  stepFallback,
  takeLive,
  timeToSafeS,
} from '../../src/safety/fallback.js';

const SEED = 20260117;
const TICK_S = 1 / 40;
const FADE_S = 2;
const REARM_S = 1;
const TIMES = { fadeS: FADE_S, returnS: 1.5, moveS: 1 };

function channel(
  kind: FallbackChannel['class'],
  slots: readonly number[],
  safeRaw: number,
  darkRaw = 0,
): FallbackChannel {
  return { class: kind, slots, safeRaw, darkRaw, stepped: false, dropsAtOnce: false };
}

const DIMMER: FallbackFixture = {
  channels: [channel('intensity', [0], 51)],
  moves: false,
  safeIsDark: false,
  fadeS: undefined,
};
const WIDE: FallbackFixture = {
  channels: [channel('intensity', [1, 2], 0x1234)],
  moves: false,
  safeIsDark: false,
  fadeS: 1,
};
const HEAD: FallbackFixture = {
  channels: [
    channel('movement', [3, 4], 0x8000),
    channel('movement', [5, 6], 0x4000),
    channel('intensity', [7, 8], 0),
    channel('other', [9], 128),
  ],
  moves: true,
  safeIsDark: true,
  fadeS: undefined,
};
const LIT_HEAD: FallbackFixture = {
  channels: [
    channel('movement', [10], 10),
    channel('movement', [11], 20),
    // Dark at its maximum.
    channel('intensity', [12], 155, 255),
  ],
  moves: true,
  safeIsDark: false,
  fadeS: undefined,
};
const FIXTURES = [DIMMER, WIDE, HEAD, LIT_HEAD];
/** Slots that belong to no fixture. */
const LEVELS = 16;

const PLAN: FallbackPlan = {
  fixtures: FIXTURES,
  levelCount: LEVELS,
  safeLook: safeLook(),
  times: TIMES,
  rearmS: REARM_S,
};

function safeLook(): Uint8Array {
  const levels = new Uint8Array(LEVELS);
  for (const one of FIXTURES.flatMap(fixture => fixture.channels)) {
    one.slots.forEach((slot, i) => {
      levels[slot] = one.safeRaw >> (8 * (one.slots.length - 1 - i));
    });
  }
  return levels;
}

function raw({ slots }: FallbackChannel, levels: Uint8Array): number {
  return slots.reduce((sum, slot) => sum * 256 + (levels[slot] ?? 0), 0);
}

const FRAME = Uint8Array.from([255, 0xff, 0x01, 0xc0, 0x01, 0x20, 0xff, 0xf0, 0x0f, 7, 200, 90, 5]);
const LIVE = new Uint8Array(LEVELS);
LIVE.set(FRAME);

let fallback: Fallback;
let out: Uint8Array;

function beat(well: boolean, frame = LIVE, dtS = TICK_S): void {
  stepFallback(fallback, PLAN, frame, well, dtS, out);
}

function run(well: boolean, seconds: number, frame = LIVE, after: () => void = () => {}): void {
  for (let i = 0; i < Math.round(seconds / TICK_S); i++) {
    beat(well, frame);
    after();
  }
}

beforeEach(() => {
  fallback = createFallback(PLAN);
  out = Uint8Array.from(PLAN.safeLook);
});

describe('until the engine is well', () => {
  test('the safe look is sent, whatever the frames say', () => {
    run(false, 5);
    expect(out).toEqual(PLAN.safeLook);
    expect(fallback.phase).toBe('safe');
  });

  test('and for the re-arm time after that', () => {
    run(true, REARM_S - TICK_S);
    expect(out).toEqual(PLAN.safeLook);
    expect(fallback.phase).toBe('rearming');
    // An interruption starts it anew.
    beat(false);
    run(true, REARM_S - TICK_S);
    expect(out).toEqual(PLAN.safeLook);
    run(true, 5);
    expect(out).toEqual(LIVE);
    expect(fallback.phase).toBe('live');
  });
});

describe('a hazardous output', () => {
  const strobe = { ...channel('intensity', [2], 0), dropsAtOnce: true };
  const plan: FallbackPlan = {
    ...PLAN,
    fixtures: [DIMMER, { channels: [strobe], moves: false, safeIsDark: true, fadeS: 0 }],
    levelCount: 3,
    safeLook: Uint8Array.from([51, 0, 0]),
  };
  const frame = (level: number) => Uint8Array.from([200, 0, level]);
  const sent = new Uint8Array(3);
  let machine: Fallback;
  const go = (well: boolean, seconds: number, level: number) => {
    for (let i = 0; i < Math.round(seconds / TICK_S); i++) {
      stepFallback(machine, plan, frame(level), well, TICK_S, sent);
    }
    return sent[2];
  };

  test('drops in the beat in which the engine is lost, and is back only when it has been off in between', () => {
    machine = createFallback(plan);
    sent.set(plan.safeLook);
    // From the start: not before the engine has shown that it is off.
    expect(go(true, 5, 255)).toBe(0);
    go(true, TICK_S, 0);
    expect(go(true, TICK_S, 255)).toBe(255);
    expect(go(false, TICK_S, 255)).toBe(0);
    expect(sent[0]).toBeGreaterThan(190);
    expect(go(false, 5, 255)).toBe(0);
    expect(go(true, 10, 255)).toBe(0);
    expect(sent[0]).toBe(200);
    go(true, TICK_S, 0);
    expect(go(true, TICK_S, 255)).toBe(255);
  });

  test('is not armed by what is sent of other universes in the same beat', () => {
    machine = createFallback(plan);
    sent.set(plan.safeLook);
    go(true, 5, 255);
    expect([machine.phase, sent[2]]).toEqual(['live', 0]);
    // Its own section shows it lit: at its safe value it has been kept by this side.
    for (let i = 0; i < 3; i++) {
      takeLive(machine, frame(255), sent, 0, 2);
      takeLive(machine, frame(255), sent, 2, 3);
      expect(sent[2]).toBe(0);
    }
    takeLive(machine, frame(0), sent, 2, 3);
    takeLive(machine, frame(255), sent, 2, 3);
    expect(sent[2]).toBe(255);
  });
});

test('what is at its safe look already does not dip on its way there, nor back', () => {
  const same = Uint8Array.from(PLAN.safeLook);
  run(true, 10, same);
  const steady = () => expect(out).toEqual(PLAN.safeLook);
  run(false, 8, same, steady);
  run(true, 8, same, steady);
});

describe('while the engine is well', () => {
  test('frames pass as they are', () => {
    run(true, 10);
    const other = Uint8Array.from(LIVE, value => 255 - value);
    beat(true, other);
    expect(out).toEqual(other);
  });
});

describe('once the engine is silent', () => {
  beforeEach(() => run(true, 10));

  test('exactly the safe look is reached in the time promised', () => {
    // 2 s of fade, 1 s of movement, 2 s up to the safe intensity of the lit head.
    expect(timeToSafeS(PLAN)).toBe(5);
    let safeAfterS = 0;
    run(false, 8, LIVE, () => {
      if (fallback.phase !== 'safe') safeAfterS += TICK_S;
    });
    expect(out.subarray(0, 13)).toEqual(PLAN.safeLook.subarray(0, 13));
    expect(safeAfterS).toBeGreaterThan(5 - TICK_S);
    // Each of the three stages begins with a beat, and the phase is told one beat later.
    expect(safeAfterS).toBeLessThanOrEqual(5 + 4 * TICK_S);
  });

  test('channels of 16 bits fade as one number, in a straight line', () => {
    const dimmer = WIDE.channels[0] as FallbackChannel;
    const [from, to] = [raw(dimmer, LIVE), dimmer.safeRaw];
    for (let i = 1; i <= 40; i++) {
      beat(false);
      // To the nearest step.
      expect(Math.abs(raw(dimmer, out) - (from + (i / 40) * (to - from)))).toBeLessThan(0.5 + 1e-6);
    }
  });

  test('a restarted engine is not taken over in mid-fade', () => {
    run(false, 0.5);
    const held = Uint8Array.from(out);
    const dark = new Uint8Array(LEVELS);
    run(true, 0.25, dark);
    const [before, after] = [held[0] as number, out[0] as number];
    // Still on the way from 255 to 51 in 2 s, and not towards the new engine's frame.
    expect(after).toBeCloseTo(before - (0.25 / FADE_S) * (255 - 51), -1);
    expect(fallback.phase).toBe('losing');
  });

  test('what was last sent is the start of the fade, not a frame that came too late', () => {
    run(
      true,
      1,
      Uint8Array.from(LIVE, () => 100),
    );
    beat(
      false,
      Uint8Array.from(LIVE, () => 255),
    );
    expect(out[0]).toBeLessThanOrEqual(100);
    expect(out[0]).toBeGreaterThan(95);
  });

  test('live returns only after the safe look and the re-arm time', () => {
    run(false, 0.1);
    let safeSeen = false;
    run(true, 12, LIVE, () => {
      if (fallback.phase === 'rearming' || fallback.phase === 'safe') {
        safeSeen = true;
        expect(out.subarray(0, 13)).toEqual(PLAN.safeLook.subarray(0, 13));
      }
      if (fallback.phase === 'returning') expect(safeSeen).toBe(true);
    });
    expect(fallback.phase).toBe('live');
    expect(out).toEqual(LIVE);
  });

  test('heads hold their aim in the light and move in the dark', () => {
    const check = (fixture: FallbackFixture, dark: number) => {
      const dimmer = fixture.channels.find(one => one.class === 'intensity') as FallbackChannel;
      const aims = fixture.channels.filter(one => one.class !== 'intensity');
      let last = aims.map(one => raw(one, out));
      return () => {
        const now = aims.map(one => raw(one, out));
        if (raw(dimmer, out) !== dark) expect(now).toEqual(last);
        last = now;
      };
    };
    const checks = [check(HEAD, 0), check(LIT_HEAD, 255)];
    const all = () => {
      for (const one of checks) one();
    };
    run(false, 8, LIVE, all);
    run(true, 12, LIVE, all);
    expect(out).toEqual(LIVE);
  });
});

describe('for any course of beats', () => {
  const beats = fc.array(
    fc.tuple(
      fc.boolean(),
      fc.integer({ min: 1, max: 100 }),
      fc.uint8Array({ minLength: LEVELS, maxLength: LEVELS }),
    ),
    { maxLength: 8 },
  );

  test('no intensity steps farther than its fade, except as the engine itself asks', () => {
    const dimmer = DIMMER.channels[0] as FallbackChannel;
    fc.assert(
      fc.property(beats, course => {
        fallback = createFallback(PLAN);
        out = Uint8Array.from(PLAN.safeLook);
        let lastFrame: Uint8Array = PLAN.safeLook;
        for (const [well, times, frame] of course) {
          for (let i = 0; i < times; i++) {
            const before = raw(dimmer, out);
            beat(well, frame);
            // What the engine's own frame changed from one beat to the next comes on top; and a step
            // of rounding.
            const asked =
              fallback.phase === 'losing' ? 0 : Math.abs((frame[0] ?? 0) - (lastFrame[0] ?? 0));
            const most = 255 * (TICK_S / TIMES.returnS) + asked + 1;
            if (Math.abs(raw(dimmer, out) - before) > most) {
              throw new Error(`from ${before} to ${raw(dimmer, out)} in ${fallback.phase}`);
            }
            lastFrame = frame;
          }
        }
      }),
      { seed: SEED, numRuns: 200 },
    );
  });

  test('while the engine is silent no intensity rises above its safe value', () => {
    const dimmers = FIXTURES.flatMap(one => one.channels).filter(one => one.class === 'intensity');
    /** Light, whichever way round the channel is. */
    const light = (one: FallbackChannel, value: number) => Math.abs(value - one.darkRaw);
    fc.assert(
      fc.property(beats, course => {
        fallback = createFallback(PLAN);
        out = Uint8Array.from(PLAN.safeLook);
        for (const [well, times, frame] of course) {
          for (let i = 0; i < times; i++) {
            const before = dimmers.map(one => light(one, raw(one, out)));
            beat(well, frame);
            if (fallback.phase !== 'losing' && fallback.phase !== 'safe') continue;
            dimmers.forEach((one, d) => {
              const most = Math.max(before[d] ?? 0, light(one, one.safeRaw));
              if (light(one, raw(one, out)) > most) throw new Error(`rose in ${fallback.phase}`);
            });
          }
        }
      }),
      { seed: SEED, numRuns: 200 },
    );
  });
});

describe('a head that is slower than the move', () => {
  // 60 degrees a second and 120 a second squared over 540 degrees in 16 bits.
  const motion = { speed: (60 * 65535) / 540, acceleration: (120 * 65535) / 540 };
  const slow: FallbackFixture = {
    channels: [{ ...channel('movement', [0, 1], 0x8000), motion }, channel('intensity', [2], 100)],
    moves: true,
    safeIsDark: false,
    fadeS: 1,
  };
  const plan: FallbackPlan = {
    fixtures: [slow],
    levelCount: 4,
    safeLook: Uint8Array.of(0x80, 0, 100, 0),
    times: TIMES,
    rearmS: REARM_S,
  };

  test('is sent no faster than it goes, and is lit again when it is there', () => {
    const fallback = createFallback(plan);
    const out = Uint8Array.from(plan.safeLook);
    const live = Uint8Array.of(0, 0, 200, 0);
    for (let t = 0; t < 20; t += TICK_S) stepFallback(fallback, plan, live, true, TICK_S, out);
    expect([...out]).toEqual([...live]);
    let [last, most, litOnTheWay, seconds] = [0, 0, false, 0];
    const panOf = () => (out[0] as number) * 256 + (out[1] as number);
    while (fallback.phase !== 'safe' && seconds < 30) {
      stepFallback(fallback, plan, live, false, TICK_S, out);
      most = Math.max(most, Math.abs(panOf() - last) / TICK_S);
      if (panOf() !== last && (out[2] as number) > 0) litOnTheWay = true;
      last = panOf();
      seconds += TICK_S;
    }
    expect(most).toBeGreaterThan(0.9 * motion.speed);
    // And the rounding to whole steps.
    expect(most).toBeLessThan(motion.speed + 1 / TICK_S);
    expect(litOnTheWay).toBe(false);
    // A second down, 1.5 * 270 / 60 = 6.75 s over, a second up.
    expect(seconds).toBeGreaterThan(8.7);
    expect(seconds).toBeLessThan(9);
    expect(timeToSafeS(plan)).toBeCloseTo(8.75, 2);
  });
});

test('says in which beat the phase changes, and in no other', () => {
  const changes: string[] = [];
  const count = (well: boolean, seconds: number) => {
    for (let i = 0; i < Math.round(seconds / TICK_S); i++) {
      const before = fallback.phase;
      const says = stepFallback(fallback, PLAN, LIVE, well, TICK_S, out);
      expect(says).toBe(fallback.phase !== before);
      if (says) changes.push(fallback.phase);
    }
  };
  count(true, 10);
  count(false, 10);
  expect(changes).toEqual(['rearming', 'returning', 'live', 'losing', 'safe']);
});

test('the re-arm time is whole, and begins anew with each loss', () => {
  const plan = { ...PLAN, rearmS: 4 * 0.25 };
  const phases: string[] = [];
  for (const well of [true, true, true, false, true, true, true, true]) {
    stepFallback(fallback, plan, LIVE, well, 0.25, out);
    phases.push(fallback.phase);
  }
  expect(phases.slice(0, 4)).toEqual(['rearming', 'rearming', 'rearming', 'safe']);
  expect(phases.slice(4)).toEqual(['rearming', 'rearming', 'rearming', 'returning']);
});

describe('a fade that began under another show', () => {
  test('keeps its own time on the way to dark; up to the safe look, and the next loss, go by the plan', () => {
    run(true, 10);
    beat(false);
    fallback.fadeS[FIXTURES.indexOf(DIMMER)] = 0.5;
    run(false, 0.5);
    expect(out[0]).toBe(51);
    run(false, 10);
    run(true, 10);
    run(false, 1);
    // A second into a fade of two from 255 to 51, whatever the one before took.
    expect(Math.abs((out[0] as number) - 153)).toBeLessThanOrEqual(204 * (TICK_S / FADE_S) + 1);
    expect(fallback.fadeS[FIXTURES.indexOf(DIMMER)]).toBe(FADE_S);
  });

  test('does not hasten the light that comes up at the safe aim', () => {
    const lit = FIXTURES.indexOf(LIT_HEAD);
    run(true, 10);
    beat(false);
    fallback.fadeS[lit] = 0.1;
    for (let i = 0; i < 400 && fallback.safeFades[lit]?.stage !== 'safe'; i++) beat(false);
    run(false, 1);
    // Half of the two seconds, and no more: 255 is dark, 155 the safe look.
    expect(Math.abs((out[12] as number) - 205)).toBeLessThanOrEqual(100 * (TICK_S / FADE_S) + 1);
  });
});

describe('what has nothing to fade through', () => {
  const gobo = { ...channel('other', [1], 30), stepped: true };
  const tint = channel('other', [2], 200);
  const fixture: FallbackFixture = {
    channels: [channel('intensity', [0], 20), gobo, tint],
    moves: false,
    safeIsDark: false,
    fadeS: undefined,
  };
  const plan: FallbackPlan = {
    fixtures: [fixture],
    levelCount: 3,
    safeLook: Uint8Array.from([20, 30, 200]),
    times: TIMES,
    rearmS: 0,
  };
  const live = Uint8Array.from([220, 90, 100]);

  test('changes at the end of the fade; what has fades beside the intensity', () => {
    const state = createFallback(plan);
    const levels = Uint8Array.from(plan.safeLook);
    const go = (well: boolean, seconds: number) => {
      for (let i = 0; i < Math.round(seconds / TICK_S); i++) {
        stepFallback(state, plan, live, well, TICK_S, levels);
      }
    };
    go(true, 5);
    expect([...levels]).toEqual([220, 90, 100]);
    go(false, 1);
    expect(levels[1]).toBe(90);
    expect(Math.abs((levels[0] as number) - 120)).toBeLessThanOrEqual(4);
    expect(Math.abs((levels[2] as number) - 150)).toBeLessThanOrEqual(3);
    go(false, 1.1);
    expect([...levels]).toEqual([20, 30, 200]);
  });
});

test('a hazard whose value is none goes with the others; one that is drops at once', () => {
  // A shutter: strobes from 100 to 199.
  const shutter: FallbackChannel = {
    ...channel('other', [0], 0),
    dropsAtOnce: true,
    hazardRaws: [[100, 199]],
  };
  const plan: FallbackPlan = {
    fixtures: [{ channels: [shutter], moves: false, safeIsDark: true, fadeS: undefined }],
    levelCount: 1,
    safeLook: Uint8Array.from([0]),
    times: TIMES,
    rearmS: 0,
  };
  const lostFrom = (level: number) => {
    const state = createFallback(plan);
    const levels = new Uint8Array(1);
    const frame = new Uint8Array(1);
    for (let i = 0; i < 200; i++) stepFallback(state, plan, frame, true, TICK_S, levels);
    frame[0] = level;
    stepFallback(state, plan, frame, true, TICK_S, levels);
    expect(levels[0]).toBe(level);
    stepFallback(state, plan, frame, false, TICK_S, levels);
    return levels[0];
  };
  expect(lostFrom(150)).toBe(0);
  // On its way: 240 less a fortieth of a second of two.
  expect(lostFrom(240)).toBe(237);
});

describe('the time of a move', () => {
  const pan = (slots: readonly number[], safeRaw: number, motion: FallbackChannel['motion']) => ({
    ...channel('movement', slots, safeRaw),
    motion,
  });
  const moving = (one: FallbackChannel): FallbackFixture => ({
    channels: [one],
    moves: true,
    safeIsDark: true,
    fadeS: undefined,
  });

  test.each([
    // 1.5 d / v, and sqrt(6 d / a), from the end that is farther away, whichever is longer.
    ['its speed, from the far end above', pan([0], 55, { speed: 100, acceleration: 1e9 }), 3],
    ['its speed, from the far end below', pan([0], 200, { speed: 100, acceleration: 1e9 }), 3],
    ['its acceleration', pan([0], 105, { speed: 1e9, acceleration: 36 }), 5],
    ['two slots', pan([0, 1], 0, { speed: 65535, acceleration: 1e9 }), 1.5],
    ['the plan, where it is faster', pan([0], 0, { speed: 1e9, acceleration: 1e9 }), 1],
    ['the plan, where nothing is known', pan([0], 0, undefined), 1],
  ])('goes by %s', (_, one, seconds) => {
    expect(longestMoveToSafeS(moving(one), TIMES)).toBeCloseTo(seconds, 9);
  });

  test('is that of the way which lies before it, to the safe aim and back to the live one', () => {
    const one = pan([0], 50, { speed: 15, acceleration: 1e9 });
    const plan: FallbackPlan = {
      fixtures: [moving(one)],
      levelCount: 1,
      safeLook: Uint8Array.from([50]),
      times: TIMES,
      rearmS: 0,
    };
    const state = createFallback(plan);
    const levels = Uint8Array.from(plan.safeLook);
    const frame = Uint8Array.from([90]);
    const until = (well: boolean, stage: string) => {
      for (let i = 0; i < 1000 && state.safeFades[0]?.stage !== stage; i++) {
        stepFallback(state, plan, frame, well, TICK_S, levels);
      }
    };
    until(true, 'to-live');
    expect(state.moveS[0]).toBeCloseTo((1.5 * 40) / 15, 9);
    until(true, 'live');
    state.moveS[0] = 0;
    until(false, 'to-safe');
    expect(state.moveS[0]).toBeCloseTo((1.5 * 40) / 15, 9);
  });
});
