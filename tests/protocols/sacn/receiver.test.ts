import fc from 'fast-check';
import { describe, expect, it, test } from 'vitest';
import { createDataPacket } from '../../../src/protocols/sacn/data-packet.js';
import { decodeSacn, type SacnData, type SacnSync } from '../../../src/protocols/sacn/decode.js';
import {
  createSacnReceiver,
  expireSacnSources,
  MOST_SOURCES,
  receiveSacnAgain,
  receiveSacnData,
  receiveSacnSync,
  type SacnOutcome,
  type SacnReceiver,
} from '../../../src/protocols/sacn/receiver.js';

/** Clauses are those of ANSI E1.31-2018; 6.2.3.1 to 6.2.3.5 and 11.1.1 are numbered from memory. */

const cidOf = (letter: string) => new Uint8Array(16).fill(letter.charCodeAt(0));
const data = (from: string, sequence: number, more: Partial<SacnData> = {}): SacnData => ({
  kind: 'data',
  cid: cidOf(from),
  sourceName: `Desk ${from}`,
  priority: 100,
  syncAddress: 0,
  sequence,
  preview: false,
  terminated: false,
  forceSync: false,
  universe: 1,
  startCode: 0,
  slots: Uint8Array.of(10),
  ...more,
});
const sync = (from: string, sequence: number, syncAddress = 7962): SacnSync => ({
  kind: 'sync',
  cid: cidOf(from),
  sequence,
  syncAddress,
});
const level = (n: number) => ({ slots: Uint8Array.of(n) });

type Step =
  | { readonly at: number; readonly data: SacnData; readonly is?: SacnOutcome }
  | { readonly at: number; readonly sync: SacnSync }
  | { readonly at: number; readonly shows: number; readonly sources: number };

function play(steps: readonly Step[], receiver: SacnReceiver = createSacnReceiver([1, 2])) {
  for (const step of steps) {
    expireSacnSources(receiver, step.at);
    if ('data' in step) {
      const outcome = receiveSacnData(receiver, step.data, '10.0.0.9', step.at);
      expect(outcome).toBe(step.is ?? 'taken');
    } else if ('sync' in step) receiveSacnSync(receiver, step.sync, step.at);
    else {
      const { levels, sources } = receiver.universes[0] as (typeof receiver.universes)[0];
      expect({ at: step.at, shows: levels[0], sources: sources.length }).toEqual(step);
    }
  }
  return receiver;
}

