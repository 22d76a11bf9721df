import { describe, expect, it } from 'vitest';
import {
  followComeback,
  isSettledSafe,
  notWithTheRest,
  rejoin,
} from '../../../src/daemon/levels/rejoin.js';
import { createShowLevels, type ShowLevels } from '../../../src/daemon/levels/show-levels.js';
import type { SafeFade } from '../../../src/safety/fade-to-safe.js';
import { readRaw, stepFallback, writeRaw } from '../../../src/safety/fallback.js';
import { GOES_BACK, LEAVES, stepOutputLimiter } from '../../../src/safety/output-limiter.js';
import { parseShow } from '../../../src/show/parse.js';
import { configShow } from '../../show/base.js';

const BEAT_S = 0.025;

function opera(text = configShow('salt-lantern')) {
  const parsed = parseShow(text, 'a.show.yaml');
  if (!parsed.ok) throw new Error(parsed.problems.map(problem => problem.message).join());
  return parsed.show;
}

/** What a supervisor does in a beat, with an engine that is well. */
class Rig {
  readonly levels: ShowLevels;
  /** What the engine wants. */
  readonly frame: Uint8Array;
  /** What receivers have. */
  readonly wire: Uint8Array;
  readonly cutOff;
  nowS = 100;
  readonly news: unknown[] = [];
  /** Names of fixtures that somebody's loss takes down. */
  readonly falling = new Set<string>();

  constructor(show = opera()) {
    this.levels = createShowLevels(show);
    const { fallback, plan, out } = this.levels;
    fallback.phase = 'live';
    for (const one of fallback.safeFades) {
      Object.assign(one as SafeFade, { stage: 'live', live: 1, safe: 0 });
    }
    fallback.armed.fill(1);
    this.frame = Uint8Array.from(plan.safeLook);
    this.wire = Uint8Array.from(out);
    const universes = new Uint8Array(show.universes.length).fill(LEAVES);
    this.cutOff = { universes, sent: this.wire };
  }

  beat(): void {
    const { levels, frame, cutOff } = this;
    const { fallback, plan, out, limiter, outages } = levels;
    const sent = outages.hasReturned ? Uint8Array.from(out) : undefined;
    stepFallback(fallback, plan, frame, true, BEAT_S, out);
    if (sent !== undefined) this.news.push(rejoin(levels, sent));
    const falls = (i: number) => this.falling.has(levels.show.fixtures[i]?.name ?? '');
    followComeback(levels, BEAT_S, falls);
    stepOutputLimiter(limiter, out, BEAT_S, this.nowS, outages.look(cutOff, this.nowS));
    cutOff.universes.forEach((way, i) => {
      if (way === LEAVES) this.wire.set(out.subarray(i * 512, i * 512 + 512), i * 512);
    });
    this.nowS += BEAT_S;
  }

  beats(seconds: number, each: () => void = () => undefined): void {
    for (let i = 0; i < seconds / BEAT_S; i++) {
      this.beat();
      each();
    }
  }

  fixture(name: string) {
    const { plan, show } = this.levels;
    const found = plan.fixtures[show.fixtures.findIndex(one => one.name === name)];
    if (found === undefined) throw new Error(`no ${name}`);
    return found;
  }
}

const HEAD = opera().fixtures.find(
  (_, i) => createShowLevels(opera()).plan.fixtures[i]?.moves === true,
)?.name as string;

/** The head's channels, with what it sees on the wire. */
function watch(rig: Rig) {
  const { channels } = rig.fixture(HEAD);
  const dimmer = channels.find(one => one.class === 'intensity');
  const pan = channels.find(one => one.class === 'movement');
  if (dimmer === undefined || pan === undefined) throw new Error('a head has both');
  const maxRaw = 256 ** pan.slots.length - 1;
  const full = 256 ** dimmer.slots.length - 1;
  return {
    universe: Math.floor((pan.slots[0] ?? 0) / 512),
    speed: pan.motion?.speed ?? 0,
    set(level: number, panShare: number) {
      writeRaw(dimmer, Math.round(level * full), rig.frame);
      writeRaw(pan, Math.round(panShare * maxRaw), rig.frame);
    },
    see: () => ({
      level: Math.abs(readRaw(dimmer, rig.wire) - dimmer.darkRaw) / full,
      pan: readRaw(pan, rig.wire),
    }),
  };
}

