import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { FallbackChannel } from '../../src/safety/fallback.js';
import {
  createOutputLimiter,
  DEFAULT_LIMITS,
  stepOutputLimiter,
} from '../../src/safety/output-limiter.js';
import { demand } from '../demand.js';
import { mostFlashesInASecond } from './flashes.js';

const SEED = 20260119;
const HZ = 40;
const BEAT_S = 1 / HZ;

function channel(
  kind: FallbackChannel['class'],
  slots: readonly number[],
  more: Partial<FallbackChannel> = {},
): FallbackChannel {
  return {
    class: kind,
    slots,
    safeRaw: 0,
    darkRaw: 0,
    stepped: false,
    dropsAtOnce: false,
    ...more,
  };
}

const DIMMER = channel('intensity', [0]);
const WIDE = channel('intensity', [1, 2]);
const PAN = channel('movement', [3, 4]);
/** Its fine slot lies before the coarse one, and others between. */
const SCATTERED = channel('other', [9, 5, 7]);
const GOBO = channel('other', [6], { stepped: true });
const STROBE = channel('intensity', [8], { dropsAtOnce: true });
/** Dark at its maximum. */
const INVERSE = channel('intensity', [10], { darkRaw: 255, safeRaw: 255 });
const ALL = [DIMMER, WIDE, PAN, SCATTERED, GOBO, STROBE, INVERSE];
const LEVELS = 12;
const START = new Uint8Array(LEVELS);
START[10] = 255;

function raw({ slots }: FallbackChannel, levels: Uint8Array): number {
  return slots.reduce((sum, slot) => sum * 256 + (levels[slot] ?? 0), 0);
}

function set({ slots }: FallbackChannel, levels: Uint8Array, value: number): void {
  slots.forEach((slot, k) => {
    levels[slot] = Math.floor(value / 256 ** (slots.length - 1 - k)) & 0xff;
  });
}

const range = (one: FallbackChannel) => 256 ** one.slots.length - 1;

test('what is the desk’s is held back by nothing, and our limits go on from where the desk left it', () => {
  const limiter = createOutputLimiter([DIMMER, GOBO, INVERSE], START);
  const sent = (value: number) => {
    const levels = Uint8Array.from(START);
    for (const one of [DIMMER, GOBO, INVERSE]) set(one, levels, value);
    stepOutputLimiter(limiter, levels, BEAT_S, 1000);
    return [DIMMER, GOBO, INVERSE].map(one => raw(one, levels));
  };
  limiter.free.fill(1);
  // As often as the desk likes.
  for (let i = 0; i < 20; i++) expect(sent(255 * (i % 2))).toEqual(Array(3).fill(255 * (i % 2)));
  expect(limiter.slowed).toBe(0);
  limiter.free.fill(0);
  // A quarter of the range a beat, from 255; a wheel goes at once.
  expect(sent(0)).toEqual([191, 0, 191]);
});

describe('one beat', () => {
  test('moves a channel by no more than its share of the range, as one value', () => {
    const limiter = createOutputLimiter(ALL, START);
    const levels = Uint8Array.from(START);
    for (const one of ALL) set(one, levels, one === INVERSE ? 0 : range(one));
    stepOutputLimiter(limiter, levels, BEAT_S, 1000);
    // 0.1 s for the range of an intensity: a quarter in a beat of 25 ms. For movement 0.25 s: a tenth.
    expect(raw(DIMMER, levels)).toBe(64);
    expect(raw(WIDE, levels)).toBe(16384);
    expect(raw(PAN, levels)).toBe(6554);
    expect(raw(SCATTERED, levels)).toBe(4194304);
    expect(raw(INVERSE, levels)).toBe(191);
    expect(raw(STROBE, levels)).toBe(64);
    // A wheel has nothing between two positions.
    expect(raw(GOBO, levels)).toBe(255);
    expect(limiter.slowed).toBe(6);
  });

  test('that comes late moves no farther than two on time', () => {
    const limiter = createOutputLimiter(ALL, START);
    const levels = Uint8Array.from(START);
    for (const one of ALL) set(one, levels, one === INVERSE ? 0 : range(one));
    stepOutputLimiter(limiter, levels, 30, 1000);
    expect(raw(DIMMER, levels)).toBe(128);
    expect(raw(PAN, levels)).toBe(13107);
  });

  test('takes a hazardous output towards its safe value at once, and away from it no faster than others', () => {
    const limiter = createOutputLimiter(ALL, START);
    const levels = Uint8Array.from(START);
    let nowS = 1000;
    const beat = (value: number) => {
      set(STROBE, levels, value);
      nowS += BEAT_S;
      stepOutputLimiter(limiter, levels, BEAT_S, nowS);
      return raw(STROBE, levels);
    };
    expect([beat(255), beat(255), beat(255), beat(255)]).toEqual([64, 128, 191, 255]);
    expect(beat(0)).toBe(0);
  });

  test('leaves slots that belong to no channel as they are', () => {
    const limiter = createOutputLimiter(ALL, START);
    const levels = Uint8Array.from(START);
    levels[11] = 77;
    stepOutputLimiter(limiter, levels, BEAT_S, 1000);
    expect(levels[11]).toBe(77);
  });
});

