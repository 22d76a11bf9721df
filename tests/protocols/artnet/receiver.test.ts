import { describe, expect, it } from 'vitest';
import type { ArtDmx } from '../../../src/protocols/artnet/incoming.js';
import {
  type ArtnetOutcome,
  createArtnetReceiver,
  expireArtnetSources,
  receiveArtDmx,
  receiveArtSync,
} from '../../../src/protocols/artnet/receiver.js';

/** The rules are those of Art-Net 4 for nodes: data merging, ArtSync. */

const dmx = (sequence: number, level: number, more: Partial<ArtDmx> = {}): ArtDmx => ({
  portAddress: 3,
  sequence,
  physical: 0,
  slots: Uint8Array.of(level, 0),
  ...more,
});

type Step =
  | {
      readonly at: number;
      readonly from: string;
      readonly dmx: ArtDmx;
      readonly is?: ArtnetOutcome;
    }
  | { readonly at: number; readonly syncFrom: string }
  | { readonly at: number; readonly shows: number; readonly sources: number };

function play(steps: readonly Step[]) {
  const receiver = createArtnetReceiver([3, 4]);
  for (const step of steps) {
    expireArtnetSources(receiver, step.at);
    if ('dmx' in step) {
      expect(receiveArtDmx(receiver, step.dmx, step.from, step.at)).toBe(step.is ?? 'taken');
    } else if ('syncFrom' in step) receiveArtSync(receiver, step.syncFrom, step.at);
    else {
      const port = receiver.ports[0];
      const is = { at: step.at, shows: port?.levels[0], sources: port?.sources.length };
      expect(is).toEqual(step);
    }
  }
  return receiver;
}

