/** The desk's levels under ours: what passes, what is a share, and what becomes of it when the desk is gone. */
import { describe, expect, test } from 'vitest';
import type { FallbackChannel } from '../../src/safety/fallback.js';
import {
  createGround,
  type DeskUniverse,
  fullRawOf,
  type GroundUniverse,
  goOnFrom,
  layGround,
  scaleByGround,
  stepGround,
  unscaleByGround,
} from '../../src/safety/ground.js';
import { createOutputLimiter } from '../../src/safety/output-limiter.js';

function channel(slots: readonly number[], more: Partial<FallbackChannel> = {}): FallbackChannel {
  return {
    class: 'other',
    slots,
    safeRaw: 0,
    darkRaw: 0,
    stepped: false,
    dropsAtOnce: false,
    ...more,
  };
}

/** Of the second universe: slot 0 is nobody's, 1 and 2 a channel of the desk's, 3 and 4 safe values, 5 and 6 shares. */
const AT = 512;
const DESKS = channel([AT + 1, AT + 2], { ground: 'desk' });
const SAFE = channel([AT + 3], { ground: 'safe' });
const WHEEL = channel([AT + 4], { ground: 'safe', stepped: true });
const SCALE = channel([AT + 5], { class: 'intensity', ground: 'scale', safeRaw: 40 });
const INVERTED = channel([AT + 6], { class: 'intensity', ground: 'scale', darkRaw: 255 });

const universe = (more: Partial<GroundUniverse> = {}): GroundUniverse => ({
  input: 3,
  universe: 1,
  firstSlot: AT,
  gone: 0.2,
  fadeS: 2,
  freeSlots: Int32Array.of(AT),
  desk: [DESKS],
  safe: [{ fixture: 7, channels: [SAFE, WHEEL] }],
  scale: [SCALE, INVERTED],
  ...more,
});

/** Of the show, in the cue that is on: 0x1234 for what is the desk's, 100 for the safe value, 9 for the wheel. */
const LOOK = new Uint8Array(2 * 512);
LOOK.set([0, 0x12, 0x34, 100, 9, 40, 255], AT);

function deskOf(levels: readonly number[], more: Partial<DeskUniverse> = {}): DeskUniverse {
  const all = new Uint8Array(512);
  all.set(levels);
  return { levels: all, changes: 1, isHeard: true, everHeard: true, ...more };
}

function rig(one = universe()) {
  const ground = createGround([one], Uint8Array.from(LOOK));
  const step = (desk: DeskUniverse | undefined, dtS = 0.5, look = LOOK, isOut = false) => {
    const heardOf = (input: number) => (input === 3 ? desk : undefined);
    stepGround(ground, heardOf, look, dtS, index => index === 1 && isOut);
    return [...ground.levels.slice(AT, AT + 7)];
  };
  return { ground, step };
}

const THERE = [10, 20, 30, 40, 50, 60, 70];
const gone = (changes = 1) => deskOf(THERE, { changes, isHeard: false });

describe('in each beat the ground', () => {
  test('is what the desk sends, at the slots of its own universe', () => {
    const { ground, step } = rig();
    expect(step(deskOf(THERE))).toEqual(THERE);
    expect(ground.gone[0]).toBe(0);
    expect(step(deskOf([1, 2, 3, 4, 5, 6, 7], { changes: 2 }))).toEqual([1, 2, 3, 4, 5, 6, 7]);
    expect(ground.levels.slice(0, AT)).toEqual(new Uint8Array(512));
  });

  test('goes from there to what is without a desk within its fade, and back; a wheel at the end of it', () => {
    const { step } = rig();
    step(deskOf(THERE));
    // 0.2 of 255 is 51, of a channel of the desk's and of a safe value the show's own; half way after 1 s of 2.
    step(gone());
    expect(step(gone())).toEqual([31, 0x13, 0x29, 70, 50, 56, 61]);
    step(gone());
    expect(step(gone())).toEqual([51, 0x12, 0x34, 100, 9, 51, 51]);
    step(deskOf(THERE));
    expect(step(deskOf(THERE))).toEqual([31, 0x13, 0x29, 70, 50, 56, 61]);
  });

  test('stays where the desk left it, where that is asked for', () => {
    const { step } = rig(universe({ gone: 'hold' }));
    step(deskOf(THERE));
    for (let i = 0; i < 3; i++) step(gone());
    // But for safe values: the show has its own.
    expect(step(gone())).toEqual([10, 20, 30, 100, 9, 60, 70]);
  });

  test('is what it is without a desk that was never heard; safe values are those of the cue', () => {
    const { step } = rig();
    const never = deskOf(THERE, { isHeard: false, everHeard: false, changes: 0 });
    expect(step(never)).toEqual([51, 0x12, 0x34, 100, 9, 51, 51]);
    const other = Uint8Array.from(LOOK);
    other.set([0, 1, 2, 200, 8], AT);
    expect(step(never, 0.5, other)).toEqual([51, 1, 2, 200, 8, 51, 51]);
    expect(rig(universe({ gone: 'hold' })).step(undefined)).toEqual([
      0, 0x12, 0x34, 100, 9, 40, 255,
    ]);
  });
});

