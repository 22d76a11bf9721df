import { expect, test } from 'vitest';
import type { TrackerFeed } from '../../../src/engine/values/counters.js';
import {
  FeedsWithin,
  feedLines,
  refusedLines,
  sumOfFeeds,
} from '../../../src/reporting/measures/tracker-feeds.js';

const INPUTS = [
  { name: 'tracking', psn: undefined },
  { name: 'stage', psn: { group: undefined } },
] as unknown as ConstructorParameters<typeof FeedsWithin>[1];

const feed = (tracker: string, positions: number, from?: string, input = 'tracking') =>
  ({ tracker, input, from, positions }) satisfies TrackerFeed;

test('counts of the time that was asked for, exact by the replay, with senders by the recording', () => {
  const feeds = [feed('1', 10), feed('2', 3, undefined, 'stage')];
  const within = new FeedsWithin(feeds, INPUTS);
  within.told([feed('1', 10, '10.0.0.5')], 'before');
  within.at(false);
  within.at(true);
  feeds[0] = feed('1', 110);
  within.told([feed('1', 60, '10.0.0.5'), feed('1', 40, '10.0.0.9')], 'within');
  within.at(true);
  within.at(false);
  feeds[0] = feed('1', 900);
  within.told([feed('1', 700, '10.0.0.5')], 'after');
  const counts = within.counts();
  expect(counts).toEqual([
    {
      tracker: '1',
      input: 'tracking',
      protocol: 'osc',
      positions: 100,
      senders: [
        { from: '10.0.0.5', positions: 50 },
        { from: '10.0.0.9', positions: 40 },
      ],
    },
  ]);
  expect(feedLines(counts)).toEqual([
    'OSC to input tracking from 10.0.0.5 and 10.0.0.9: tracker 1, 100 positions',
    'tracker 1 had 2 senders: 10.0.0.5 to input tracking (50) and 10.0.0.9 to input tracking (40)',
  ]);
});

test('engines add up; a recording that names nobody has inputs and protocols all the same', () => {
  const counted = (positions: number) => {
    const feeds: TrackerFeed[] = [];
    const within = new FeedsWithin(feeds, INPUTS);
    within.at(true);
    feeds.push(feed('1', positions), feed('1', 5, undefined, 'stage'), feed('2', 7));
    return within.counts();
  };
  expect(feedLines(sumOfFeeds([...counted(20), ...counted(30)]))).toEqual([
    'OSC to input tracking: trackers 1 and 2, 64 positions',
    'PosiStageNet to input stage: tracker 1, 10 positions',
    'tracker 1 had 2 senders: input tracking (50) and input stage (10)',
  ]);
});

test('who is refused is named beside those who are heard, where the address is known', () => {
  const refused = { reason: 'sender-not-allowed', count: 412, what: 'a machine' };
  expect(
    refusedLines([
      { ...refused, from: '10.0.0.9' },
      refused,
      { reason: 'no-route', count: 1, from: '10.0.0.7' },
    ]),
  ).toEqual([
    'refused: 412 datagrams, the last from 10.0.0.9, which `allow` of the input does not name',
  ]);
});
