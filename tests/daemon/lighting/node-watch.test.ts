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
  it('are at most 1024, whoever answers; those that had to make room are counted, and told of each minute', () => {
    for (let i = 0; i < 3000; i++) {
      watch.hear(pollReplyBytes(), `10.0.${i >> 8}.${i & 0xff}`, 0);
    }
    expect(watch.known).toBe(1024);
    expect(watch.counters).toMatchObject({ rejected: 0, displaced: 3000 - 1024 });
    expect(events).toHaveLength(128);
    for (let s = 0; s < 59; s += 0.25) watch.look(s);
    const told = events.filter(({ kind }) => kind === 'nodes-displaced');
    expect(told).toEqual([{ kind: 'nodes-displaced', count: 3000 - 1024, most: 1024 }]);
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
    expect(watch.counters).toEqual({ rejected: 0, displaced: 0, untold: 0 });
    expect(events).toEqual([]);
  });
});

it('is not the other machine of a pair, however often that comes and goes', () => {
  watch = new NodeWatch(
    event => events.push(event),
    new Set(['10.0.0.12']),
    name => name.startsWith('lampwright standby '),
  );
  watch.await('10.0.0.12', 'practicals', 0);
  const longName = 'lampwright standby The Salt Lantern';
  // It answers for 20 s, and is away for 20 s.
  for (let s = 0; s < 600; s += 2.5) {
    if (s % 40 < 20) watch.hear(pollReplyBytes({ longName }), '10.0.0.12', s);
    watch.look(s);
  }
  expect(events).toEqual([]);
  expect(watch.known).toBe(0);
});

it('is not the other machine of a pair that is started later, and was missed until then', () => {
  const isPartner = (name: string) => name.startsWith('lampwright standby ');
  const of = (partners: readonly string[]) => {
    events = [];
    watch = new NodeWatch(
      event => events.push(event),
      new Set(['10.0.0.12']),
      isPartner,
      new Set(partners),
    );
    const longName = 'lampwright standby The Salt Lantern';
    for (let s = 0; s < 60; s += 2.5) {
      watch.await('10.0.0.12', 'practicals', s);
      if (s > 30) watch.hear(pollReplyBytes({ longName }), '10.0.0.12', s);
      watch.look(s);
    }
    return events;
  };
  const at = { ip: '10.0.0.12', output: 'practicals' };
  expect(of([])).toEqual([
    { kind: 'node-silent', ...at },
    { kind: 'node-is-partner', ...at },
  ]);
  // Where the show says where it is, nobody waits for a node.
  expect(of(['10.0.0.12'])).toEqual([]);
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
  it('that more nodes ask for than get it is told once a minute', () => {
    watch.want(0x0423, 'heads', 0);
    for (let s = 0; s < 90; s += 2.5) {
      for (let i = 0; i < 65; i++) watch.hear(pollReplyBytes(), `10.0.1.${i}`, s);
      watch.look(s);
    }
    const crowded = { kind: 'port-address-crowded', portAddress: 0x0423, output: 'heads' };
    expect(events.filter(({ kind }) => kind === crowded.kind)).toEqual(
      [1, 2].map(() => ({ ...crowded, nodes: 65, most: 64 })),
    );
  });

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

describe('nodes that come and go', () => {
  /** Answers for 5 s, then is gone for 15: a loose cable. */
  const flap = (ip: string, seconds: number, from = 0) => {
    for (let s = from; s < from + seconds; s += 0.25) {
      if (s % 20 < 5 && s % 2.5 === 0) watch.hear(pollReplyBytes(), ip, s);
      watch.look(s);
    }
  };
  const of = (ip: string) =>
    events.flatMap(event => ('ip' in event && event.ip === ip ? [event.kind] : []));

  it('make a few lines, then one a minute, and a number', () => {
    flap('10.0.0.7', 3600);
    // 180 times found and gone.
    const told = of('10.0.0.7');
    expect(told.slice(0, 4)).toEqual(['node-found', 'node-gone', 'node-found', 'node-gone']);
    expect(told.length).toBeLessThanOrEqual(4 + 60);
    const numbers = events.filter(event => event.kind === 'nodes-unsteady');
    expect(numbers.length).toBeLessThanOrEqual(61);
    const changes = numbers.reduce((sum, { came, went }) => sum + came + went, told.length);
    expect(changes).toBeGreaterThan(330);
    expect(watch.counters.untold).toBeGreaterThan(270);
  });

  it('are told as they are once they rest, and that they do', () => {
    flap('10.0.0.7', 300);
    for (let s = 300; s < 600; s += 0.25) {
      if (s % 2.5 === 0) watch.hear(pollReplyBytes(), '10.0.0.7', s);
      watch.look(s);
    }
    expect(of('10.0.0.7').at(-1)).toBe('node-found');
    expect(events.filter(({ kind }) => kind === 'nodes-steady')).toHaveLength(1);
    for (let s = 600; s < 700; s += 0.25) watch.look(s);
    expect(of('10.0.0.7').at(-1)).toBe('node-gone');
  });

  it('by forged answers fill neither the log nor the memory, and hide no node of ours', () => {
    watch.await('10.0.0.7', 'practicals', 0);
    const reply = pollReplyBytes();
    let forged = 0;
    for (let s = 0; s < 1200; s += 1) {
      if (s < 600 && s % 2 === 0) watch.hear(reply, '10.0.0.7', s);
      for (let i = 0; i < 100; i++) {
        forged += 1;
        const ip = `10.${(forged >> 16) & 255}.${(forged >> 8) & 255}.${forged & 255}`;
        if (ip !== '10.0.0.7') watch.hear(reply, ip, s);
      }
      watch.look(s);
    }
    expect(watch.known).toBeLessThanOrEqual(1024);
    // The first lot, one in ten seconds, a number each minute, and our own.
    expect(events.length).toBeLessThanOrEqual(128 + 120 + 21 + 4);
    expect(of('10.0.0.7')).toEqual(['node-found', 'node-gone']);
    expect(watch.counters.untold).toBeGreaterThan(100_000);
  });

  it('with a Port-Address and without are told of once a minute', () => {
    watch.want(0x0424, 'heads', 0);
    for (let s = 0; s < 600; s += 0.25) {
      const swOut = s % 0.5 === 0 ? [3, 4] : [3, 5];
      watch.hear(pollReplyBytes({ portCount: 2, portTypes: [0x80, 0x80], swOut }), '10.0.0.7', s);
      watch.look(s);
    }
    const unheard = events.filter(({ kind }) => kind === 'port-address-unheard');
    expect(unheard.length).toBeGreaterThan(1);
    expect(unheard.length).toBeLessThanOrEqual(10);
  });
});
