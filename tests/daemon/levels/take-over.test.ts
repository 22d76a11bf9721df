import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  beginBlend,
  countLoss,
  createShowLevels,
  type ShowLevels,
} from '../../../src/daemon/levels/show-levels.js';
import { takeOverLevels } from '../../../src/daemon/levels/take-over.js';
import { isFullySafe } from '../../../src/safety/fade-to-safe.js';
import { stepFallback, timeToSafeS } from '../../../src/safety/fallback.js';
import { stepOutputLimiter } from '../../../src/safety/output-limiter.js';
import type { Show } from '../../../src/show/model/model.js';
import { mostFlashesInASecond } from '../../safety/flashes.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

const MINIMAL = configShow('minimal');
/** A lamp more, before the one that is there. */
const TWO = MINIMAL.replace(
  'fixtures:\n',
  'fixtures:\n  first: { profile: dimmer, universe: 1, address: 9, safe: { Dimmer: 0 } }\n',
);
const BEAT_S = 0.025;
const old = showOf(MINIMAL); // a dimmer at 1/1, safe at 20 per cent

describe('another show takes over', () => {
  it('from what was sent, in steps that no eye sees, to its safe look; what it does not use goes out', () => {
    const before = createShowLevels(old);
    before.out[0] = 255;
    const next = showOf(
      MINIMAL.replace('address: 1,', 'address: 3,').replace('Dimmer: 20', 'Dimmer: 60'),
    );
    const levels = takeOverLevels(next, before);
    const { out, fallback, plan, limiter } = levels;
    expect([out[0], out[2]]).toEqual([255, 0]);
    let beats = 0;
    for (; fallback.phase === 'losing' && beats < 1000; beats++) {
      const last = Uint8Array.from(out);
      stepFallback(fallback, plan, plan.safeLook, false, BEAT_S, out);
      stepOutputLimiter(limiter, out, BEAT_S, beats * BEAT_S);
      for (let slot = 0; slot < 4; slot++) {
        // A fade of 2 s: 255 in 80 beats are 3.2 each.
        expect(Math.abs((out[slot] ?? 0) - (last[slot] ?? 0))).toBeLessThanOrEqual(4);
      }
    }
    expect([...out.subarray(0, 4)]).toEqual([0, 0, 153, 0]);
    expect(beats * BEAT_S).toBeCloseTo(2, 0);
  });

  it('with a universe that was not sent before, at its safe look there', () => {
    const before = createShowLevels(old);
    before.out[0] = 200;
    const next = showOf(
      MINIMAL.replaceAll('universe: 1', 'universe: 5').replace(
        'universes: [1]',
        'universes: [1, 5]',
      ),
    );
    const { out } = takeOverLevels(next, before);
    expect(out[0]).toBe(200);
    expect(out[512]).toBe(51);
  });
});

/** Live, with every slot that a channel has at a level of its own. */
function live(show: ReturnType<typeof showOf>, seed: number): ShowLevels {
  const levels = createShowLevels(show);
  levels.fallback.phase = 'live';
  for (const safeFade of levels.fallback.safeFades) {
    Object.assign(safeFade, { stage: 'live', live: 1, safe: 0 });
  }
  for (const { channels } of levels.plan.fixtures) {
    for (const { slots, dropsAtOnce, stepped } of channels) {
      if (dropsAtOnce || stepped) continue;
      for (const slot of slots) levels.out[slot] = (seed + slot * 37) & 0xff;
    }
  }
  return takeOverLevels(show, levels);
}

function beat(levels: ShowLevels, nowS: number): void {
  const { fallback, plan, out } = levels;
  stepFallback(fallback, plan, plan.safeLook, false, BEAT_S, out);
  stepOutputLimiter(levels.limiter, out, BEAT_S, nowS);
  countLoss(levels, BEAT_S);
}

const isSafe = ({ fallback }: ShowLevels) => fallback.safeFades.every(isFullySafe);

