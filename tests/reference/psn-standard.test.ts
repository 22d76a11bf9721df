/**
 * Golden packets: README of npm `@jwetzell/posistagenet` 2.1.1 (MIT), an implementation of the PosiStageNet protocol
 * 2.03 (2019-09-09) that is not ours. The package itself is the peer, both ways.
 */
import { Decoder, Encoder, Tracker } from '@jwetzell/posistagenet';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { decodePsn, type PsnTracker } from '../../src/protocols/psn/decode.js';
import { encodePsnData, encodePsnInfo } from '../../src/protocols/psn/encode.js';

const DATA =
  '5567288000000c00010000000000000002030101010014800100108000000c000000803f0000803f0000803f';
const INFO =
  '5667348000000c0001000000000000000203010101000b00536572766572204e616d650200118001000d8000000900547261636b65722031';
const FRAME = { timeUs: 1, number: 1 };

function read(packets: readonly Uint8Array[]) {
  const trackers: PsnTracker[] = [];
  const names: (string | [number, string])[] = [];
  const rejected: string[] = [];
  for (const packet of packets) {
    decodePsn(Buffer.from(packet), {
      tracker: one => trackers.push({ ...one }),
      systemName: name => names.push(name),
      trackerName: (id, name) => names.push([id, name]),
      rejected: reason => rejected.push(reason),
    });
  }
  return { trackers, names, rejected };
}

describe('the golden packets', () => {
  it('data: tracker 1 at (1, 1, 1)', () => {
    const { trackers, rejected } = read([Buffer.from(DATA, 'hex')]);
    expect(rejected).toEqual([]);
    expect(trackers).toMatchObject([{ id: 1, hasPosition: true, x: 1, y: 1, z: 1 }]);
    expect(trackers[0]).toMatchObject({ hasValidity: false, hasTimestamp: false });
    const ours = encodePsnData(FRAME, [{ id: 1, position: [1, 1, 1] }]);
    expect(ours.map(one => one.toString('hex'))).toEqual([DATA]);
  });

  it('info: the names', () => {
    expect(read([Buffer.from(INFO, 'hex')]).names).toEqual(['Server Name', [1, 'Tracker 1']]);
    const ours = encodePsnInfo(FRAME, 'Server Name', [{ id: 1, name: 'Tracker 1' }]);
    expect(ours.map(one => one.toString('hex'))).toEqual([INFO]);
  });
});

const metres = fc.float({ min: -50, max: 50, noNaN: true });
const vector = fc.tuple(metres, metres, metres);
const company = fc.uniqueArray(
  fc.record({
    id: fc.integer({ min: 0, max: 0xffff }),
    position: vector,
    speed: vector,
    validity: fc.float({ min: 0, max: 1, noNaN: true }),
    timestampUs: fc.integer({ min: 0, max: Number.MAX_SAFE_INTEGER }),
  }),
  { minLength: 1, maxLength: 60, selector: one => one.id },
);
// The peer takes frame 0 for none.
const frame = fc.record({
  timeUs: fc.integer({ min: 0, max: Number.MAX_SAFE_INTEGER }),
  number: fc.integer({ min: 1, max: 255 }),
});

describe('the peer', () => {
  it('reads what we write, several packets a frame too', () => {
    fc.assert(
      fc.property(company, frame, (trackers, at) => {
        const packets = encodePsnData(at, trackers);
        expect(packets.every(one => one.length <= 1472)).toBe(true);
        expect(packets.length).toBe(Math.ceil(trackers.length / 26));
        const peer = new Decoder();
        for (const packet of packets) peer.decode(packet);
        const names = trackers.map(({ id }) => ({ id, name: `Wearer ${id}` }));
        for (const packet of encodePsnInfo(at, 'The Salt Lantern', names)) peer.decode(packet);
        expect(peer.systemName).toBe('The Salt Lantern');
        for (const { id, position, speed, validity, timestampUs } of trackers) {
          const theirs = peer.trackers[id];
          expect([theirs?.pos?.x, theirs?.pos?.y, theirs?.pos?.z]).toEqual(position);
          expect([theirs?.speed?.x, theirs?.speed?.y, theirs?.speed?.z]).toEqual(speed);
          expect(theirs?.validity).toBe(validity);
          expect(theirs?.timestamp).toBe(BigInt(timestampUs));
          expect(theirs?.name).toBe(`Wearer ${id}`);
        }
      }),
      { seed: 20261130, numRuns: 60 },
    );
  });

  it('writes what we read, several packets a frame too', () => {
    fc.assert(
      fc.property(company, trackers => {
        const theirs = trackers.map(({ id, position, speed, validity, timestampUs }) => {
          const made = new Tracker(id, `Wearer ${id}`);
          made.setPos(...position);
          made.setSpeed(...speed);
          made.setStatus(validity);
          made.setTimestamp(BigInt(timestampUs));
          return made;
        });
        const encoder = new Encoder('A tracking system', 2, 3);
        const data = read(encoder.getDataPackets(5n, theirs));
        expect(data.rejected).toEqual([]);
        expect(data.trackers).toEqual(
          trackers.map(({ id, position: [x, y, z], validity, timestampUs }) => ({
            id,
            hasPosition: true,
            x,
            y,
            z,
            hasValidity: true,
            validity,
            hasTimestamp: true,
            timestampUs,
          })),
        );
        const info = read(encoder.getInfoPackets(5n, theirs));
        expect(info.rejected).toEqual([]);
        expect(new Set(info.names.filter(one => typeof one === 'string'))).toEqual(
          new Set(['A tracking system']),
        );
        expect(info.names.filter(one => typeof one !== 'string')).toEqual(
          trackers.map(({ id }) => [id, `Wearer ${id}`]),
        );
      }),
      { seed: 20261130, numRuns: 60 },
    );
  });
});
