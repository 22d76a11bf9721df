/** A lit beam stays out of where it must not shine, whoever asks for it. */
import { describe, expect, test } from 'vitest';
import { type BeamGate, isClear, placeGates } from '../../src/safety/beam-gate.js';
import type { FallbackChannel } from '../../src/safety/fallback.js';
import { HoldTimes } from '../../src/safety/hold-times.js';
import {
  createOutputLimiter,
  DEFAULT_LIMITS,
  stepOutputLimiter,
} from '../../src/safety/output-limiter.js';

const BEAT_S = 1 / 40;
/** It touches from 100 to 120 of pan, where tilt is above 50; a wide one, from 90 on. */
const touches = (pan: number, tilt: number, zoom: number) =>
  tilt > 50 && pan >= (zoom > 128 ? 90 : 100) && pan <= 120;
const GATE: BeamGate = { pan: 1, tilt: 2, zoom: 3, lamps: [0], touches, leavesInS: 0.1 };

function placed(gate = GATE, speed: number | undefined = undefined) {
  const motion = speed === undefined ? undefined : { speed };
  const channels = [{}, { motion }, { motion }, {}];
  const all = placeGates(
    [{ channels }, { channels, gate }],
    channel => 10 + channels.indexOf(channel),
  );
  expect(all).toHaveLength(1);
  return all[0] as (typeof all)[0];
}

describe('a gate', () => {
  test('has its rows, and no zoom where there is none', () => {
    expect(placed()).toMatchObject({ pan: 11, tilt: 12, zoom: 13, lamps: [10] });
    expect(placed({ ...GATE, zoom: -1 }).zoom).toBe(-1);
  });

  test('is clear from the first beat where nothing touches', () => {
    expect(isClear(placed(), 50, 100, 0, BEAT_S)).toBe(true);
  });

  test('is shut while what is sent touches, and until the head has surely left', () => {
    const gate = placed();
    const at = (pan: number, zoom = 0) => isClear(gate, pan, 100, zoom, BEAT_S);
    expect([at(99), at(100), at(120)]).toEqual([true, false, false]);
    // 0.1 s from then on: the fourth beat.
    expect([at(130), at(130), at(130), at(130)]).toEqual([false, false, false, true]);
    expect([at(95), at(95, 200)]).toEqual([true, false]);
  });

  test('is shut while the head is on its way through, as fast as it can go', () => {
    // 200 a second: 5 a beat, from 80 to 140.
    const gate = placed({ ...GATE, leavesInS: BEAT_S / 2 }, 200);
    isClear(gate, 80, 100, 0, BEAT_S);
    const open: number[] = [];
    for (let beat = 1; beat <= 12; beat++) if (isClear(gate, 140, 100, 0, BEAT_S)) open.push(beat);
    // At 85, 90; from 95 on the next beat touches, up to 120; at 125 it is through.
    expect(open).toEqual([1, 2, 9, 10, 11, 12]);
    // Tilt alone is on its way in too.
    const tilting = placed({ ...GATE, leavesInS: BEAT_S / 2 }, 200);
    isClear(tilting, 110, 40, 0, BEAT_S);
    expect(isClear(tilting, 110, 40, 0, BEAT_S)).toBe(true);
    expect(isClear(tilting, 80, 40, 0, BEAT_S)).toBe(true);
  });
});

test('in what leaves, the lamp of a head that touches is dark, of any level, and comes back at its own pace', () => {
  const channel = (slot: number, kind: FallbackChannel['class'], darkRaw = 0): FallbackChannel => ({
    class: kind,
    slots: [slot],
    safeRaw: 0,
    darkRaw,
    stepped: kind !== 'intensity',
    dropsAtOnce: false,
  });
  for (const [zoom, darkRaw] of [
    [3, 0],
    [-1, 5],
  ] as const) {
    const channels = [
      channel(0, 'intensity', darkRaw),
      channel(1, 'movement'),
      channel(2, 'movement'),
      channel(3, 'other'),
    ];
    const gate = { ...GATE, zoom, leavesInS: BEAT_S / 2 };
    const start = Uint8Array.of(darkRaw, 0, 0, 0);
    const limiter = createOutputLimiter(channels, start, DEFAULT_LIMITS, [{ channels, gate }]);
    const sent = (lamp: number, pan: number, zoomed = 0) => {
      const levels = Uint8Array.of(lamp, pan, 100, zoomed);
      stepOutputLimiter(limiter, levels, BEAT_S, 1000);
      const holds = limiter.gates.filter(one => one.holds).length;
      expect(limiter.keptDark).toBe(holds);
      return levels[0] as number;
    };
    for (let i = 0; i < 5; i++) sent(255, 50);
    expect(sent(255, 50)).toBe(255);
    expect(limiter.keptDark).toBe(0);
    expect(sent(255, 110)).toBe(darkRaw);
    expect(limiter.keptDark).toBe(1);
    expect(sent(255, 95, 200)).toBe(zoom === 3 ? darkRaw : 69);
    // A quarter of the range in a beat, from dark.
    if (zoom === 3) expect(sent(255, 50)).toBe(64);
    // What was to be dark is not kept dark.
    sent(darkRaw, 50);
    expect(sent(darkRaw, 110)).toBe(darkRaw);
    expect(limiter.keptDark).toBe(0);
  }
});

test('the time that a lamp is held back counts once, from the first beat to the one without it', () => {
  const holds = new HoldTimes();
  expect(holds.isNone).toBe(true);
  expect(holds.beat(['a'], 10)).toEqual([]);
  expect(holds.beat(['a', 'b'], 11)).toEqual([]);
  expect([...holds.inHand]).toEqual([
    ['a', 10],
    ['b', 11],
  ]);
  expect(holds.beat(['b'], 12)).toEqual([['a', 2]]);
  expect(holds.isNone).toBe(false);
  expect(holds.beat([], 14)).toEqual([['b', 3]]);
  expect(holds.isNone).toBe(true);
});