const cases: [string, string, Step[]][] = [
  [
    '6.2.3',
    'the highest priority counts, whoever came first',
    [
      { at: 0, data: data('a', 1, level(10)) },
      { at: 0.1, data: data('b', 1, { priority: 120, ...level(5) }) },
      { at: 0.2, data: data('a', 2, level(99)) },
      { at: 0.2, shows: 5, sources: 2 },
    ],
  ],
  [
    '6.2.3',
    'a priority may change in mid-stream',
    [
      { at: 0, data: data('a', 1, { priority: 150, ...level(10) }) },
      { at: 0, data: data('b', 1, level(20)) },
      { at: 0.1, data: data('a', 2, { priority: 90, ...level(10) }) },
      { at: 0.1, shows: 20, sources: 2 },
    ],
  ],
  [
    '6.2.3',
    'a priority of 0 is the lowest, and counts where there is no other',
    [
      { at: 0, data: data('a', 1, { priority: 0, ...level(10) }) },
      { at: 0, shows: 10, sources: 1 },
      { at: 0.1, data: data('b', 1, { priority: 1, ...level(3) }) },
      { at: 0.1, shows: 3, sources: 2 },
    ],
  ],
  [
    '6.2.3.1',
    'one priority: the highest level, slot by slot, in either order',
    [
      { at: 0, data: data('a', 1, level(10)) },
      { at: 0, data: data('b', 1, level(40)) },
      { at: 0, shows: 40, sources: 2 },
      { at: 0.1, data: data('b', 2, level(4)) },
      { at: 0.1, shows: 10, sources: 2 },
    ],
  ],
  [
    '6.2.3.1',
    'of those at the highest priority one ends: the others have it at once, a lower one does not',
    [
      { at: 0, data: data('a', 1, level(10)) },
      { at: 0, data: data('b', 1, level(40)) },
      { at: 0, data: data('c', 1, { priority: 99, ...level(250) }) },
      { at: 0.1, data: data('b', 2, { terminated: true }), is: 'terminated' },
      { at: 0.1, shows: 10, sources: 2 },
    ],
  ],
  [
    '6.2.3.5',
    'sources exceeded: the fifth of one priority is left out, a higher one takes the place of the lowest, and a place that is free is taken',
    [
      { at: 0, data: data('a', 1, level(10)) },
      { at: 0, data: data('b', 1, level(20)) },
      { at: 0, data: data('c', 1, level(30)) },
      { at: 0, data: data('d', 1, { priority: 50, ...level(200) }) },
      { at: 0, shows: 30, sources: 4 },
      { at: 0.1, data: data('e', 1, level(40)) },
      { at: 0.1, data: data('d', 2, { priority: 50 }), is: 'too-many-sources' },
      { at: 0.1, data: data('f', 1, level(50)), is: 'too-many-sources' },
      { at: 0.1, shows: 40, sources: 4 },
      { at: 0.2, data: data('a', 2, { terminated: true }), is: 'terminated' },
      { at: 0.2, data: data('f', 2, level(50)) },
      { at: 0.2, shows: 50, sources: 4 },
    ],
  ],
  [
    '6.2.6',
    'preview data shows nothing, and does not keep a source',
    [
      { at: 0, data: data('a', 1, { preview: true }), is: 'preview' },
      { at: 0, shows: 0, sources: 0 },
      { at: 1, data: data('a', 2, level(10)) },
      { at: 3, data: data('a', 3, { preview: true, ...level(77) }), is: 'preview' },
      { at: 3, shows: 10, sources: 1 },
      { at: 3.6, shows: 10, sources: 0 },
    ],
  ],
  [
    '6.2.6',
    'Stream_Terminated ends it at once, its levels do not count, and the next source has it',
    [
      { at: 0, data: data('a', 1, { priority: 120, ...level(10) }) },
      { at: 0, data: data('b', 1, level(3)) },
      { at: 0.1, data: data('a', 2, { terminated: true, ...level(255) }), is: 'terminated' },
      { at: 0.1, data: data('a', 3, { terminated: true, ...level(255) }), is: 'terminated' },
      { at: 0.1, shows: 3, sources: 1 },
    ],
  ],
  [
    '6.7.1',
    'silent for 2.5 s it is lost, no sooner; with nobody left the levels stay for others to decide on',
    [
      { at: 0, data: data('a', 1, level(10)) },
      { at: 2.5, shows: 10, sources: 1 },
      { at: 2.51, shows: 10, sources: 0 },
    ],
  ],
  [
    '6.7.1',
    'two that are lost together: the lower priority is not shown on the way',
    [
      { at: 0, data: data('a', 1, level(10)) },
      { at: 0, data: data('b', 1, { priority: 120, ...level(99) }) },
      { at: 2.6, shows: 99, sources: 0 },
    ],
  ],
  [
    '6.7.1',
    'a source of which only other START codes come is lost: its levels are',
    [
      { at: 0, data: data('a', 1, level(10)) },
      { at: 2, data: data('a', 2, { startCode: 0xdd, ...level(200) }), is: 'start-code' },
      { at: 2.6, shows: 10, sources: 0 },
    ],
  ],
  [
    '6.7.1',
    'of one that was lost any number is a new start',
    [
      { at: 0, data: data('a', 20, level(10)) },
      { at: 2.6, shows: 10, sources: 0 },
      { at: 2.7, data: data('a', 19, level(11)) },
      { at: 2.7, shows: 11, sources: 1 },
    ],
  ],
  [
    '6.7.2',
    'each universe has a count of its own',
    [
      { at: 0, data: data('a', 20, level(10)) },
      { at: 0, data: data('a', 5, { universe: 2 }) },
      { at: 0.1, data: data('a', 6, { universe: 2 }) },
      { at: 0.1, data: data('a', 21, level(11)) },
      { at: 0.1, shows: 11, sources: 1 },
    ],
  ],
  [
    '6.7.2',
    'late packets are dropped, a new start is taken',
    [
      { at: 0, data: data('a', 20, level(10)) },
      { at: 0.1, data: data('a', 20, level(1)), is: 'late' },
      { at: 0.1, data: data('a', 1, level(1)), is: 'late' },
      { at: 0.1, data: data('a', 0, level(2)) },
      { at: 0.1, shows: 2, sources: 1 },
    ],
  ],
  [
    '6.7.2',
    'the count goes through packets of other START codes',
    [
      { at: 0, data: data('a', 1, level(10)) },
      { at: 0.1, data: data('a', 2, { startCode: 0xdd, ...level(200) }), is: 'start-code' },
      { at: 0.1, data: data('a', 2, level(11)), is: 'late' },
      { at: 0.1, shows: 10, sources: 1 },
    ],
  ],
  [
    '6.2.4.1',
    'synchronised levels wait for their packet, and for that of their own source',
    [
      { at: 0, data: data('a', 1, { syncAddress: 7962, ...level(10) }) },
      { at: 0.01, shows: 10, sources: 1 },
      { at: 0.02, sync: sync('a', 1) },
      {
        at: 0.03,
        data: data('a', 2, { syncAddress: 7962, ...level(20) }),
        is: 'waits-for-sync',
      },
      { at: 0.04, sync: sync('b', 1) },
      { at: 0.04, sync: sync('a', 2, 7963) },
      { at: 0.04, shows: 10, sources: 1 },
      { at: 0.05, sync: sync('a', 2) },
      { at: 0.05, shows: 20, sources: 1 },
    ],
  ],
  [
    '6.7.2',
    'a late synchronization packet shows nothing',
    [
      { at: 0, data: data('a', 1, { syncAddress: 7962 }) },
      { at: 0.1, sync: sync('a', 9) },
      { at: 0.1, data: data('a', 2, { syncAddress: 7962, ...level(20) }), is: 'waits-for-sync' },
      { at: 0.2, sync: sync('a', 8) },
      { at: 0.2, shows: 10, sources: 1 },
    ],
  ],
  [
    '11.1.2',
    'synchronization lost: without Force_Synchronization it stays as it was until there is one again',
    [
      { at: 0, data: data('a', 1, { syncAddress: 7962 }) },
      { at: 0, sync: sync('a', 1) },
      { at: 2, data: data('a', 2, { syncAddress: 7962, ...level(20) }), is: 'waits-for-sync' },
      { at: 4, data: data('a', 3, { syncAddress: 7962, ...level(30) }), is: 'waits-for-sync' },
      { at: 4, shows: 10, sources: 1 },
      { at: 4.1, sync: sync('a', 2) },
      { at: 4.1, shows: 30, sources: 1 },
    ],
  ],
  [
    '11.1.2',
    'with Force_Synchronization it goes on without',
    [
      { at: 0, data: data('a', 1, { syncAddress: 7962, forceSync: true }) },
      { at: 0, sync: sync('a', 1) },
      {
        at: 2,
        data: data('a', 2, { syncAddress: 7962, forceSync: true, ...level(20) }),
        is: 'waits-for-sync',
      },
      { at: 2.6, data: data('a', 3, { syncAddress: 7962, forceSync: true, ...level(30) }) },
      { at: 2.6, shows: 30, sources: 1 },
    ],
  ],
  [
    '11.1.2',
    'once synchronization is back, levels wait for it again',
    [
      { at: 0, data: data('a', 1, { syncAddress: 7962, forceSync: true }) },
      { at: 0, sync: sync('a', 1) },
      { at: 2.6, data: data('a', 2, { syncAddress: 7962, forceSync: true, ...level(30) }) },
      { at: 2.7, sync: sync('a', 2) },
      {
        at: 2.8,
        data: data('a', 3, { syncAddress: 7962, forceSync: true, ...level(40) }),
        is: 'waits-for-sync',
      },
      { at: 2.8, shows: 30, sources: 1 },
      { at: 2.9, sync: sync('a', 3) },
      { at: 2.9, shows: 40, sources: 1 },
    ],
  ],
  [
    '6.7.1',
    'a source that waits for a synchronization that never comes, and falls silent, is lost as any other',
    [
      { at: 0, data: data('a', 1, { syncAddress: 7962, ...level(10) }) },
      { at: 0, sync: sync('a', 1) },
      { at: 1, data: data('a', 2, { syncAddress: 7962, ...level(99) }), is: 'waits-for-sync' },
      { at: 1, data: data('b', 1, { priority: 50, ...level(7) }) },
      { at: 3, data: data('b', 2, { priority: 50, ...level(7) }) },
      { at: 3.51, shows: 7, sources: 1 },
    ],
  ],
  [
    '6.2.4.1',
    'a source that stops to synchronise is shown at once',
    [
      { at: 0, data: data('a', 1, { syncAddress: 7962 }) },
      { at: 0, sync: sync('a', 1) },
      { at: 0.1, data: data('a', 2, level(20)) },
      { at: 0.1, shows: 20, sources: 1 },
    ],
  ],
  [
    '7.7',
    'fewer slots than before: the others are 0',
    [
      { at: 0, data: data('a', 1, { slots: Uint8Array.of(10, 20) }) },
      { at: 0.1, data: data('a', 2, { slots: new Uint8Array(0) }) },
      { at: 0.1, shows: 0, sources: 1 },
    ],
  ],
  [
    '5.6',
    'a source is its CID: another name or address is the same one',
    [
      { at: 0, data: data('a', 1) },
      { at: 0, data: data('a', 2, { sourceName: 'Renamed', ...level(12) }) },
      { at: 0, shows: 12, sources: 1 },
    ],
  ],
];

