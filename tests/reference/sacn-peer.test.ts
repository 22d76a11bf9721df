import fc from 'fast-check';
import { Packet } from 'sacn';
import { describe, expect, it } from 'vitest';
import { createDataPacket } from '../../src/protocols/sacn/data-packet.js';
import { decodeSacn } from '../../src/protocols/sacn/decode.js';

/** Independent implementation: the `Packet` class of npm `sacn` (Apache-2.0), encoder and decoder. */

const cid = fc.uint8Array({ minLength: 16, maxLength: 16 }).map(bytes => Buffer.from(bytes));
// Its name field is right for ASCII only, and it takes priority 0 for 100 and '' for a default.
const sourceName = fc.stringMatching(/^[!-~]{1,63}$/);
const universe = fc.integer({ min: 1, max: 63_999 });
const priority = fc.integer({ min: 1, max: 200 });
const sequence = fc.nat(255);
const levels = fc.uint8Array({ minLength: 512, maxLength: 512 });

describe('npm sacn', () => {
  it('reads what we write', () => {
    fc.assert(
      fc.property(cid, sourceName, universe, priority, sequence, levels, (...values) => {
        const [id, name, number, rank, count, slots] = values;
        const packet = createDataPacket({
          cid: id,
          sourceName: name,
          universe: number,
          priority: rank,
        });
        packet.setSequence(count);
        packet.slots.set(slots);
        const theirs = new Packet(packet.buffer);
        expect(theirs.cid).toEqual(id);
        expect(theirs.sourceName).toBe(name);
        expect(theirs.universe).toBe(number);
        expect(theirs.priority).toBe(rank);
        expect(theirs.sequence).toBe(count);
        expect(theirs.options).toBe(0);
        expect(theirs.syncUniverse).toBe(0);
        expect(theirs.propertyValueCount).toBe(513);
        expect(theirs.payloadAsBuffer).toEqual(Buffer.from(slots));
      }),
      { seed: 51, numRuns: 50 },
    );
  });

  it('writes the same bytes as we do, and we read them', () => {
    fc.assert(
      fc.property(cid, sourceName, universe, priority, sequence, levels, (...values) => {
        const [id, name, number, rank, count, slots] = values;
        const theirs = new Packet({
          cid: id,
          sourceName: name,
          universe: number,
          priority: rank,
          sequence: count,
          payload: Object.fromEntries(Array.from(slots, (level, i) => [i + 1, level])),
          useRawDmxValues: true,
        }).buffer;
        const ours = createDataPacket({
          cid: id,
          sourceName: name,
          universe: number,
          priority: rank,
        });
        ours.setSequence(count);
        ours.slots.set(slots);
        expect(Buffer.compare(ours.buffer, theirs)).toBe(0);
        expect(decodeSacn(theirs)).toMatchObject({
          kind: 'data',
          sourceName: name,
          universe: number,
          priority: rank,
          sequence: count,
        });
      }),
      { seed: 52, numRuns: 50 },
    );
  });
});
