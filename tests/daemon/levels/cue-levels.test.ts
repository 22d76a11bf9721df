import fc from 'fast-check';
import { expect, it } from 'vitest';
import { followCue } from '../../../src/daemon/levels/cue-levels.js';
import { createShowLevels, type ShowLevels } from '../../../src/daemon/levels/show-levels.js';
import { stepFallback, timeToSafeS } from '../../../src/safety/fallback.js';
import { stepOutputLimiter } from '../../../src/safety/output-limiter.js';
import { safeLook } from '../../../src/show/model/safe-look.js';
import { showOf } from '../../show/show-of.js';

/** A lamp, one with a lit safe look, a head; three safe looks, one of them with another aim. */
const SHOW = showOf(`
lampwright: 1
name: Three safe looks
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1] }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 } }
  sea: { profile: dimmer, universe: 1, address: 2 }
  head: { profile: moving-head, universe: 1, address: 21, position: [5, 1, 5], safe: { aim: [5, 4, 0] } }
cues:
  prologue: {}
  storm: { safe: { sea: { Dimmer: 60 }, glow: { Dimmer: 5 } } }
  dawn: { safe: { head: { aim: [1, 6, 0], Dimmer: 40 } } }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`);
const BEAT_S = 0.025;
const LOOKS = [0, 1, 2].map(cue => [...safeLook(SHOW, cue)]);
const PATCHED = new Set(
  createShowLevels(SHOW).plan.fixtures.flatMap(({ channels }) =>
    channels.flatMap(one => one.slots),
  ),
);
const LONGEST_S = Math.max(...createShowLevels(SHOW).plans.map(timeToSafeS));

class Beats {
  levels: ShowLevels = createShowLevels(SHOW);
  cue = 0;
  nowS = 0;
  /** Of an engine in whose cue everything is full. */
  frame = Uint8Array.from({ length: 512 }, (_, slot) => (PATCHED.has(slot) ? 200 : 0));

  run(seconds: number, well: boolean): this {
    for (let i = 0; i < seconds / BEAT_S; i++) {
      this.nowS += BEAT_S;
      this.levels = followCue(this.levels, this.cue, well);
      const { fallback, plan, limiter, out } = this.levels;
      stepFallback(fallback, plan, this.frame, well, BEAT_S, out);
      stepOutputLimiter(limiter, out, BEAT_S, this.nowS);
    }
    return this;
  }

  get out(): number[] {
    return [...this.levels.out];
  }
}

it('each cue has a safe look of its own, known from the start', () => {
  const { plans } = createShowLevels(SHOW);
  expect(plans.map(({ safeLook: look }) => [...look])).toEqual(LOOKS);
  expect(new Set(LOOKS.map(look => look.join())).size).toBe(3);
});

it('a cue while all is live changes nothing of what is sent; a loss then goes to its safe look', () => {
  const beats = new Beats().run(6, true);
  expect(beats.levels.fallback.phase).toBe('live');
  beats.cue = 1;
  const before = beats.out;
  expect(beats.run(BEAT_S, true).out).toEqual(before);
  expect(beats.run(LONGEST_S + 0.1, false).out).toEqual(LOOKS[1]);
});

it('a cue in the middle of a loss: the safe look is its own, when the loss was to be over', () => {
  const beats = new Beats().run(6, true).run(1, false);
  beats.cue = 1;
  // What moves takes its time for the way; the lamps are faded by what is left of two seconds.
  const lamps = beats.run(1 + 2 * BEAT_S, false).out.slice(0, 2);
  expect(lamps).toEqual(LOOKS[1]?.slice(0, 2));
  expect(beats.run(LONGEST_S, false).out).toEqual(LOOKS[1]);
});

it('a cue late in a loss: a lamp that is safe already goes on to the other safe value in a fade of its own', () => {
  const beats = new Beats().run(6, true).run(2.5, false);
  expect(beats.out.slice(0, 2)).toEqual(LOOKS[0]?.slice(0, 2));
  expect(beats.levels.fallback.phase).toBe('losing'); // the head still moves
  beats.cue = 1;
  const seen: number[] = [];
  for (let i = 0; i < 2 / BEAT_S + 1; i++) seen.push(beats.run(BEAT_S, false).out[1] as number);
  expect(seen.at(-1)).toBe(LOOKS[1]?.[1]);
  const steps = seen.map((level, i) => level - (seen[i - 1] ?? 0));
  expect(Math.max(...steps)).toBeLessThanOrEqual(4);
});

it('a cue while the safe look is out: from the one to the other, in a fade', () => {
  const beats = new Beats().run(1, false);
  beats.cue = 1;
  const seen: number[] = [];
  for (let i = 0; i < 90; i++) seen.push(beats.run(BEAT_S, false).out[1] as number);
  expect(beats.out).toEqual(LOOKS[1]);
  const steps = seen.map((level, i) => level - (seen[i - 1] ?? 0));
  expect(Math.max(...steps)).toBeLessThanOrEqual(4);
  expect(Math.min(...steps)).toBeGreaterThanOrEqual(0);
});

it('a cue while the light comes up from the safe look waits for it; a loss before that goes to its own', () => {
  const beats = new Beats().run(2.2, true);
  expect(beats.levels.fallback.phase).toBe('returning');
  beats.cue = 1;
  expect(beats.run(BEAT_S, true).levels.cue).toBe(0);
  const lost = beats.run(LONGEST_S + 0.1, false);
  expect([lost.levels.cue, lost.out]).toEqual([1, LOOKS[1]]);
  expect(lost.run(8, true).levels).toMatchObject({ cue: 1, fallback: { phase: 'live' } });
});

it('whatever cues and losses come, the safe look of the last cue is out in the time of a loss', () => {
  const turns = fc.array(
    fc.record({
      cue: fc.integer({ min: 0, max: 2 }),
      well: fc.boolean(),
      forS: fc.double({ min: 0.1, max: 4, noNaN: true }),
    }),
    { minLength: 1, maxLength: 8 },
  );
  fc.assert(
    fc.property(turns, all => {
      const beats = new Beats();
      for (const { cue, well, forS } of all) {
        beats.cue = cue;
        beats.run(forS, well);
      }
      beats.run(LONGEST_S + 0.1, false);
      expect(beats.out).toEqual(LOOKS[beats.cue]);
    }),
    { seed: 16, numRuns: 60 },
  );
});
