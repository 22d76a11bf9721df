import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createAddressPriorityPacket } from '../../../src/protocols/sacn/address-priority.js';
import { createDataPacket } from '../../../src/protocols/sacn/data-packet.js';
import { decodeSacn } from '../../../src/protocols/sacn/decode.js';
import { DATA } from '../../../src/protocols/sacn/layout.js';

const cid = Uint8Array.from({ length: 16 }, (_, i) => i + 1);
const base = { cid, sourceName: 'The Salt Lantern', universe: 1, priority: 100 };
const nameField = (sourceName: string) =>
  createDataPacket({ ...base, sourceName }).buffer.subarray(DATA.sourceName, DATA.priority);

describe('data packet', () => {
  it('is written in place: the slots are part of the buffer', () => {
    const packet = createDataPacket(base);
    expect(packet.buffer).toHaveLength(638);
    expect(packet.slots).toHaveLength(512);
    packet.slots[0] = 11;
    packet.slots[511] = 22;
    expect(packet.buffer[126]).toBe(11);
    expect(packet.buffer[637]).toBe(22);
  });

  it('counts the sequence round and marks the end of the stream', () => {
    const packet = createDataPacket(base);
    packet.setSequence(254);
    packet.advanceSequence();
    expect(decodeSacn(packet.buffer)).toMatchObject({ sequence: 255, terminated: false });
    packet.advanceSequence();
    packet.setTerminated(true);
    expect(decodeSacn(packet.buffer)).toMatchObject({
      sequence: 0,
      terminated: true,
      preview: false,
      forceSync: false,
    });
    packet.setTerminated(false);
    expect(decodeSacn(packet.buffer)).toMatchObject({ terminated: false });
  });

  it('takes another priority, and no number that is none', () => {
    const packet = createDataPacket(base);
    packet.setPriority(200);
    expect(decodeSacn(packet.buffer)).toMatchObject({ priority: 200 });
    packet.setPriority(0);
    expect(decodeSacn(packet.buffer)).toMatchObject({ priority: 0 });
    for (const wrong of [-1, 201, 0.5, Number.NaN]) {
      expect(() => packet.setPriority(wrong)).toThrow(/^priority is a whole number from 0 to 200/);
      expect(() => createDataPacket({ ...base, priority: wrong })).toThrow(/^priority/);
    }
    expect(() => createDataPacket({ ...base, universe: 64_000 })).toThrow(/^universe .* 63999/);
    expect(() => packet.setSyncAddress(64_000)).toThrow(/^synchronization address .* 63999/);
  });

  it('of priorities by slot is the same but for its START code (ESTA register: 0xDD)', () => {
    const [levels, priorities] = [createDataPacket(base), createAddressPriorityPacket(base)];
    // START code: octet 125 of Table 4-1.
    expect([levels.buffer[125], priorities.buffer[125]]).toEqual([0, 0xdd]);
    priorities.buffer[125] = 0;
    expect(priorities.buffer).toEqual(levels.buffer);
  });

  it('keeps priority 0 (it is in range: E1.31 6.2.3)', () => {
    expect(decodeSacn(createDataPacket({ ...base, priority: 0 }).buffer)).toMatchObject({
      priority: 0,
    });
  });

  it.each([
    ['', 0],
    ['x'.repeat(63), 63],
    ['x'.repeat(64), 63],
    ['ü'.repeat(32), 62],
    [`x${'ü'.repeat(32)}`, 63],
    ['\u{1f56f}'.repeat(16), 60],
    ['a\0b', 2],
  ])('cuts the name %j at a character to %i bytes, NUL to the end of the field', (name, bytes) => {
    const field = nameField(name);
    expect(field).toHaveLength(64);
    expect(field.indexOf(0)).toBe(bytes);
    expect(field.subarray(bytes).every(byte => byte === 0)).toBe(true);
  });

  it('any name: valid UTF-8 that begins the name', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'grapheme', maxLength: 80 }), name => {
        const field = nameField(name);
        const text = new TextDecoder('utf-8', { fatal: true }).decode(
          field.subarray(0, field.indexOf(0)),
        );
        expect(name.replaceAll('\0', '').startsWith(text)).toBe(true);
      }),
      { seed: 31 },
    );
  });

  it.each([
    { universe: 0 },
    { universe: 64_000 },
    { universe: 1.5 },
    { priority: -1 },
    { priority: 201 },
    { cid: new Uint8Array(15) },
  ])('refuses %o', options => {
    expect(() => createDataPacket({ ...base, ...options })).toThrow(RangeError);
  });
});
