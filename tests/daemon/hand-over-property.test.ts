import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { createShowLevels } from '../../src/daemon/levels/show-levels.js';
import { createEngine } from '../../src/engine/engine.js';
import { viewOf } from '../../src/engine/view.js';
import { type FallbackFixture, readRaw, stepFallback } from '../../src/safety/fallback.js';
import { stepOutputLimiter } from '../../src/safety/output-limiter.js';
import { isKnown } from '../../src/safety/watchdog.js';
import { demand } from '../demand.js';
import { Rig, TICK_HZ } from '../engine/harness.js';
import { showOf } from '../show/show-of.js';

const SEED = 20261130;
const BEAT_S = 1 / TICK_HZ;

/** Lamps and heads of one performer each, and a lamp of both; safe values dark and lit. */
const showWith = ({ engineFade, lossFade, lampFade, back }: Times) => `
lampwright: 1
name: Hand-over
stage: { x: [0, 6], y: [0, 4] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] } }
zones: { stove: { circle: { centre: [2, 3], radius: 0.8 } } }
profiles:
  salt-head:
    channels:
      - { attribute: Pan, bits: 16, range: [-270, 270] }
      - { attribute: Tilt, bits: 16, range: [-135, 135] }
      - { attribute: Dimmer, bits: 16 }
fixtures:
  stove-glow: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 0 } }
  harbour-lamp: { profile: dimmer, universe: 1, address: 2, safe: { Dimmer: 30 }, fade: ${lampFade} }
  lantern: { profile: dimmer, universe: 1, address: 3, base: { Dimmer: 10 }, safe: { Dimmer: 20 } }
  head: { profile: salt-head, universe: 1, address: 11, position: [3, 0, 5], base: { aim: [2, 3, 0] }, safe: { aim: [2, 3, 0], Dimmer: 0 } }
  back: { profile: salt-head, universe: 1, address: 21, position: [1, 4, 5], base: { aim: [4, 1, 0] }, safe: { aim: [4, 1, 0], Dimmer: 25 } }
mappings:
  - { zone: stove, performers: [ines], fixtures: [stove-glow], set: { Dimmer: 100 } }
  - { zone: stove, performers: [tobias], fixtures: [harbour-lamp], set: { Dimmer: 90 } }
  - { zone: stove, fixtures: [lantern], set: { Dimmer: 80 } }
  - { follow: ines, fixtures: [head], set: { Dimmer: 100 } }
  - { follow: tobias, fixtures: [back], set: { Dimmer: 80 } }
watchdog:
  return: ${back}
  engineSilent: { after: 0.25, fade: ${engineFade} }
  trackerSilent: { after: 0.5, fade: ${lossFade} }
  feedSilent: { after: 0.5, fade: ${lossFade} }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;

/** Whose light each fixture is, in the order of the show. */
const THEIRS = [['ines'], ['tobias'], ['ines', 'tobias'], ['ines'], ['tobias']];

const times = fc.record({
  engineFade: fc.constantFrom(0.5, 1, 4),
  lossFade: fc.constantFrom(0.3, 1, 3, 8),
  lampFade: fc.constantFrom(0.2, 2, 6),
  back: fc.constantFrom(0.5, 1, 2, 4),
});
type Times = typeof times extends fc.Arbitrary<infer T> ? T : never;

const beats = (mostS: number) => fc.integer({ min: 1, max: mostS * TICK_HZ });
const story = fc.record({
  times,
  all: fc.array(
    fc.record({
      /** The engine is killed, or the supervisor has stood still and holds the light while the engine goes on. */
      killed: fc.boolean(),
      heldBeats: beats(6),
      lostAfter: beats(7),
      lostBeats: beats(6),
      who: fc.constantFrom('1', '2', 'both'),
      stop: fc.boolean(),
    }),
    { minLength: 1, maxLength: 3 },
  ),
});
type Happening =
  typeof story extends fc.Arbitrary<infer T extends { all: unknown }>
    ? T['all'] extends (infer U)[]
      ? U
      : never
    : never;

class House {
  rig: Rig;
  readonly levels;
  frame: Uint8Array;
  readonly silent = new Set<string>();
  lostWhileReturning = 0;
  lit = 0;

  constructor(text: string) {
    this.rig = new Rig(showOf(text));
    this.levels = createShowLevels(this.rig.show);
    this.frame = Uint8Array.from(this.levels.plan.safeLook);
  }

  kill(): void {
    const { rig } = this;
    const engine = createEngine(rig.show);
    Object.assign(rig, { engine, view: viewOf(engine) });
  }

  beat(well: boolean): void {
    const { rig, levels } = this;
    const heard = Object.fromEntries(
      ['1', '2'].filter(id => !this.silent.has(id)).map(id => [id, [2, 3, 1.2] as const]),
    );
    rig.run(BEAT_S, heard);
    this.frame.set(rig.view.levels);
    const { fallback, plan, out, limiter } = levels;
    const before = out.slice();
    const falls = (fixture: number) => rig.engine.falling.lights[fixture] === 1;
    stepFallback(fallback, plan, this.frame, well, BEAT_S, out, falls);
    stepOutputLimiter(limiter, out, BEAT_S, rig.nowS);
    this.judge(before, out);
  }

  judge(before: Uint8Array, out: Uint8Array): void {
    const { rig, levels } = this;
    const { plan, fallback } = levels;
    THEIRS.forEach((theirs, i) => {
      const { channels, moves } = plan.fixtures[i] as FallbackFixture;
      const dimmer = channels.find(one => one.class === 'intensity');
      if (dimmer === undefined) throw new Error('each has a dimmer');
      const [was, is] = [readRaw(dimmer, before), readRaw(dimmer, out)];
      const { safeRaw } = dimmer;
      if (is !== safeRaw && is > 0) this.lit += 1;
      const isLost = rig.engine.show.performers.every(
        ({ name }, p) =>
          !theirs.includes(name) ||
          !isKnown(rig.engine.watched.performers[p]?.watch.phase ?? 'waiting'),
      );
      if (!isLost) return;
      const isGivenBack = fallback.phase === 'returning' && rig.engine.falling.lights[i] === 1;
      if (isGivenBack) this.lostWhileReturning += 1;
      const name = rig.show.fixtures[i]?.name;
      const what = () => `${name} at ${rig.nowS} s: ${was} to ${is}, safe is ${safeRaw}`;
      // Who moves comes to a lit safe look from the dark.
      if (moves) demand(is <= Math.max(was, safeRaw), what);
      else demand(Math.abs(is - safeRaw) <= Math.abs(was - safeRaw), what);
    });
  }

  happen({ killed, heldBeats, lostAfter, lostBeats, who, stop }: Happening): void {
    if (killed) this.kill();
    const whom = who === 'both' ? ['1', '2'] : [who];
    const length = Math.max(heldBeats, lostAfter + lostBeats) + 3 * TICK_HZ;
    for (let i = 0; i < length; i++) {
      if (i === lostAfter) this.lose(whom, stop);
      if (i === lostAfter + lostBeats) this.lose(whom, stop, true);
      this.beat(i >= heldBeats);
    }
  }

  lose(whom: readonly string[], stop: boolean, isOver = false): void {
    for (const id of whom) {
      const performer = id === '1' ? 'ines' : 'tobias';
      if (stop) this.rig.order({ kind: isOver ? 'resume' : 'stop', performer, cause: 'command' });
      else if (isOver) this.silent.delete(id);
      else this.silent.add(id);
    }
  }
}

describe('whoever has the light', () => {
  test('once somebody is declared lost or stopped, none of their light rises until they are followed again', () => {
    const seen = { lit: 0, lostWhileReturning: 0 };
    fc.assert(
      fc.property(story, ({ times: of, all }) => {
        const house = new House(showWith(of));
        for (let i = 0; i < 5 * TICK_HZ; i++) house.beat(true);
        for (const one of all) house.happen(one);
        seen.lit += house.lit;
        seen.lostWhileReturning += house.lostWhileReturning;
      }),
      { numRuns: 60, seed: SEED },
    );
    // It was about something.
    expect(seen.lit).toBeGreaterThan(10_000);
    expect(seen.lostWhileReturning).toBeGreaterThan(500);
  });
});
