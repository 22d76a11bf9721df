import { beforeEach, describe, expect, it } from 'vitest';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import { NodeWatch } from '../../../src/daemon/lighting/node-watch.js';
import { pollReplyBytes } from '../../protocols/artnet/reply.js';

let events: LightingEvent[];
let watch: NodeWatch;

beforeEach(() => {
  events = [];
  watch = new NodeWatch(event => events.push(event));
});

describe('the nodes that are known', () => {
  it('are at most 1024, whoever answers; the others are counted', () => {
    for (let i = 0; i < 3000; i++) {
      watch.hear(pollReplyBytes(), `10.0.${i >> 8}.${i & 0xff}`, 0);
    }
    expect(watch.known).toBe(1024);
    expect(watch.counters).toEqual({ rejected: 0, refused: 3000 - 1024 });
    expect(events).toHaveLength(1024);
    // Those that were not there make room.
    watch.look(60);
    watch.hear(pollReplyBytes(), '10.1.0.1', 60);
    expect(watch.known).toBe(1);
  });

  it('are told when they come, not each time that they answer', () => {
    for (let s = 0; s < 60; s += 2.5) {
      watch.hear(pollReplyBytes(), '10.0.0.7', s);
      watch.look(s);
    }
    expect(events.map(event => event.kind)).toEqual(['node-found']);
  });

  it('do not count packets of others on the same port as faults', () => {
    // An ArtPoll, which every node and controller of the network hears.
    watch.hear(Buffer.from('4172742d4e6574000020000e0200', 'hex'), '10.0.0.7', 0);
    expect(watch.counters).toEqual({ rejected: 0, refused: 0 });
    expect(events).toEqual([]);
  });
});

describe('a node that an output sends to', () => {
  it('is silent when it has not answered three polls; told once, and found when it comes', () => {
    for (let s = 0; s < 60; s += 2.5) {
      watch.await('10.0.0.7', 'practicals', s);
      watch.look(s);
      if (s < 8.5) expect(events).toEqual([]);
    }
    watch.hear(pollReplyBytes(), '10.0.0.7', 60);
    expect(events).toEqual([
      { kind: 'node-silent', ip: '10.0.0.7', output: 'practicals' },
      { kind: 'node-found', ip: '10.0.0.7', name: 'stove', portAddresses: [0x0423] },
    ]);
  });

  it('that answers and then leaves is gone, and not silent as well', () => {
    watch.await('10.0.0.7', 'practicals', 0);
    watch.hear(pollReplyBytes(), '10.0.0.7', 0.2);
    for (let s = 0; s < 60; s += 2.5) watch.look(s);
    expect(events.map(event => event.kind)).toEqual(['node-found', 'node-gone']);
  });
});

describe('a Port-Address that we send', () => {
  const kinds = () => events.filter(event => event.kind === 'port-address-unheard');
  const look = (fromS: number, toS: number, bytes: Buffer | undefined) => {
    for (let s = fromS; s < toS; s += 2.5) {
      if (bytes !== undefined) watch.hear(bytes, '10.0.0.7', s);
      watch.look(s);
    }
  };

  it('that no node puts out is told once, when the nodes have had time to answer', () => {
    watch.want(0x0423, 'heads', 0);
    watch.want(0x0424, 'heads', 0);
    look(0, 8, pollReplyBytes());
    expect(kinds()).toEqual([]);
    look(8, 60, pollReplyBytes());
    expect(kinds()).toEqual([
      { kind: 'port-address-unheard', portAddress: 0x0424, output: 'heads' },
    ]);
    // The node is patched, and later patched away.
    look(60, 90, pollReplyBytes({ portCount: 2, portTypes: [0x80, 0x80], swOut: [3, 4] }));
    look(90, 120, pollReplyBytes());
    expect(kinds()).toHaveLength(2);
  });

  it('is not told of where there is no node at all: that is said of each address', () => {
    watch.want(0x0423, 'heads', 0);
    look(0, 60, undefined);
    expect(kinds()).toEqual([]);
  });
});
