import { expect, test } from 'vitest';
import { createEngine } from '../../src/engine/engine.js';
import { step } from '../../src/engine/step.js';
import type { DeskLevels } from '../../src/engine/values/inputs.js';
import { deskRecordOf, readDesk, usedSlots } from '../../src/recording/desk.js';
import {
  encodeFrame,
  encodeIntake,
  encodeJson,
  frameBytesAtMost,
  intakeBytes,
} from '../../src/recording/encode.js';
import { Replay } from '../../src/recording/replay.js';
import { patchedSlots } from '../../src/show/model/patched-slots.js';
import { SOLO } from '../engine/shows.js';
import { showOf } from '../show/show-of.js';
import { itemsOf, startOf, TICK_HZ, UNIX_OFFSET_S } from './sessions.js';

const SHOW = `${SOLO.replace(
  'watchdog:',
  '  - { by: glow, fixtures: [stove-glow], set: { Dimmer: 100 }, fade: { in: 0, out: 0 } }\nwatchdog:',
)}signals: { glow: { slot: [control, 4] }, fine: { slot: [control, 30, 20] } }
desk: { control: { protocol: sacn, universe: 201, interface: eth1, gone: 0 } }
orders: [{ slot: [control, 7], stop: everybody }]
`;

/** The universe with these levels at these slots, counted from 1. */
function universe(slots: Readonly<Record<number, number>>, heard = true): DeskLevels {
  const levels = new Uint8Array(512).fill(99);
  for (const [slot, level] of Object.entries(slots)) levels[Number(slot) - 1] = level;
  return { input: 0, levels, heard };
}

test('what was heard of the desk is recorded, as far as anything rests on it, and heard again by the replay', () => {
  const show = showOf(SHOW);
  const used = usedSlots(show);
  expect(used).toEqual([[3, 6, 19, 29]]);
  const engine = createEngine(show);
  const runs = patchedSlots(show);
  const last = new Uint8Array(show.universes.length * 512);
  const records = [encodeJson('start', startOf(SHOW, show, 10))];
  const heard: Readonly<Record<number, DeskLevels>> = {
    1: universe({ 4: 0, 7: 0 }),
    60: universe({ 4: 200, 7: 0 }),
    80: universe({ 4: 200, 7: 255 }),
    100: universe({}, false),
  };
  let most = 0;
  for (let tick = 0; tick < 140; tick++) {
    const nowS = 10 + tick / TICK_HZ;
    const one = heard[tick];
    const desk = one === undefined ? [] : [one];
    if (desk.length > 0) records.push(encodeJson('desk', deskRecordOf(desk, used)));
    const record = Buffer.alloc(intakeBytes([]));
    encodeIntake(record, 0, 'tick', tick, nowS, UNIX_OFFSET_S, []);
    records.push(record);
    const inputs = { datagrams: [], unixOffsetS: UNIX_OFFSET_S, desk };
    const { levels, events } = step(engine, inputs, nowS);
    most = Math.max(most, levels[0] as number);
    const frame = Buffer.alloc(frameBytesAtMost(runs));
    records.push(frame.subarray(0, encodeFrame(frame, 0, tick, nowS, runs, levels, last)));
    if (events.length > 0) records.push(encodeJson('events', { tick, events }));
  }
  // It made a difference: the base is 8 per cent, the safe value 20.
  expect(most).toBeGreaterThan(150);
  const said: unknown[] = [];
  const replay = new Replay({ ticked: ({ events }) => said.push(...events) });
  for (const item of itemsOf(records)) expect(replay.take(item)).toBeUndefined();
  expect(replay.finish()).toMatchObject([
    { differing: 0, eventsDiffering: 0, gaps: 0, compared: 140 },
  ]);
  expect(said).toContainEqual(
    expect.objectContaining({ kind: 'stopped', everybody: true, by: 'desk control' }),
  );
});

test.each([
  [{}],
  [null],
  [{ desk: 1 }],
  [{ desk: [1] }],
  [{ desk: [{ input: -1, heard: true, slots: [] }] }],
  [{ desk: [{ input: 0, heard: 1, slots: [] }] }],
  [{ desk: [{ input: 0, heard: true, slots: [[0.5, 1]] }] }],
])('a record of the desk that makes no sense is none: %j', value => {
  expect(readDesk(value)).toBeUndefined();
});