describe('a receiver by E1.31', () => {
  it.each(cases)('%s: %s', (_clause, _what, steps) => {
    play(steps);
  });

  it('leaves other universes alone', () => {
    play([{ at: 0, data: data('a', 1, { universe: 3 }), is: 'other-universe' }]);
  });

  it('one synchronization packet shows all universes of its source at once', () => {
    const to = { syncAddress: 7962 };
    const receiver = play([
      { at: 0, data: data('a', 1, to) },
      { at: 0, data: data('a', 1, { ...to, universe: 2 }) },
      { at: 0, sync: sync('a', 1) },
      { at: 0.1, data: data('a', 2, { ...to, ...level(20) }), is: 'waits-for-sync' },
      { at: 0.1, data: data('a', 2, { ...to, universe: 2, ...level(30) }), is: 'waits-for-sync' },
    ]);
    const shown = () => receiver.universes.map(({ levels }) => levels[0]);
    expect(shown()).toEqual([10, 10]);
    receiveSacnSync(receiver, sync('a', 2), 0.2);
    expect(shown()).toEqual([20, 30]);
  });

  it(`keeps ${MOST_SOURCES} sources of a universe: a flood below the desk's priority can't shut it out`, () => {
    const flood = [...'bcdefgh'].map((name, i): Step => {
      const is = i < MOST_SOURCES ? 'taken' : 'too-many-sources';
      return { at: 0, data: data(name, 1, { priority: 50, ...level(255) }), is };
    });
    play([
      ...flood,
      { at: 0.1, data: data('a', 1, level(10)) },
      { at: 0.1, data: data('z', 1, { priority: 50 }), is: 'too-many-sources' },
      { at: 0.1, shows: 10, sources: MOST_SOURCES },
    ]);
  });

  it('changes are counted, and a packet that changes nothing is none', () => {
    const receiver = play([
      { at: 0, data: data('a', 1) },
      { at: 0.1, data: data('a', 2) },
      { at: 0.2, data: data('a', 3, level(11)) },
    ]);
    expect(receiver.universes[0]?.changes).toBe(2);
  });

  it('whatever comes, levels are those of the highest priority that is heard, in any order of sources', () => {
    const packet = fc.record({
      from: fc.constantFrom('a', 'b', 'c'),
      priority: fc.constantFrom(90, 100, 110),
      slot: fc.integer({ min: 0, max: 255 }),
    });
    fc.assert(
      fc.property(fc.array(packet, { minLength: 1, maxLength: 40 }), packets => {
        const receiver = createSacnReceiver([1]);
        const last = new Map<string, { priority: number; slot: number }>();
        packets.forEach(({ from, priority, slot }, i) => {
          receiveSacnData(receiver, data(from, i, { priority, ...level(slot) }), '', i * 0.01);
          last.set(from, { priority, slot });
        });
        const highest = Math.max(...[...last.values()].map(({ priority }) => priority));
        const those = [...last.values()].filter(({ priority }) => priority === highest);
        const received = receiver.universes[0];
        expect(received?.priority).toBe(highest);
        expect(received?.levels[0]).toBe(Math.max(...those.map(({ slot }) => slot)));
      }),
      { seed: 18, numRuns: 300 },
    );
  });
});

