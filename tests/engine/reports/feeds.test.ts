import { expect, test } from 'vitest';
import { countFeed, countPort } from '../../../src/engine/reports/feeds.js';
import type { TrackerFeed } from '../../../src/engine/values/counters.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import { Rig } from '../harness.js';
import { SOLO } from '../shows.js';

test('positions of each tracker are counted by who sent them', () => {
  const feeds: TrackerFeed[] = [];
  const known: TrackerFeed[] = [];
  const count = (from: string | undefined, input = 'tracking') =>
    countFeed(feeds, known, '1', input, from);
  count('10.0.0.5');
  count('10.0.0.9');
  count('10.0.0.5');
  count('10.0.0.5', 'stage');
  const counted = () => feeds.map(one => [one.input, one.from, one.positions]);
  expect(counted()).toEqual([
    ['tracking', '10.0.0.5', 2],
    ['tracking', '10.0.0.9', 1],
    ['stage', '10.0.0.5', 1],
  ]);
  // Nothing is found by an engine that has just taken over: it finds it among all.
  countFeed(feeds, [], '1', 'tracking', '10.0.0.9');
  expect(counted()[1]).toEqual(['tracking', '10.0.0.9', 2]);
  // A flood of made-up addresses takes no memory.
  for (let i = 0; i < 100; i++) count(`10.1.0.${i}`);
  expect(feeds).toHaveLength(4);
});

test('of one address the ports heard last are counted, and when they place a tracker apart', () => {
  const feed: TrackerFeed = { tracker: '1', input: 'tracking', from: '10.0.0.5', positions: 0 };
  const far = (port: number) => countPort(feed, port, 4, 0.02);
  countPort(feed, 50_001, Number.NaN, Number.POSITIVE_INFINITY);
  // One that jumps is one.
  far(50_001);
  expect(feed).toMatchObject({ ports: [{ port: 50_001, positions: 2 }] });
  expect(feed.apart).toBeUndefined();
  // Near, and after so long that somebody may have run there.
  countPort(feed, 50_002, 0.9, 0.02);
  countPort(feed, 50_001, 4, 0.5);
  expect(feed.apart).toBeUndefined();
  far(50_002);
  far(50_001);
  expect(feed).toMatchObject({
    apart: 2,
    ports: [
      { port: 50_001, positions: 4 },
      { port: 50_002, positions: 2 },
    ],
  });
  // A sender that takes a new port each time has no port that comes again, and takes no memory.
  for (let port = 1; port <= 100; port++) countPort(feed, port, 0, 0.02);
  expect(feed.ports).toEqual([100, 99, 98, 97].map(port => ({ port, positions: 1 })));
});

test('an engine counts where two ports of one machine place a tracker apart', () => {
  const rig = new Rig(SOLO);
  for (let n = 0; n < 20; n++) {
    const [x, port] = n % 2 === 0 ? [2, 50_001] : [6, 50_002];
    const args = [x, 6, 1.4].map(value => ({ type: 'f' as const, value }));
    const bytes = encodePacket({ address: '/tracker/1/position', args });
    rig.receive(bytes, rig.nowS, 0, '10.0.0.5', port);
    rig.tick();
  }
  expect(rig.engine.counters.feeds).toMatchObject([{ from: '10.0.0.5', positions: 20, apart: 19 }]);
});

test('an engine counts what it takes in, of the trackers that the show has', () => {
  const rig = new Rig(SOLO);
  const report = (tracker: number, from: string) =>
    rig.receive(
      encodePacket({
        address: `/tracker/${tracker}/position`,
        args: [2, 6, 1.4].map(value => ({ type: 'f', value })),
      }),
      rig.nowS,
      0,
      from,
    );
  for (const from of ['10.0.0.5', '10.0.0.9', '10.0.0.5']) report(1, from);
  report(99, '10.0.0.5');
  rig.tick();
  const feeds = () => rig.engine.counters.feeds.map(({ from, positions }) => [from, positions]);
  expect(feeds()).toEqual([
    ['10.0.0.5', 2],
    ['10.0.0.9', 1],
  ]);
});
