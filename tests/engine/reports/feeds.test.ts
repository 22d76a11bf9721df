import { expect, test } from 'vitest';
import { countFeed } from '../../../src/engine/reports/feeds.js';
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
