import { beforeEach, expect, it } from 'vitest';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import { type HeardSource, OtherSources } from '../../../src/daemon/lighting/other-sources.js';

let events: LightingEvent[];
let others: OtherSources;

beforeEach(() => {
  events = [];
  others = new OtherSources(2.5, event => events.push(event));
});

const DESK: HeardSource = {
  protocol: 'sacn',
  identity: 'aa',
  universe: 1,
  name: 'desk',
  address: '10.0.0.9',
  priority: 100,
  ourPriority: 100,
  weSend: true,
  sameIdentity: false,
  otherShow: false,
  partner: undefined,
};

/** Heard at 40 Hz from one second to another. */
function hear(fromS: number, toS: number, ...sources: readonly Partial<HeardSource>[]): void {
  for (let nowS = fromS; nowS < toS; nowS += 0.025) {
    for (const source of sources) others.hear({ ...DESK, ...source }, nowS);
    others.look(nowS);
  }
}

it('tells of a source once, with all its universes, and when it has gone', () => {
  hear(0, 10, { universe: 7 }, { universe: 1 });
  expect(events).toEqual([
    {
      kind: 'other-source', protocol: 'sacn', universes: [1, 7], name: 'desk', address: '10.0.0.9',
      priority: 100, ourPriority: 100, taken: 'both', conflict: true, sameIdentity: false,
      otherShow: false,
    },
  ]); // biome-ignore format: one event
  others.look(12.4);
  expect(events).toHaveLength(1);
  others.look(12.6);
  expect(events.at(-1)).toMatchObject({ kind: 'other-source-gone', name: 'desk' });
});

// E1.31 6.2.3: the highest priority wins; at the same, receivers merge.
it.each([
  ['a higher priority', { priority: 101 }, true],
  ['the same priority', { priority: 100 }, true],
  ['a lower priority', { priority: 99 }, false],
  ['our own identity', { priority: 99, sameIdentity: true }, true],
  ['the other machine of the pair', { priority: 100, partner: 'main' }, false],
  ['Art-Net, which has none', { priority: undefined, ourPriority: undefined }, true],
] as const)('%s', (_, source, conflict) => {
  hear(0, 3, source);
  expect(events).toMatchObject([{ kind: 'other-source', conflict }]);
});

it('tells again when a source that was harmless raises its priority', () => {
  hear(0, 3, { priority: 50 });
  hear(3, 6, { priority: 150 });
  expect(events).toMatchObject([
    { conflict: false, priority: 50 },
    { conflict: true, priority: 150 },
  ]);
});

it('tells of a partner whose name changes with each packet, or whose priorities differ, no more than every 5 s', () => {
  const other = {
    partner: 'standby' as const,
    priority: 99,
    otherShow: true,
    name: 'lampwright standby B',
  };
  hear(0, 21, { ...other, name: 'lampwright standby A', otherShow: false }, other);
  expect(events.length).toBeLessThanOrEqual(5);
  events = [];
  hear(30, 51, { ...other, identity: 'bb' }, { ...other, identity: 'bb', otherShow: false });
  expect(events.filter(event => event.kind === 'other-source')).toMatchObject([
    { otherShow: true },
  ]);
});

// E1.31 6.2.3, and what `Pair` adds to the priorities: a main machine that comes back is below its standby.
it.each([
  ['the standby, to a main machine that comes back', 'standby', 99, 98, 'theirs'],
  ['the standby, to one that leads', 'standby', 99, 100, 'ours'],
  ['a main machine that comes back, to the standby', 'main', 98, 99, 'ours'],
  ['a main machine that leads, to the standby', 'main', 100, 99, 'theirs'],
] as const)('says whose light receivers take of %s', (_, partner, priority, ourPriority, taken) => {
  hear(0, 3, { partner, priority, ourPriority });
  expect(events).toMatchObject([{ partner, priority, ourPriority, taken, conflict: false }]);
});

it('says of the other machine of the pair what it sends with now, and not what it sent with once', () => {
  hear(0, 1, { partner: 'main', priority: 100, ourPriority: 99 });
  hear(1, 3, { partner: 'main', priority: 98, ourPriority: 99 });
  expect(events).toMatchObject([{ priority: 98, taken: 'ours' }]);
});