describe('universes that are back after an outage', () => {
  it('a lit head goes dark where it was, moves in the dark, and comes up where it is to be', () => {
    const rig = new Rig();
    const head = watch(rig);
    head.set(0.6, 0.3);
    rig.beats(4);
    const before = head.see();
    expect(before.level).toBeCloseTo(0.6, 1);
    rig.cutOff.universes[head.universe] = GOES_BACK;
    rig.beats(1);
    head.set(0.7, 0.5);
    rig.beats(7);
    rig.cutOff.universes[head.universe] = LEAVES;
    let last = head.see();
    expect(last).toEqual(before);
    let wasDark = false;
    rig.beats(20, () => {
      const seen = head.see();
      if (seen.pan !== last.pan) expect([last.level, seen.level]).toEqual([0, 0]);
      // 1.5 s of a fade for the whole range at least: no step that an eye sees.
      expect(Math.abs(seen.level - last.level)).toBeLessThan(0.05);
      wasDark ||= seen.level === 0;
      last = seen;
    });
    expect(wasDark).toBe(true);
    expect(last.level).toBeCloseTo(0.7, 1);
    expect(last.pan).toBeGreaterThan(before.pan);
    expect(rig.levels.comeback).toBeUndefined();
    expect(rig.news).toEqual([
      {
        kind: 'light-rejoins',
        universes: [rig.levels.show.universes[head.universe]],
        forS: expect.closeTo(8, 1),
        fixtures: 1,
      },
    ]);
  });

  it('a short outage is caught up with, no faster than the head can move', () => {
    const rig = new Rig();
    const head = watch(rig);
    head.set(0.6, 0.3);
    rig.beats(4);
    rig.cutOff.universes[head.universe] = GOES_BACK;
    rig.beats(0.3);
    head.set(0.6, 0.4);
    rig.cutOff.universes[head.universe] = LEAVES;
    let last = head.see();
    const first = last.pan;
    rig.beats(2, () => {
      const seen = head.see();
      expect(seen.level).toBeCloseTo(0.6, 1);
      expect(Math.abs(seen.pan - last.pan)).toBeLessThanOrEqual(1.25 * head.speed * BEAT_S + 1);
      last = seen;
    });
    expect(last.pan).toBeGreaterThan(first);
    expect(rig.news).toEqual([]);
  });

  it('a head whose performer is lost meanwhile does not come up', () => {
    const rig = new Rig();
    const head = watch(rig);
    head.set(0.6, 0.3);
    rig.beats(4);
    rig.cutOff.universes.fill(GOES_BACK);
    rig.beats(1);
    head.set(0.6, 0.5);
    rig.cutOff.universes.fill(LEAVES);
    const phaseOf = () => rig.levels.comeback?.fallback.phase;
    while (phaseOf() !== 'returning' || head.see().level < 0.1) {
      rig.beat();
      if (rig.nowS > 200) throw new Error('it never comes back');
    }
    let { level: most } = head.see();
    rig.falling.add(HEAD);
    let share = 0.6;
    rig.beats(8, () => {
      share = Math.max(0, share - BEAT_S / 8);
      head.set(share, 0.5);
      const { level } = head.see();
      expect(level).toBeLessThanOrEqual(most + 1e-9);
      most = level;
    });
    expect(most).toBe(0);
    // The loss is over: it comes back by itself.
    rig.falling.clear();
    head.set(0.6, 0.5);
    rig.beats(8);
    expect(head.see().level).toBeCloseTo(0.6, 1);
    expect(rig.levels.comeback).toBeUndefined();
  });

  it('what has not changed meanwhile stays as it is', () => {
    const rig = new Rig();
    const head = watch(rig);
    head.set(0.6, 0.3);
    rig.beats(4);
    const before = Uint8Array.from(rig.wire);
    rig.cutOff.universes.fill(GOES_BACK);
    rig.beats(5);
    rig.cutOff.universes.fill(LEAVES);
    rig.beats(5, () => expect(rig.wire).toEqual(before));
  });

  it('that come one after the other all go by the safe look; a stop waits until the light is there', () => {
    const rig = new Rig();
    const head = watch(rig);
    head.set(0.6, 0.3);
    rig.beats(4);
    rig.cutOff.universes.fill(GOES_BACK);
    rig.beats(1);
    head.set(0.6, 0.5);
    rig.cutOff.universes.fill(LEAVES);
    rig.beats(0.2);
    // The plan is at its safe look, and the head is still on its way.
    for (const one of rig.levels.fallback.safeFades) {
      Object.assign(one as SafeFade, { stage: 'safe', live: 0, safe: 1 });
    }
    expect(isSettledSafe(rig.levels)).toBe(false);
    // Out again in the middle of it, and back: from where it was.
    rig.cutOff.universes.fill(GOES_BACK);
    rig.beats(0.6);
    const held = head.see();
    rig.cutOff.universes.fill(LEAVES);
    rig.beat();
    expect(head.see()).toEqual(held);
    let last = held;
    rig.beats(20, () => {
      const seen = head.see();
      if (seen.pan !== last.pan) expect([last.level, seen.level]).toEqual([0, 0]);
      last = seen;
    });
    expect(rig.levels.comeback).toBeUndefined();
  });

  it('are not said to be at the safe look before they are', () => {
    const rig = new Rig();
    const head = watch(rig);
    const { show } = rig.levels;
    const mine = show.universes[head.universe];
    head.set(0.6, 0.3);
    rig.beats(4);
    expect(notWithTheRest(rig.levels)).toEqual([]);
    rig.cutOff.universes.fill(GOES_BACK);
    rig.beats(1);
    expect(notWithTheRest(rig.levels)).toEqual(show.universes);
    head.set(0.6, 0.5);
    rig.cutOff.universes.fill(LEAVES);
    rig.beat();
    // It is back, and stays at what it last sent for another beat.
    expect(notWithTheRest(rig.levels)).toEqual(show.universes);
    rig.beats(20, () => {
      if (head.see().level > 0 && rig.levels.comeback?.fallback.phase === 'losing') {
        expect(notWithTheRest(rig.levels)).toEqual([mine]);
      }
    });
    expect(notWithTheRest(rig.levels)).toEqual([]);
  });
});
