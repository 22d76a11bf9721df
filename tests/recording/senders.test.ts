import { expect, test } from 'vitest';
import { createEngine } from '../../src/engine/engine.js';
import { absorb, step } from '../../src/engine/step.js';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import {
  encodeFrame,
  encodeIntake,
  encodeJson,
  frameBytesAtMost,
  intakeBytes,
} from '../../src/recording/encode.js';
import { Replay } from '../../src/recording/replay.js';
import { readSenders, sendersOf, withSenders } from '../../src/recording/senders.js';
import { patchedSlots } from '../../src/show/model/patched-slots.js';
import { SOLO } from '../engine/shows.js';
import { showOf } from '../show/show-of.js';
import { itemsOf, startOf, TICK_HZ, UNIX_OFFSET_S } from './sessions.js';

const order = (address: string, arrivalS: number, from: string) => ({
  input: 1,
  bytes: Buffer.from(encodePacket({ address: `/lampwright/${address}`, args: [] })),
  arrivalS,
  from,
});

test('who gave an order is recorded beside its datagram, and said again by the replay', () => {
  const text = `${SOLO}operator: { port: 9011 }\n`;
  const show = showOf(text);
  const state = createEngine(show);
  const runs = patchedSlots(show);
  const last = new Uint8Array(show.universes.length * 512);
  const records = [encodeJson('start', startOf(text, show, 10))];
  for (let tick = 0; tick < 4; tick++) {
    const nowS = 10 + tick / TICK_HZ;
    const take = (type: 'absorb' | 'tick', datagrams: ReturnType<typeof order>[]) => {
      const senders = sendersOf(datagrams);
      if (senders !== undefined) records.push(encodeJson('senders', senders));
      const record = Buffer.alloc(intakeBytes(datagrams));
      encodeIntake(record, 0, type, tick, nowS, UNIX_OFFSET_S, datagrams);
      records.push(record);
      return { datagrams, unixOffsetS: UNIX_OFFSET_S };
    };
    if (tick === 1) absorb(state, take('absorb', [order('stop', nowS, '10.0.0.5')]), nowS);
    const datagrams =
      tick === 2 ? [order('desk', nowS, '10.0.0.5'), order('resume', nowS, '10.0.0.6')] : [];
    const { levels, events } = step(state, take('tick', datagrams), nowS);
    const frame = Buffer.alloc(frameBytesAtMost(runs));
    records.push(frame.subarray(0, encodeFrame(frame, 0, tick, nowS, runs, levels, last)));
    if (events.length > 0) records.push(encodeJson('events', { tick, events }));
  }
  const said: unknown[] = [];
  const replay = new Replay({ ticked: ({ events }) => said.push(...events) });
  for (const item of itemsOf(records)) expect(replay.take(item)).toBeUndefined();
  expect(replay.finish()).toMatchObject([
    { differing: 0, eventsDiffering: 0, gaps: 0, compared: 4 },
  ]);
  expect(said).toMatchObject([
    { kind: 'stopped', everybody: true, by: '10.0.0.5' },
    { kind: 'resumed', everybody: true, by: '10.0.0.6' },
  ]);
});

test.each([
  [{}],
  [null],
  [{ senders: 1 }],
  [{ senders: [[0.5, 'a']] }],
  [{ senders: [[0, 1]] }],
  [{ senders: [1] }],
])('a record of senders that makes no sense is none: %j', value => {
  expect(readSenders(value)).toBeUndefined();
});

test('places beyond the datagrams are passed over', () => {
  const datagrams = [{ input: 0, bytes: Buffer.alloc(0), arrivalS: 1 }];
  expect(withSenders(datagrams, { senders: [[7, 'x']] })).toEqual(datagrams);
});