describe('reloads in the middle of a loss', () => {
  // Lamps, and moving heads with a lit safe look.
  const opera = showOf(
    configShow('salt-lantern').replace('aim: [5, 4, 0], Dimmer: 0', 'aim: [5, 4, 0], Dimmer: 30'),
  );

  it('of a show that is the same change nothing: each packet is what it would have been', () => {
    fc.assert(
      fc.property(
        fc.nat(255),
        fc.uniqueArray(fc.nat(400), { minLength: 1, maxLength: 30 }),
        (seed, at) => {
          const through = live(opera, seed);
          let reloaded = live(opera, seed);
          for (let i = 0; i < 420; i++) {
            if (at.includes(i)) reloaded = takeOverLevels(opera, reloaded);
            beat(through, i * BEAT_S);
            beat(reloaded, i * BEAT_S);
            // A fraction of a step that the limiter had in hand is lost.
            for (let slot = 0; slot < through.out.length; slot++) {
              const off = (through.out[slot] as number) - (reloaded.out[slot] as number);
              if (Math.abs(off) > 1) throw new Error(`beat ${i}, slot ${slot}: ${off} off`);
            }
          }
          expect(isSafe(reloaded)).toBe(true);
          expect(reloaded.out).toEqual(through.out);
        },
      ),
      { seed: 12, numRuns: 60 },
    );
  });

  it('of shows that differ: the safe look of the last one is there when the first loss promised it', () => {
    const shows = [20, 60, 0].map(safe => showOf(MINIMAL.replace('Dimmer: 20', `Dimmer: ${safe}`)));
    fc.assert(
      fc.property(
        fc.nat(255),
        fc.uniqueArray(fc.nat(78), { minLength: 1, maxLength: 30 }),
        (seed, at) => {
          let levels = live(shows[0] as (typeof shows)[0], seed);
          const beats = Math.ceil(timeToSafeS(levels.plan) / BEAT_S);
          let due = beats;
          // The limits hold a level that has little time left: a tenth of a second through the whole range.
          for (let i = 0; i < due + 5; i++) {
            const turn = at.indexOf(i);
            // A promise that has been kept is over; another safe look is another one.
            if (turn >= 0 && isSafe(levels)) due = i + beats;
            if (turn >= 0) levels = takeOverLevels(shows[turn % 3] as (typeof shows)[0], levels);
            beat(levels, i * BEAT_S);
          }
          expect(isSafe(levels)).toBe(true);
          expect(levels.out[0]).toBe(levels.plan.safeLook[0]);
        },
      ),
      { seed: 13, numRuns: 100 },
    );
  });

  it('a supervisor that has died in it leaves what is left of the fade to the next one', () => {
    const { out, losingForS } = { ...live(old, 255), losingForS: 1.5 };
    const levels = takeOverLevels(old, { show: old, out, losingForS });
    let beats = 0;
    for (; !isSafe(levels) && beats < 100; beats++) beat(levels, beats * BEAT_S);
    expect(beats * BEAT_S).toBeCloseTo(0.5, 1);
  });

  it('a head whose aim is safe already comes up without going dark', () => {
    const levels = live(opera, 7);
    const head = levels.plan.fixtures.findIndex(({ moves, safeIsDark }) => moves && !safeIsDark);
    const fixture = levels.plan.fixtures[head];
    const dimmer = fixture?.channels.find(one => one.class === 'intensity')?.slots[0] ?? -1;
    if (fixture === undefined || dimmer < 0) throw new Error('the opera has no such head');
    const { safeLook } = levels.plan;
    for (const { slots } of fixture.channels) {
      for (const slot of slots) levels.out[slot] = safeLook[slot] as number;
    }
    const half = Math.round((safeLook[dimmer] as number) / 2);
    levels.out[dimmer] = half;
    const resumed = takeOverLevels(opera, { show: opera, out: levels.out, losingForS: 0 });
    let lowest = 255;
    for (let i = 0; i < 120; i++) {
      beat(resumed, i * BEAT_S);
      lowest = Math.min(lowest, resumed.out[dimmer] as number);
    }
    expect(lowest).toBeGreaterThanOrEqual(half);
    expect(resumed.out[dimmer]).toBe(safeLook[dimmer]);
  });
});

describe('the ration of flashes', () => {
  const shows = [old, showOf(MINIMAL.replace('One lamp', 'Another')), showOf(TWO)];

  it.each([
    [
      'is not given anew by a reload',
      (levels: ShowLevels, n: number) => takeOverLevels(shows[n % 3] as Show, levels),
    ],
    [
      'nor by a crossfade from the other machine of a pair',
      (levels: ShowLevels) => {
        beginBlend(levels, { levels: levels.out, knows: () => true });
        levels.blend = undefined;
        return levels;
      },
    ],
  ])('%s', (_, anew) => {
    let levels = createShowLevels(old);
    const sent: number[] = [];
    for (let n = 0; n < 400; n++) {
      if (n % 12 === 5) levels = anew(levels, n);
      // Eight flashes a second are asked for.
      levels.out[0] = n % 5 < 3 ? 255 : 0;
      stepOutputLimiter(levels.limiter, levels.out, BEAT_S, 100 + n * BEAT_S);
      sent.push((levels.out[0] ?? 0) / 255);
    }
    expect(mostFlashesInASecond(sent, 1 / BEAT_S)).toBeLessThanOrEqual(3);
    expect(Math.max(...sent.slice(200))).toBeGreaterThan(0.5);
  });
});
