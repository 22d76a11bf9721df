import fc from 'fast-check';
import { Object3D, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { goOnWith, prepareLevels } from '../../src/daemon/levels/next-levels.js';
import {
  beginBlend,
  createShowLevels,
  type ShowLevels,
  stepBlend,
} from '../../src/daemon/levels/show-levels.js';
import { takeOverLevels } from '../../src/daemon/levels/take-over.js';
import { createEngine } from '../../src/engine/engine.js';
import { takeOver } from '../../src/engine/take-over/take-over.js';
import { viewOf } from '../../src/engine/view.js';
import { decode } from '../../src/fixtures/encode.js';
import type { Channel } from '../../src/fixtures/profile.js';
import { stepFallback } from '../../src/safety/fallback.js';
import { stepOutputLimiter } from '../../src/safety/output-limiter.js';
import type { FixturePlan } from '../../src/show/model/model.js';
import { demand } from '../demand.js';
import { Rig, TICK_HZ } from '../engine/harness.js';
import { KEPT } from '../engine/keep-out-show.js';
import { showOf } from '../show/show-of.js';

const SEED = 20261130;
const BEAT_S = 1 / TICK_HZ;
/** The other show of a reload: another audience, other aims. */
const OTHER = KEPT.replace('[13, -0.5], [-3, -0.5]', '[13, 1], [-3, 1]').replace(
  'base: { aim: [5, 5, 0], Dimmer: 25 }',
  'base: { aim: [3, 6, 0], Dimmer: 40 }',
);

/**
 * Whether a beam goes into the audience or the camera, by rays of its own: along its axis and its edge, each against a box
 * by its slabs, or a ball by its distance. Directions by a chain of Object3D of three.
 */
function goesInto(plan: FixturePlan, pan: number, tilt: number, fieldDeg: number, edgeY: number) {
  const fixture = new Object3D();
  const { x, y, z } = plan.head?.position ?? { x: 0, y: 0, z: 0 };
  fixture.position.set(x, y, z);
  const yoke = new Object3D();
  yoke.rotation.z = (pan * Math.PI) / 180;
  const head = new Object3D();
  head.rotation.x = (tilt * Math.PI) / 180;
  fixture.add(yoke);
  yoke.add(head);
  fixture.updateMatrixWorld(true);
  const half = ((fieldDeg / 2) * Math.PI) / 180;
  const rays = [[0, 0], ...Array.from({ length: 16 }, (_, i) => [half, (i * Math.PI) / 8])];
  return rays.some(([off = 0, round = 0]) => {
    const local = new Vector3(Math.sin(off) * Math.cos(round), Math.sin(off) * Math.sin(round), 0);
    local.z = -Math.cos(off);
    const d = head.localToWorld(local).sub(fixture.position);
    return hitsBox(fixture.position, d, edgeY) || hitsBall(fixture.position, d);
  });
}

function hitsBox(from: Vector3, d: Vector3, edgeY: number): boolean {
  const low = new Vector3(-3, -9, -1);
  const high = new Vector3(13, edgeY, 1.4);
  let [near, far] = [0, Number.POSITIVE_INFINITY];
  for (const axis of ['x', 'y', 'z'] as const) {
    const a = (low[axis] - from[axis]) / d[axis];
    const b = (high[axis] - from[axis]) / d[axis];
    near = Math.max(near, Math.min(a, b));
    far = Math.min(far, Math.max(a, b));
  }
  return near <= far;
}

function hitsBall(from: Vector3, d: Vector3): boolean {
  const to = new Vector3(9.5, 3, 1.5).sub(from);
  const along = Math.max(0, to.dot(d));
  return to.addScaledVector(d, -along).length() < 0.5;
}

/** What happens for a while. */
const happening = fc.record({
  ticks: fc.integer({ min: 5, max: 60 }),
  ines: fc.option(fc.tuple(fc.integer({ min: 0, max: 10 }), fc.integer({ min: 0, max: 8 })), { freq: 5 }),
  tobias: fc.option(fc.tuple(fc.integer({ min: 0, max: 10 }), fc.integer({ min: 0, max: 8 })), { freq: 5 }),
  what: fc.oneof(
    { weight: 8, arbitrary: fc.constant('well' as const) },
    { weight: 1, arbitrary: fc.constant('engine stalls' as const) },
    { weight: 1, arbitrary: fc.constant('frames late' as const) },
    { weight: 1, arbitrary: fc.constant('reload' as const) },
    { weight: 1, arbitrary: fc.constant('cold reload' as const) },
    { weight: 1, arbitrary: fc.constant('other machine' as const) },
    { weight: 1, arbitrary: fc.constant('jump' as const) },
  ),
  seed: fc.nat(255),
}); // biome-ignore format: one line each

class Stage {
  readonly rig = new Rig(KEPT);
  readonly places: Record<'1' | '2', [number, number]> = { 1: [5, 5], 2: [5, 5] };
  levels: ShowLevels = createShowLevels(this.rig.show);
  frame = Uint8Array.from(this.levels.plan.safeLook);
  other = false;
  /** Of each head what was sent, for its lag. */
  readonly sent: { pan: number; tilt: number }[][] = [];
  /** Where each really is, degrees. */
  readonly real: { pan: number; tilt: number }[] = [];
  /** Of each head the beams that were looked at last, in its slots and where it is: many stand still. */
  readonly #clear: string[] = [];
  lit = 0;
  cut = 0;

  async reload(warm: boolean): Promise<void> {
    this.other = !this.other;
    const show = showOf(this.other ? OTHER : KEPT);
    const { rig } = this;
    const next = createEngine(show);
    if (warm) takeOver(next, rig.engine);
    Object.assign(rig, { engine: next, view: viewOf(next), show });
    this.levels =
      warm && this.levels.fallback.phase === 'live'
        ? goOnWith(await prepareLevels(show, 0, async () => {}), this.levels)
        : takeOverLevels(show, this.levels);
    this.frame = Uint8Array.from(next.patch.levels);
  }

  beat(engineRuns: boolean, framesCome: boolean): void {
    const { rig } = this;
    if (engineRuns) {
      rig.run(BEAT_S, this.heard());
      if (framesCome) this.frame.set(rig.view.levels);
    } else rig.nowS += BEAT_S;
    const { fallback, plan, out, limiter } = this.levels;
    stepFallback(fallback, plan, this.frame, engineRuns && framesCome, BEAT_S, out);
    stepBlend(this.levels, BEAT_S);
    stepOutputLimiter(limiter, out, BEAT_S, rig.nowS);
    this.judge(out);
  }

  silent = new Set<string>();

  heard() {
    return Object.fromEntries(
      Object.entries(this.places)
        .filter(([id]) => !this.silent.has(id))
        .map(([id, [x, y]]) => [id, [x, y, 1.2] as const]),
    );
  }

  judge(out: Uint8Array): void {
    this.rig.show.fixtures.forEach((plan, i) => {
      const { channels } = plan.profile;
      const levelOf = (attribute: string) => {
        const channel = channels.find(one => one.attribute === attribute) as Channel;
        return decode(channel, out, plan.firstSlot);
      };
      const pan = levelOf('Pan');
      const tilt = levelOf('Tilt');
      const hasZoom = channels.some(({ attribute }) => attribute === 'Zoom');
      const isLit = hasZoom
        ? ['ColorAdd_R', 'ColorAdd_G', 'ColorAdd_B'].some(one => levelOf(one) > 0)
        : levelOf('Dimmer') > 0;
      // The head has what was sent a lag ago, and goes there as fast as it can.
      this.sent[i] ??= [];
      this.real[i] ??= { pan, tilt };
      const queue = this.sent[i];
      const is = this.real[i];
      queue.push({ pan, tilt });
      const late = queue.length > Math.round(plan.lagS * TICK_HZ) ? queue.shift() : queue[0];
      const { motion } = plan.profile;
      const [panMost, tiltMost] = [
        (motion.Pan?.speed ?? 180) * BEAT_S,
        (motion.Tilt?.speed ?? 180) * BEAT_S,
      ];
      if (late !== undefined) {
        is.pan += Math.max(-panMost, Math.min(panMost, late.pan - is.pan));
        is.tilt += Math.max(-tiltMost, Math.min(tiltMost, late.tilt - is.tilt));
      }
      if (!isLit) {
        this.cut += 1;
        return;
      }
      this.lit += 1;
      // Half a degree for the way that the slots take, and the steps of 16 bits.
      const field = (hasZoom ? levelOf('Zoom') : 12) - 0.05;
      const edge = this.other ? 1 : -0.5;
      const beams = [pan, tilt, is.pan, is.tilt, field, edge].join();
      if (this.#clear[i] === beams) return;
      demand(!goesInto(plan, pan, tilt, field, edge), () => `${plan.name} in its slots`);
      demand(!goesInto(plan, is.pan, is.tilt, field, edge), () => `${plan.name} itself`);
      this.#clear[i] = beams;
    });
  }

  async happen({ ticks, ines, tobias, what, seed }: Happening): Promise<void> {
    if (what === 'reload') await this.reload(true);
    if (what === 'cold reload') await this.reload(false);
    if (what === 'other machine') {
      const levels = Uint8Array.from(this.levels.out, (v, i) =>
        i % 3 === 0 ? v : (v + seed) & 255,
      );
      beginBlend(this.levels, { levels, knows: () => true });
      // What receivers have is the other machine's light: heads are where it has them.
      this.real.length = 0;
      this.sent.length = 0;
    }
    this.silent = new Set([...(ines === null ? ['1'] : []), ...(tobias === null ? ['2'] : [])]);
    for (let i = 0; i < ticks; i++) {
      for (const [id, to] of [['1', ines], ['2', tobias]] as const) {
        if (to === null) continue;
        const at = this.places[id];
        const [dx, dy] = [to[0] - at[0], to[1] - at[1]];
        const left = Math.hypot(dx, dy);
        // Up to 4 m/s.
        const share = what === 'jump' ? 1 : Math.min(1, (4 * BEAT_S) / Math.max(left, 1e-9));
        at[0] += share * dx;
        at[1] += share * dy;
      } // biome-ignore format: pairs
      this.beat(what !== 'engine stalls', what !== 'frames late' || i % 3 > 0);
    }
  }
}

type Happening = typeof happening extends fc.Arbitrary<infer T> ? T : never;

describe('whatever happens', () => {
  test('no lit beam is in a keep-out: neither in the slots, nor where the head really is', async () => {
    const seen = { lit: 0, cut: 0 };
    await fc.assert(
      fc.asyncProperty(fc.array(happening, { minLength: 8, maxLength: 16 }), async all => {
        const stage = new Stage();
        // All are tracked, and live.
        await stage.happen({ ticks: 90, ines: [5, 5], tobias: [6, 5], what: 'well', seed: 0 });
        for (const one of all) await stage.happen(one);
        seen.lit += stage.lit;
        seen.cut += stage.cut;
      }),
      { numRuns: 20, seed: SEED },
    );
    // It was about something.
    expect(seen.lit).toBeGreaterThan(2000);
    expect(seen.cut).toBeGreaterThan(2000);
  });
});
