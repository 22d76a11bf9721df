import { beforeEach, describe, expect, it } from 'vitest';
import { mayBePartner } from '../../../src/daemon/files/identity.js';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import { Hearing, type Listener } from '../../../src/daemon/lighting/hearing.js';
import { Partner } from '../../../src/daemon/lighting/partner.js';
import { streamsOf } from '../../../src/daemon/lighting/streams.js';
import { createDmxPacket } from '../../../src/protocols/artnet/dmx-packet.js';
import { encodePoll } from '../../../src/protocols/artnet/poll.js';
import { decodePollReply } from '../../../src/protocols/artnet/poll-reply.js';
import { createDataPacket } from '../../../src/protocols/sacn/data-packet.js';
import { artnetPlan, CID, sacnPlan } from './support.js';

const OURS = '10.0.0.1';
const OTHER = '10.0.0.2';
const US = { cid: CID, sourceName: 'lampwright The Salt Lantern' };
const PARTNER = {
  cid: new Uint8Array(16).fill(9),
  sourceName: 'lampwright standby The Salt Lantern',
};

let events: LightingEvent[];
let answers: { bytes: Buffer; to: string }[];
let chance: number;
let partner: Partner;
let hearing: Hearing;
let listener: Listener;

beforeEach(() => {
  events = [];
  answers = [];
  chance = 0;
  partner = new Partner(2);
  hearing = new Hearing({
    ...US,
    partnerName: PARTNER.sourceName,
    mayBePartner: name => mayBePartner(name, false),
    standby: false,
    cycleS: 2,
    random: () => chance,
    onEvent: event => events.push(event),
  });
  const sacn = sacnPlan({ to: 'multicast', universes: [{ index: 0, onWire: 7 }] });
  const artnet = artnetPlan({ to: [OTHER, '10.0.0.7'], universes: [{ index: 1, onWire: 0x0423 }] });
  listener = {
    streams: [
      ...streamsOf(sacn, US, OURS, new Uint8Array(8 * 512)),
      ...streamsOf(artnet, US, OURS, new Uint8Array(8 * 512)),
    ],
    partner,
    address: OURS,
    port: 4000,
    holdsArtnet: false,
    answer: (bytes, to) => answers.push({ bytes, to }),
  };
});

function sacnBytes(source: typeof US, priority: number, level: number, universe = 7): Buffer {
  const packet = createDataPacket({ ...source, universe, priority });
  packet.slots.fill(level);
  return packet.buffer;
}

/** Every second, from somewhere, for 4 s. */
function hear(bytes: Buffer, address: string, port: number): void {
  for (let nowS = 0; nowS < 4; nowS += 0.5) {
    hearing.sacn(listener, bytes, address, port, nowS);
    hearing.look(nowS);
  }
}