it('says that Art-Net of the other machine is what nodes have, where ours is held back', () => {
  const artnet = { protocol: 'artnet', priority: undefined, ourPriority: undefined } as const;
  hear(0, 3, { ...artnet, partner: 'standby', weSend: false });
  expect(events).toMatchObject([{ taken: 'theirs', conflict: false }]);
});

it('does not tell of a single packet, or of one that ends its stream', () => {
  others.hear(DESK, 0);
  for (let nowS = 0; nowS < 10; nowS += 0.5) others.look(nowS);
  expect(events).toEqual([]);
  hear(20, 22, {});
  others.end(DESK, 22);
  hear(22, 22.6, { identity: 'bb', address: '10.0.0.8' });
  expect(events.map(event => event.kind)).toEqual(['other-source', 'other-source-gone']);
});

it('keeps 64 of them, however many are forged; the others are counted', () => {
  for (let i = 0; i < 1000; i++) others.hear({ ...DESK, identity: String(i) }, 0);
  expect(others.refused).toBe(1000 - 64);
});

it('names sixteen at a time, and of more tells the number; a place that is free goes to the next', () => {
  const flood = Array.from({ length: 64 }, (_, i) => ({ identity: String(i) }));
  hear(0, 12, ...flood);
  expect(events.map(event => event.kind)).toEqual([
    ...new Array(16).fill('other-source'),
    'more-sources',
  ]);
  expect(events.at(-1)).toEqual({ kind: 'more-sources', more: 48 });
  events = [];
  hear(12, 16, ...flood.slice(1));
  expect(events.map(event => event.kind)).toEqual(['other-source-gone', 'other-source']);
  events = [];
  others.look(30);
  expect(events.map(event => event.kind)).toEqual(new Array(16).fill('other-source-gone'));
});

it('harmless ones, however many, leave room for one that is taken instead of us', () => {
  const harmless = Array.from({ length: 40 }, (_, i) => ({ identity: String(i), priority: 50 }));
  hear(0, 4, ...harmless);
  expect(events.filter(event => event.kind === 'other-source')).toHaveLength(8);
  hear(4, 8, ...harmless, { identity: 'desk' });
  expect(events.filter(event => event.kind === 'other-source')).toHaveLength(9);
  expect(events.at(-1)).toMatchObject({ kind: 'other-source', conflict: true });
});

it('says what has ended of the other machine of a pair that goes on, and its death once', () => {
  const sacn = { partner: 'main', address: '10.0.0.11' } as const;
  const artnet = { ...sacn, protocol: 'artnet', identity: 'node', universe: 2 } as const;
  const gone = () => events.filter(({ kind }) => kind === 'other-source-gone');
  const next = { ...sacn, universe: 7 };
  hear(0, 5, sacn, next, artnet);
  // Its Art-Net is held back: a standby that waits again.
  hear(5, 9, sacn, next);
  expect(gone()).toEqual([expect.objectContaining({ protocol: 'artnet', universes: [2] })]);
  // A reload without one of its universes.
  others.end({ ...DESK, ...next }, 9);
  hear(9, 12, sacn);
  expect(gone().slice(1)).toEqual([expect.objectContaining({ protocol: 'sacn', universes: [7] })]);
  hear(12, 15, sacn, artnet);
  for (let nowS = 15; nowS < 20; nowS += 0.1) others.look(nowS);
  expect(gone().slice(2)).toEqual([
    { kind: 'other-source-gone', protocol: 'sacn', name: 'desk', address: '10.0.0.11', partner: 'main' },
  ]); // biome-ignore format: one event
  // A clean end by sACN: its Art-Net only falls silent.
  hear(20, 24, sacn, artnet);
  others.end({ ...DESK, ...sacn }, 24);
  for (let nowS = 24; nowS < 29; nowS += 0.1) others.look(nowS);
  expect(gone().slice(3)).toMatchObject([{ kind: 'other-source-gone', partner: 'main' }]);
  expect(gone()[3]).not.toHaveProperty('universes');
});