test('a universe that can not leave stays where it was, and goes on from there when it can', () => {
  const [here, there] = [channel('intensity', [0]), channel('intensity', [512, 513])];
  const limiter = createOutputLimiter([here, there], new Uint8Array(1024));
  const levels = new Uint8Array(1024);
  let nowS = 1000;
  const beat = (cutOff: readonly number[]) => {
    set(here, levels, 255);
    set(there, levels, 65535);
    nowS += BEAT_S;
    const universes = Uint8Array.from(cutOff);
    stepOutputLimiter(limiter, levels, BEAT_S, nowS, { universes, sent: new Uint8Array(1024) });
    return [raw(here, levels), raw(there, levels)];
  };
  for (let i = 0; i < 2; i++) beat([0, 0]);
  for (let i = 0; i < 200; i++) expect(beat([0, 1])[1]).toBe(32768);
  expect(beat([0, 0])).toEqual([255, 49151]);
});

test('a fade that is not shorter than the limit passes to the step', () => {
  const limiter = createOutputLimiter([DIMMER, WIDE], START);
  const levels = Uint8Array.from(START);
  for (let n = 1; n <= 8; n++) {
    // Up and down in the shortest time that there is.
    const share = n <= 4 ? n / 4 : (8 - n) / 4;
    const wanted = [Math.round(255 * share), Math.round(65535 * share)];
    set(DIMMER, levels, wanted[0] ?? 0);
    set(WIDE, levels, wanted[1] ?? 0);
    stepOutputLimiter(limiter, levels, BEAT_S, 1000 + n * BEAT_S);
    expect(Math.abs(raw(DIMMER, levels) - (wanted[0] ?? 0))).toBeLessThanOrEqual(1);
    expect(Math.abs(raw(WIDE, levels) - (wanted[1] ?? 0))).toBeLessThanOrEqual(1);
  }
});

test('a slow limit of a coarse channel is kept on average: 255 steps in 20 s', () => {
  const limiter = createOutputLimiter([DIMMER], START, { ...DEFAULT_LIMITS, intensityS: 20 });
  const levels = Uint8Array.from(START);
  let beats = 0;
  while (levels[0] !== 255 && beats < 2000) {
    levels[0] = 255;
    beats += 1;
    stepOutputLimiter(limiter, levels, BEAT_S, 1000 + beats * BEAT_S);
  }
  expect(beats * BEAT_S).toBeGreaterThan(19.9);
  expect(beats * BEAT_S).toBeLessThan(20.1);
});

test('whatever is asked: no step above the limit, no flash above three a second, the end is what was asked', () => {
  const beats = fc.array(fc.uint8Array({ minLength: LEVELS, maxLength: LEVELS }), {
    minLength: 1,
    maxLength: 60,
  });
  fc.assert(
    fc.property(beats, fc.integer({ min: 1, max: 8 }), (frames, hold) => {
      const limiter = createOutputLimiter(ALL, START);
      const sent = Uint8Array.from(START);
      const lamps = [DIMMER, WIDE, STROBE, INVERSE];
      const series: number[][] = lamps.map(() => []);
      let nowS = 1000;
      const beat = (frame: Uint8Array) => {
        const before = Uint8Array.from(sent);
        sent.set(frame);
        nowS += BEAT_S;
        stepOutputLimiter(limiter, sent, BEAT_S, nowS);
        for (const one of ALL) {
          const step = Math.abs(raw(one, sent) - raw(one, before));
          if (one === GOBO) continue;
          if (one === STROBE && raw(one, sent) < raw(one, before)) continue;
          const shortestS =
            one.class === 'movement' ? DEFAULT_LIMITS.movementS : DEFAULT_LIMITS.intensityS;
          const most = (range(one) * BEAT_S) / shortestS + 1;
          demand(step <= most, () => `a step of ${step}, at most ${most}`);
        }
        lamps.forEach((one, i) => {
          const full = raw(one, sent) / range(one);
          series[i]?.push(one === INVERSE ? 1 - full : full);
        });
      };
      for (const frame of frames) for (let i = 0; i < hold; i++) beat(frame);
      for (const one of series) expect(mostFlashesInASecond(one, HZ)).toBeLessThanOrEqual(3);
      const last = frames.at(-1) as Uint8Array;
      for (let i = 0; i < 3 * HZ; i++) beat(last);
      expect(sent).toEqual(last);
    }),
    { seed: SEED, numRuns: 60 },
  );
});

test('a channel of 32 bits moves as one value, at its rate, and arrives', () => {
  const wide = channel('movement', [0, 1, 2, 3]);
  const limiter = createOutputLimiter([wide], new Uint8Array(4));
  const levels = new Uint8Array(4).fill(255);
  stepOutputLimiter(limiter, levels, BEAT_S, 1000);
  const raw = levels.reduce((sum, byte) => sum * 256 + byte, 0);
  expect(raw).toBe(Math.round(((2 ** 32 - 1) * BEAT_S) / DEFAULT_LIMITS.movementS));
  for (let beat = 1; beat < 40 * DEFAULT_LIMITS.movementS + 1; beat++) {
    levels.fill(255);
    stepOutputLimiter(limiter, levels, BEAT_S, 1000 + beat * BEAT_S);
  }
  expect([...levels]).toEqual([255, 255, 255, 255]);
});