describe('sACN that comes in', () => {
  it('is nothing new when it is our own', () => {
    hear(sacnBytes(US, 100, 1), OURS, 4000);
    expect(events).toEqual([]);
  });

  it('from another process with our CID is a conflict, whatever its priority', () => {
    hear(sacnBytes(US, 50, 1), OURS, 4001);
    expect(events).toMatchObject([{ kind: 'other-source', conflict: true, sameIdentity: true }]);
  });

  it('on a universe that is not ours is nobody’s business', () => {
    hear(sacnBytes(PARTNER, 100, 1, 8), OTHER, 5568);
    expect(events).toEqual([]);
  });

  it('from the other machine of a pair is kept, until it ends its stream', () => {
    const bytes = sacnBytes(PARTNER, 99, 42);
    hear(bytes, OTHER, 5568);
    const told = { partner: 'standby', priority: 99, ourPriority: 100, taken: 'ours' };
    expect(events).toMatchObject([{ kind: 'other-source', conflict: false, ...told }]);
    expect(partner.isHeard(6)).toBe(true);
    expect(partner.at(6)).toEqual({ other: 'heard', lastHeardS: 3.5, address: OTHER });
    expect(partner.at(6.1)).toMatchObject({ other: 'silent', lastHeardS: 3.5 });
    expect(partner.knows(0, 6)).toBe(true);
    expect(partner.knows(1, 6)).toBe(false);
    expect([...partner.levels.subarray(0, 513)]).toEqual([...new Array(512).fill(42), 0]);
    // E1.31 6.7.1: 2.5 s without a packet, and it is gone (the last came at 3.5 s).
    expect(partner.isHeard(6.1)).toBe(false);
    hear(bytes, OTHER, 5568);
    bytes[112] = 0x40; // Stream_Terminated, E1.31 6.2.6
    hearing.sacn(listener, bytes, OTHER, 5568, 4);
    expect(partner.isHeard(4)).toBe(false);
    expect(partner.at(4)).toMatchObject({ other: 'ended' });
    // Others of its universes would have ended by then.
    hearing.look(4.6);
    expect(events.at(-1)).toMatchObject({ kind: 'other-source-gone', partner: 'standby' });
  });

  it('from the other machine of a pair that has the show by another name still is, and that is said', () => {
    const renamed = { ...PARTNER, sourceName: 'lampwright standby The Salt Lantern II' };
    for (let nowS = 0; nowS < 24; nowS += 0.5) {
      const source = nowS < 6 || nowS >= 16 ? PARTNER : renamed;
      hearing.sacn(listener, sacnBytes(source, 99, 42), OTHER, 5568, nowS);
      hearing.look(nowS);
      expect(partner.isHeard(nowS)).toBe(true);
    }
    expect(events).toMatchObject([
      { kind: 'other-source', conflict: false, otherShow: false },
      { kind: 'other-source', conflict: false, otherShow: true, name: renamed.sourceName },
      { kind: 'other-source', conflict: false, otherShow: false, name: PARTNER.sourceName },
    ]);
  });

  it.each([
    ['lampwright The Salt Lantern II', 99, 'another main machine'],
    ['lampwright standby Harbour', 90, 'a standby of another pair'],
    ['desk', 99, 'a desk'],
  ])('from %s with priority %i is not the other machine: %s', (sourceName, priority) => {
    hear(sacnBytes({ ...PARTNER, sourceName }, priority, 42), OTHER, 5568);
    expect(partner.isHeard(4)).toBe(false);
    expect(events).toMatchObject([{ kind: 'other-source', otherShow: false }]);
  });

  it('is measured by the priority that ours has on the wire', () => {
    // As a main machine that comes back: two below.
    listener.streams[0]?.setPriority?.(98);
    hear(sacnBytes(PARTNER, 99, 42), OTHER, 5568);
    expect(events).toMatchObject([{ priority: 99, ourPriority: 98, taken: 'theirs' }]);
  });

  it('from a main machine that comes back does not count before it leads', () => {
    hear(sacnBytes(PARTNER, 98, 42), OTHER, 5568);
    expect(partner.isHeard(4)).toBe(false);
    hear(sacnBytes(PARTNER, 99, 42), OTHER, 5568);
    expect(partner.isHeard(4)).toBe(true);
  });

  it('from a main machine that ends, comes back and is killed then: it has not ended, and is silent from then on', () => {
    hearing = new Hearing({
      ...US,
      partnerName: PARTNER.sourceName,
      mayBePartner: name => mayBePartner(name, true),
      standby: true,
      cycleS: 2,
      random: () => chance,
      onEvent: event => events.push(event),
    });
    hear(sacnBytes(PARTNER, 99, 42), OTHER, 5568);
    const end = sacnBytes(PARTNER, 99, 42);
    end[112] = 0x40; // Stream_Terminated, E1.31 6.2.6
    hearing.sacn(listener, end, OTHER, 5568, 4);
    expect(partner.at(6)).toEqual({ other: 'ended', lastHeardS: 3.5, address: OTHER });
    for (let nowS = 8; nowS <= 14; nowS++) {
      hearing.sacn(listener, sacnBytes(PARTNER, 98, 42), OTHER, 5568, nowS);
    }
    expect(partner.at(15)).toEqual({
      ...{ other: 'comes back', lastHeardS: 14, address: OTHER, backS: 8 },
    });
    expect(partner.at(17)).toEqual({ other: 'silent', lastHeardS: 14, address: OTHER });
  });

  it('is let be when it is for preview or of another START code', () => {
    const preview = sacnBytes(PARTNER, 100, 1);
    preview[112] = 0x80; // Preview_Data, E1.31 6.2.6
    hear(preview, OTHER, 5568);
    const priorities = sacnBytes(PARTNER, 100, 1);
    priorities[125] = 0xdd;
    hear(priorities, OTHER, 5568);
    expect(events).toEqual([]);
    expect(partner.isHeard(4)).toBe(false);
  });
});