describe('a node by Art-Net 4', () => {
  it('merges two sources to the highest level, and ignores a third', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(1, 10) },
      { at: 0, from: 'b', dmx: dmx(1, 40) },
      { at: 0.1, from: 'c', dmx: dmx(1, 99), is: 'third-source' },
      { at: 0.1, shows: 40, sources: 2 },
      { at: 0.2, from: 'b', dmx: dmx(2, 4) },
      { at: 0.2, shows: 10, sources: 2 },
    ]);
  });

  it('merges whatever the Physical and the sequence of each are, and what merged is the highest slot by slot', () => {
    const receiver = play([
      { at: 0, from: 'a', dmx: dmx(200, 10, { slots: Uint8Array.of(10, 200) }) },
      { at: 0, from: 'b', dmx: dmx(3, 40, { slots: Uint8Array.of(40, 100) }) },
      { at: 0, shows: 40, sources: 2 },
    ]);
    expect([...(receiver.ports[0]?.levels.subarray(0, 2) ?? [])]).toEqual([40, 200]);
    expect(receiver.ports[0]?.leading).toHaveLength(2);
  });

  it('takes a third once one of the two has failed', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(1, 10) },
      { at: 0, from: 'b', dmx: dmx(1, 40) },
      { at: 9, from: 'a', dmx: dmx(2, 10) },
      { at: 9.9, from: 'c', dmx: dmx(1, 99), is: 'third-source' },
      { at: 10.1, from: 'c', dmx: dmx(2, 99) },
      { at: 10.1, shows: 99, sources: 2 },
    ]);
  });

  it('tells two streams of one address apart by Physical', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(1, 10) },
      { at: 0, from: 'a', dmx: dmx(1, 40, { physical: 1 }) },
      { at: 0, shows: 40, sources: 2 },
    ]);
  });

  it('holds a source that fails for 10 s, and what it showed last when both have', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(1, 10) },
      { at: 0, from: 'b', dmx: dmx(1, 40) },
      { at: 9, from: 'a', dmx: dmx(2, 10) },
      { at: 10, shows: 40, sources: 2 },
      { at: 10.1, shows: 10, sources: 1 },
      { at: 10.2, from: 'c', dmx: dmx(1, 20) },
      { at: 10.2, from: 'a', dmx: dmx(3, 5) },
      { at: 30, shows: 20, sources: 0 },
    ]);
  });

  it('drops late packets; 0 is no number; after 255 comes 1', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(255, 10) },
      { at: 0, from: 'a', dmx: dmx(1, 11) },
      { at: 0, from: 'a', dmx: dmx(255, 1), is: 'late' },
      { at: 0, from: 'a', dmx: dmx(1, 1), is: 'late' },
      { at: 0, shows: 11, sources: 1 },
      { at: 0, from: 'a', dmx: dmx(0, 12) },
      { at: 0, from: 'a', dmx: dmx(0, 13) },
      { at: 0, shows: 13, sources: 1 },
    ]);
  });

  it('a controller that starts anew is taken: its count is further back than late packets are', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(90, 10) },
      { at: 0.1, from: 'a', dmx: dmx(71, 1), is: 'late' },
      { at: 0.1, from: 'a', dmx: dmx(70, 11) },
      { at: 0.1, shows: 11, sources: 1 },
      { at: 0.2, from: 'a', dmx: dmx(250, 12) },
      { at: 0.2, from: 'a', dmx: dmx(1, 13) },
      { at: 0.2, shows: 13, sources: 1 },
    ]);
  });

  it('counts each Port-Address by itself', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(9, 10) },
      { at: 0, from: 'a', dmx: dmx(2, 10, { portAddress: 4 }) },
      { at: 0.1, from: 'a', dmx: dmx(3, 10, { portAddress: 4 }) },
      { at: 0.1, from: 'a', dmx: dmx(10, 20) },
      { at: 0.1, shows: 20, sources: 1 },
    ]);
  });

  it('starts unsynchronised: without an ArtSync what comes is shown', () => {
    play([
      { at: 0, syncFrom: 'a' },
      { at: 0.1, from: 'a', dmx: dmx(1, 10) },
      { at: 0.1, shows: 10, sources: 1 },
    ]);
  });

  it('waits for ArtSync once there has been one, from whoever sent the last ArtDmx, for 4 s', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(1, 10) },
      { at: 0, syncFrom: 'a' },
      { at: 0.1, from: 'a', dmx: dmx(2, 20), is: 'waits-for-sync' },
      { at: 0.1, syncFrom: 'b' },
      { at: 0.1, shows: 10, sources: 1 },
      { at: 0.2, syncFrom: 'a' },
      { at: 0.2, shows: 20, sources: 1 },
      { at: 4.1, from: 'a', dmx: dmx(3, 30), is: 'waits-for-sync' },
      { at: 4.3, from: 'a', dmx: dmx(4, 40) },
      { at: 4.3, shows: 40, sources: 1 },
    ]);
  });

  it('does not synchronise while it merges', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(1, 10) },
      { at: 0, syncFrom: 'a' },
      { at: 0.1, from: 'b', dmx: dmx(1, 20) },
      { at: 0.2, from: 'a', dmx: dmx(2, 30) },
      { at: 0.2, shows: 30, sources: 2 },
    ]);
  });

  it('synchronises again when the second source has failed, and there is an ArtSync', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(1, 10) },
      { at: 0, from: 'b', dmx: dmx(1, 20) },
      { at: 9, from: 'a', dmx: dmx(2, 30) },
      { at: 10.1, from: 'a', dmx: dmx(3, 40) },
      { at: 10.1, shows: 40, sources: 1 },
      { at: 10.1, syncFrom: 'a' },
      { at: 10.2, from: 'a', dmx: dmx(4, 50), is: 'waits-for-sync' },
      { at: 10.2, shows: 40, sources: 1 },
      { at: 10.3, syncFrom: 'a' },
      { at: 10.3, shows: 50, sources: 1 },
    ]);
  });

  it('an ArtSync counts by the time of the last one: each begins the 4 s anew', () => {
    play([
      { at: 0, from: 'a', dmx: dmx(1, 10) },
      { at: 0, syncFrom: 'a' },
      { at: 3.9, syncFrom: 'a' },
      { at: 7.9, from: 'a', dmx: dmx(2, 20), is: 'waits-for-sync' },
      { at: 7.91, from: 'a', dmx: dmx(3, 30) },
      { at: 7.91, shows: 30, sources: 1 },
    ]);
  });

  it('leaves other Port-Addresses alone; fewer slots than before: the others are 0', () => {
    const receiver = play([
      { at: 0, from: 'a', dmx: dmx(1, 10, { portAddress: 5 }), is: 'other-port' },
      { at: 0, from: 'a', dmx: dmx(1, 10, { slots: Uint8Array.of(1, 2, 3, 4) }) },
      { at: 0, from: 'a', dmx: dmx(2, 10) },
    ]);
    expect([...(receiver.ports[0]?.levels.subarray(0, 4) ?? [])]).toEqual([10, 0, 0, 0]);
    expect(receiver.ports[0]?.changes).toBe(2);
  });
});