describe('after a reload or an outage', () => {
  const BEFORE = new Uint8Array(1024);
  BEFORE.set([90, 91, 92, 93, 94, 95, 96], AT);

  test('it goes on from what there was: until the desk is heard', () => {
    const { ground, step } = rig();
    goOnFrom(ground, 0, BEFORE, AT);
    expect(step(gone(), 1)).toEqual([90, 91, 92, 93, 94, 95, 96]);
    expect(step(deskOf(THERE), 1)).toEqual(THERE);
    expect(ground.before[0]).toBeUndefined();
  });

  test('or for 2.5 s without it', () => {
    const { ground, step } = rig();
    goOnFrom(ground, 0, BEFORE, AT);
    for (let i = 0; i < 3; i++) expect(step(gone(), 1)[0]).toBe(90);
    // Then the fade begins, from there.
    step(gone(), 1);
    expect(ground.gone[0]).toBe(0.5);
    expect(ground.levels[AT]).toBe(71);
    step(gone(), 1);
    expect(ground.levels[AT]).toBe(51);
  });

  test('while nothing leaves it stays as it was, and goes on from there', () => {
    const { ground, step } = rig();
    step(deskOf(THERE));
    expect(step(deskOf([1, 2], { changes: 2 }), 1, LOOK, true)).toEqual(THERE);
    expect(step(gone(), 1)).toEqual(THERE);
    expect(ground.gone[0]).toBe(0);
  });

  test('a desk that was gone before is not waited for again', () => {
    const { ground, step } = rig();
    step(deskOf(THERE));
    step(gone(), 1);
    step(gone(), 1, LOOK, true);
    expect(ground.before[0]).toBeUndefined();
    step(gone(), 1);
    expect(ground.gone[0]).toBe(1);
  });
});

describe('over what we ask', () => {
  function laid(rests: boolean, first = 0, end = 2) {
    const { ground, step } = rig();
    step(deskOf(THERE));
    const limiter = createOutputLimiter([SAFE, WHEEL, channel([0])], LOOK);
    const out = new Uint8Array(1024).fill(200);
    layGround(ground, limiter, fixture => fixture === 7 && rests, out, first, end);
    return { levels: [...out.slice(AT, AT + 7)], free: [...limiter.free], below: out[0] };
  }

  test('lies what is the desk’s; the safe values of a fixture that rests at them, held by no limit', () => {
    expect(laid(false)).toEqual({
      levels: [10, 20, 30, 200, 200, 200, 200],
      free: [0, 0, 0],
      below: 200,
    });
    expect(laid(true)).toEqual({
      levels: [10, 20, 30, 40, 50, 200, 200],
      free: [0, 1, 1],
      below: 200,
    });
  });

  test.each([
    [0, 1],
    [2, 3],
  ])('but only in the universes from %d up to, and without, %d', (first, end) => {
    expect(laid(true, first, end).levels).toEqual(Array(7).fill(200));
  });

  test('its share goes down with the desk’s level, of an inverted dimmer too, and back again', () => {
    const { ground, step } = rig();
    // 51 of 255 is a fifth; inverted, 204 is.
    step(deskOf([0, 0, 0, 0, 0, 51, 204]));
    const out = new Uint8Array(1024);
    out.set([100, 155], AT + 5);
    const wire = Uint8Array.from(out);
    scaleByGround(ground, out, wire, 0, 1);
    scaleByGround(ground, out, wire, 2, 3);
    expect([...wire.slice(AT + 5, AT + 7)]).toEqual([100, 155]);
    scaleByGround(ground, out, wire, 1, 2);
    expect([...wire.slice(AT + 5, AT + 7)]).toEqual([20, 235]);
    unscaleByGround(ground, wire, [true, false]);
    expect([...wire.slice(AT + 5, AT + 7)]).toEqual([20, 235]);
    unscaleByGround(ground, wire);
    expect([...wire.slice(AT + 5, AT + 7)]).toEqual([100, 155]);
    // More than full it was not, and of nothing it may have been anything: the safe value.
    wire.set([255, 0], AT + 5);
    unscaleByGround(ground, wire);
    expect([...wire.slice(AT + 5, AT + 7)]).toEqual([255, 0]);
    step(deskOf([0, 0, 0, 0, 0, 0, 255], { changes: 2 }));
    unscaleByGround(ground, wire);
    expect([...wire.slice(AT + 5, AT + 7)]).toEqual([40, 0]);
  });

  test('a dimmer is full at its maximum, one that is dark there at 0', () => {
    expect([fullRawOf(SCALE), fullRawOf(INVERTED), fullRawOf(DESKS)]).toEqual([255, 0, 65535]);
    const plain = { ...universe(), scale: [] };
    expect(createGround([plain], LOOK).scales).toBe(false);
    expect(createGround([plain, universe()], LOOK).scales).toBe(true);
  });
});