describe('the other machine of a pair that ends a stream', () => {
  const STREAM_TERMINATED = 0x40; // E1.31 6.2.6
  const second = 9;
  let bytes: Buffer;
  let others: Buffer;
  const end = (packet: Buffer, nowS: number) => {
    const ending = Buffer.from(packet);
    ending[112] = STREAM_TERMINATED;
    // Three of them: E1.31 6.2.6.
    for (let i = 0; i < 3; i++) hearing.sacn(listener, ending, OTHER, 5568, nowS);
  };
  beforeEach(() => {
    const plan = sacnPlan({
      to: 'multicast',
      universes: [
        { index: 0, onWire: 7 },
        { index: 1, onWire: second },
      ],
    });
    listener = { ...listener, streams: streamsOf(plan, US, OURS, new Uint8Array(8 * 512)) };
    bytes = sacnBytes(PARTNER, 99, 42);
    others = sacnBytes(PARTNER, 99, 43, second);
  });

  it('and goes on with others, as with a new show, is still there', () => {
    for (const one of [bytes, others]) hearing.sacn(listener, one, OTHER, 5568, 1);
    end(bytes, 1.9);
    expect(partner.knows(0, 1.9)).toBe(false);
    expect(partner.knows(1, 1.9)).toBe(true);
    expect(partner.at(1.9)).toMatchObject({ other: 'heard' });
    hearing.sacn(listener, others, OTHER, 5568, 2);
    expect(partner.isHeard(4.5)).toBe(true);
    expect(partner.at(4.6)).toMatchObject({ other: 'silent' });
  });

  it('and all others is gone at once', () => {
    for (const one of [bytes, others]) hearing.sacn(listener, one, OTHER, 5568, 1);
    partner.hear(1, Buffer.alloc(512), 1.9, OTHER);
    partner.hearArtnet(1.9);
    end(bytes, 2);
    end(others, 2);
    expect(partner.at(2)).toMatchObject({ other: 'ended' });
  });

  it('and was heard of others when they were listened to last, is gone when they have been missed', () => {
    for (const one of [bytes, others]) hearing.sacn(listener, one, OTHER, 5568, 1);
    end(bytes, 1.5);
    // An unchanged universe is sent within a second (E1.31 6.6.2).
    expect(partner.isHeard(2)).toBe(true);
    expect(partner.at(2.2)).toMatchObject({ other: 'ended' });
  });
});

describe('Art-Net that comes in', () => {
  const dmx = createDmxPacket({ portAddress: 0x0423, slotCount: 512 });
  dmx.slots.fill(7);

  it('with levels on a Port-Address of ours is another controller', () => {
    for (let nowS = 0; nowS < 4; nowS += 0.5) {
      hearing.artnet(listener, dmx.buffer, '10.0.0.50', nowS);
      hearing.artnet(listener, dmx.buffer, OURS, nowS);
      hearing.look(nowS);
    }
    expect(events).toMatchObject([
      {
        kind: 'other-source',
        protocol: 'artnet',
        universes: [0x0423],
        address: '10.0.0.50',
        conflict: true,
      },
    ]);
    expect(partner.isHeard(4)).toBe(false);
  });

  it('from an address that we send to is the other machine of the pair', () => {
    hearing.artnet(listener, dmx.buffer, OTHER, 1);
    expect(partner.knows(1, 1)).toBe(true);
    expect(partner.levels[512]).toBe(7);
  });

  it('that asks who we are is answered, twice a second at most', () => {
    for (let i = 0; i < 100; i++) hearing.artnet(listener, encodePoll(), OTHER, 1 + i / 100);
    hearing.look(2);
    expect(answers.length).toBe(2);
    expect(answers[0]?.to).toBe(OTHER);
    expect(decodePollReply(answers[0]?.bytes ?? Buffer.alloc(0))).toMatchObject({
      kind: 'poll-reply',
      ip: OURS,
      port: 6454,
      shortName: 'lampwright',
      longName: US.sourceName,
      outputs: [],
    });
    // Our own broadcast comes back.
    hearing.artnet(listener, encodePoll(), OURS, 9);
    hearing.look(9);
    expect(answers.length).toBe(2);
  });

  it.each([0, 0.5, 1])('is answered within a second, at a moment by chance: %d', value => {
    chance = value;
    hearing.artnet(listener, encodePoll(), OTHER, 1);
    // Art-Net 4: a random delay of up to 1 s.
    const answeredS = Array.from({ length: 41 }, (_, beat) => 1 + beat / 40).find(nowS => {
      hearing.look(nowS);
      return answers.length === 1;
    });
    expect(answeredS).toBeGreaterThanOrEqual(1 + 0.9 * value);
    expect(answeredS).toBeLessThan(1 + 0.9 * value + 0.03);
    hearing.look(9);
    expect(answers).toHaveLength(1);
  });

  it('can be many: at most 64 wait for an answer', () => {
    chance = 1;
    for (let i = 0; i < 500; i++)
      hearing.artnet(listener, encodePoll(), `10.1.${i >> 8}.${i & 255}`, 1);
    hearing.look(2);
    expect(answers).toHaveLength(64);
  });
});
