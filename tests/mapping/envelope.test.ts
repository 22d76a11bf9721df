import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { stepEnvelope } from '../../src/mapping/envelope.js';

const SEED = 20260120;
const FADE = { inS: 0.5, outS: 2 };

describe('an envelope', () => {
  test('takes its fade times from nothing to full and back', () => {
    let level = 0;
    for (let i = 0; i < 20; i++) level = stepEnvelope(level, 1, 1 / 40, FADE);
    expect(level).toBe(1);
    for (let i = 0; i < 40; i++) level = stepEnvelope(level, 0, 1 / 40, FADE);
    expect(level).toBeCloseTo(0.5, 9);
  });

  test('0 seconds is at once', () => {
    const atOnce = { inS: 0, outS: 0 };
    expect(stepEnvelope(0, 0.7, 0, atOnce)).toBe(0.7);
    expect(stepEnvelope(0.7, 0.2, 0, atOnce)).toBe(0.2);
  });

  test('stays where its target is', () => {
    expect(stepEnvelope(0.4, 0.4, 1, FADE)).toBe(0.4);
  });

  test('never passes its target, nor goes away from it, nor faster than its fade', () => {
    const share = fc.double({ min: 0, max: 1, noNaN: true });
    const seconds = fc.double({ min: 0, max: 10, noNaN: true });
    fc.assert(
      fc.property(share, share, seconds, seconds, seconds, (level, target, dtS, inS, outS) => {
        const next = stepEnvelope(level, target, dtS, { inS, outS });
        expect(next).toBeGreaterThanOrEqual(Math.min(level, target));
        expect(next).toBeLessThanOrEqual(Math.max(level, target));
        const fadeS = target > level ? inS : outS;
        if (fadeS > 0) expect(Math.abs(next - level)).toBeLessThanOrEqual(dtS / fadeS + 1e-12);
      }),
      { seed: SEED, numRuns: 1000 },
    );
  });
});