test('a packet that is like the last one of its source comes to the same without being decoded', () => {
  const headArb = fc.record({
    universe: fc.constantFrom(1, 2, 3),
    cid: fc.constantFrom(1, 2),
    priority: fc.constantFrom(100, 100, 100, 90),
    syncAddress: fc.constantFrom(0, 0, 7),
    slotCount: fc.constantFrom(512, 512, 24),
    /** Preview, terminated, force synchronization; start code; one byte of the head that is wrong. */
    options: fc.constantFrom(0, 0, 0, 0x80, 0x40, 0x20),
    startCode: fc.constantFrom(0, 0, 0, 0xdd),
    spoilt: fc.constantFrom(undefined, undefined, undefined, 4, 22, 38, 60, 117, 123),
    from: fc.constantFrom('10.0.0.1', '10.0.0.1', '10.0.0.2'),
  });
  const packetArb = fc.record({
    /** undefined: that of the packet before. */
    head: fc.option(headArb, { freq: 1, nil: undefined }),
    level: fc.integer({ min: 0, max: 255 }),
    step: fc.constantFrom(1, 1, 1, 1, 0, 250),
    afterS: fc.constantFrom(0.025, 0.025, 3),
  });
  let [taken, late] = [0, 0];
  fc.assert(
    fc.property(headArb, fc.array(packetArb, { maxLength: 60, size: 'max' }), (head, packets) => {
      const [plain, quick] = [createSacnReceiver([1, 2]), createSacnReceiver([1, 2])];
      let nowS = 10;
      let sequence = 0;
      let one = head;
      for (const { level: slot, step, afterS, head: next } of packets) {
        one = next ?? one;
        nowS += afterS;
        sequence = (sequence + step) & 0xff;
        const bytes = Buffer.alloc(126 + one.slotCount, slot);
        const { buffer } = createDataPacket({
          cid: new Uint8Array(16).fill(one.cid),
          sourceName: `desk ${one.cid}`,
          universe: one.universe,
          priority: one.priority,
        });
        buffer.copy(bytes, 0, 0, 126);
        // Lengths of Table 4-1, from the flags on to the end.
        for (const at of [16, 38, 115]) bytes.writeUInt16BE(0x7000 | (bytes.length - at), at);
        bytes.writeUInt16BE(one.slotCount + 1, 123);
        bytes.writeUInt16BE(one.syncAddress, 109);
        bytes[111] = sequence;
        bytes[112] = one.options;
        bytes[125] = one.startCode;
        if (one.spoilt !== undefined) bytes[one.spoilt] = (bytes[one.spoilt] ?? 0) ^ 0x04;
        const whole = (receiver: typeof plain, head?: Buffer) => {
          const packet = decodeSacn(bytes);
          if (packet.kind !== 'data') return packet.kind;
          return receiveSacnData(receiver, packet, one.from, nowS, head);
        };
        for (const receiver of [plain, quick]) expireSacnSources(receiver, nowS);
        const expected = whole(plain);
        const again = receiveSacnAgain(quick, bytes, one.from, nowS);
        if (again !== undefined) taken++;
        if (again === 'late') late++;
        expect(again ?? whole(quick, bytes)).toBe(expected);
        const seen = ({ universes }: typeof plain) =>
          universes.map(({ sources, levels, changes, priority }) => ({
            levels: Buffer.from(levels).toString('hex'),
            changes,
            priority,
            sources: sources.map(({ head: _, slots: __, waiting: ___, ...rest }) => rest),
          }));
        expect(seen(quick)).toEqual(seen(plain));
      }
    }),
    { seed: 20261130, numRuns: 30 },
  );
  // The short way is the one that most packets of a desk go.
  expect(taken).toBeGreaterThan(50);
  expect(late).toBeGreaterThan(0);
});
