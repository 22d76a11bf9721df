import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  beginBlend,
  createShowLevels,
  isAlike,
  stepBlend,
  takeSection,
} from '../../../src/daemon/levels/show-levels.js';
import { stepFallback } from '../../../src/safety/fallback.js';
import { beginLimiterBeat, stepOutputLimiter } from '../../../src/safety/output-limiter.js';
import { configShow } from '../../show/base.js';
import { houseOf } from '../../show/house.js';
import { showOf } from '../../show/show-of.js';

const MINIMAL = configShow('minimal');
const BEAT_S = 0.025;
/** Slots of the house that are patched: a lamp at each end of a universe, a head at 101. */
const patched = Array.from({ length: 40 }, (_, u) =>
  [0, 100, 101, 102, 103, 104, 511].map(s => u * 512 + s),
).flat();
const old = showOf(MINIMAL); // a dimmer at 1/1, safe at 20 per cent

describe('a beat in sections', () => {
  it('sends what the whole beat would, whatever the engine says and whichever universe is cut off', () => {
    const show = houseOf(40);
    const live = () => {
      const levels = createShowLevels(show);
      levels.fallback.phase = 'live';
      return levels;
    };
    const beat = fc.record({
      fill: fc.array(fc.tuple(fc.nat(40 * 512 - 1), fc.nat(255)), { maxLength: 60 }),
      all: fc.option(fc.nat(255)),
      cutOff: fc.array(fc.nat(39), { maxLength: 3 }),
      dtS: fc.double({ min: 0, max: 0.1, noNaN: true }),
    });
    fc.assert(
      fc.property(fc.array(beat, { minLength: 1, maxLength: 12 }), beats => {
        const [whole, inSections] = [live(), live()];
        expect(inSections.sections.length).toBeGreaterThan(2);
        const frame = Uint8Array.from(whole.plan.safeLook);
        let nowS = 1000;
        for (const { fill, all, cutOff, dtS } of beats) {
          nowS += dtS;
          if (all !== null) for (const slot of patched) frame[slot] = all;
          for (const [slot, value] of fill) frame[slot] = value;
          const universes = new Uint8Array(40);
          const cut = { universes, sent: new Uint8Array(40 * 512) };
          for (const universe of cutOff) universes[universe] = 1 + (universe % 2);
          stepFallback(whole.fallback, whole.plan, frame, true, dtS, whole.out);
          stepOutputLimiter(whole.limiter, whole.out, dtS, nowS, cut);
          beginLimiterBeat(inSections.limiter, nowS);
          for (const section of inSections.sections) {
            takeSection(inSections, section, frame, dtS, cut);
          }
          expect(Buffer.compare(inSections.out, whole.out)).toBe(0);
          expect(inSections.limiter.slowed).toBe(whole.limiter.slowed);
          expect(inSections.limiter.flash.held).toBe(whole.limiter.flash.held);
        }
      }),
      { seed: 19, numRuns: 60 },
    );
  });

  it('that ends in the middle leaves the rest where it was', () => {
    const levels = createShowLevels(houseOf(40));
    levels.fallback.phase = 'live';
    const frame = Uint8Array.from(levels.plan.safeLook).fill(0);
    const before = Uint8Array.from(levels.out);
    const [first] = levels.sections;
    if (first === undefined) throw new Error('no sections');
    beginLimiterBeat(levels.limiter, 1000);
    takeSection(levels, first, frame, BEAT_S, undefined);
    expect(levels.out.subarray(first.endSlot)).toEqual(before.subarray(first.endSlot));
    // 51 of 255 to 0 in a beat of 25 ms: the limit of 0.1 s for the whole range allows 63.
    expect(levels.out[0]).toBe(0);
    // The next whole beat goes on with all.
    stepOutputLimiter(levels.limiter, levels.out.fill(0), BEAT_S, 1000.025);
    expect(levels.out[first.endSlot]).toBe(0);
  });
});

describe('the light of another machine', () => {
  const other = (level: number, known = true) => {
    const levels = new Uint8Array(512);
    levels[0] = level;
    return { levels, knows: () => known };
  };

  it('is alike within 2 per cent, as two machines with noise of their own are', () => {
    const levels = createShowLevels(old);
    levels.out[0] = 100;
    expect(isAlike(levels, other(105))).toBe(true);
    expect(isAlike(levels, other(106))).toBe(false);
    expect(isAlike(levels, other(100, false))).toBe(false);
  });

  it('is where a crossfade begins, which ends at ours after the time of the return', () => {
    const levels = createShowLevels(old);
    beginBlend(levels, other(250));
    const sent: number[] = [];
    for (let beat = 0; beat < 80; beat++) {
      levels.out[0] = 50; // what the engine wants
      stepBlend(levels, BEAT_S);
      stepOutputLimiter(levels.limiter, levels.out, BEAT_S, beat * BEAT_S);
      sent.push(levels.out[0] ?? 0);
    }
    // 200 steps in 1.5 s (`return`) are 3.3 a beat.
    sent.forEach((level, i) => {
      expect(Math.abs(level - (sent[i - 1] ?? 250))).toBeLessThanOrEqual(4);
    });
    expect(sent[59]).toBe(50);
    expect(levels.blend).toBeUndefined();
  });
});
