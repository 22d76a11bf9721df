import { expect, test } from 'vitest';
import type { Loss } from '../../src/reporting/causes/loss-causes.js';
import { Histogram } from '../../src/reporting/measures/histogram.js';
import { makeReport, type ReportSource } from '../../src/reporting/report.js';
import type { SessionStatistics } from '../../src/reporting/session-statistics.js';
import type { Report } from '../../src/reporting/words/report-data.js';

/** Followed from 100 s to 200 s; ines and tobias. */
const END_S = 200;

const one = (name: string, more: object) => ({
  ...{ name, label: `The ${name}`, trackers: new Map([['7', 40]]), verdicts: {}, stretches: [] },
  ...{
    firstS: 100,
    sinceS: 100,
    followedS: 80,
    confidenceS: 90,
    reports: 0,
    offStageReports: 0,
    stops: 0,
  },
  path: { stretches: () => [] },
  ...more,
});

const loss = (atS: number, untilS: number | undefined, performer = 'ines') =>
  ({
    ...{ performer, atS, untilS, frozen: [], reason: undefined, x: 1, y: 1, place: 'stove' },
    doubtsS: new Map(),
    steps: [{ atS, cause: 'tracker-silent', why: 'silent' }],
  }) satisfies Loss;

const cell = (x: number, weakS: number, losses: number) => ({
  x,
  y: 2,
  heldS: 10,
  weakS,
  losses,
  reports: 5,
  gated: 0,
});

/** What was counted, but for what is said here. */
function reportOf(counted: object, source: Partial<ReportSource> = {}): Report {
  const statistics = {
    ...{ show: { name: 'The Salt Lantern' }, lastFollowedS: END_S, losses: [] },
    ...{ performers: [one('ines', {})], offStage: { all: [] }, cues: { all: [] } },
    ...{ grid: { cellM: 1, cells: () => [] }, silences: { all: [] }, lowBatteries: new Map() },
    ...{ handOvers: { heads: () => [], without: () => [] }, keepOuts: { all: () => [] } },
    outside: { all: () => [] },
    ticks: { latency: new Histogram(), length: new Histogram(), count: 4000, late: 0 },
    ...{ actions: { all: () => [] }, unreachedS: new Map() },
    ...counted,
  };
  return makeReport(
    statistics as unknown as SessionStatistics,
    {
      ...{ version: '1', node: '20', fromS: 100, toS: END_S, unixOffsetS: 0, notes: [] },
      at: atS => `${atS} s`,
      counts: { drops: {}, duplicates: 0, outOfOrder: 0, invalid: 0 },
      ...source,
    },
    x => (x < 3 ? 'left' : x < 6 ? 'centre' : 'right'),
  );
}

test('who is lost with the last of all has gone home, and is no loss; who was lost before is, to the end', () => {
  const losses = [loss(150, 153), loss(END_S - 4, undefined), loss(END_S, undefined, 'tobias')];
  const report = reportOf({ losses, performers: [one('ines', {}), one('tobias', {})] });
  expect(report.losses.map(({ atS, forS, untilS }) => [atS, forS, untilS])).toEqual([
    [150, 3, 153],
    [END_S - 4, 4, undefined],
  ]);
  expect(report.performers.map(each => [each.losses, each.longestLossS])).toEqual([
    [2, 4],
    [0, 0],
  ]);
});

test('how well each was followed, of the time since they were heard first', () => {
  const counted = { reports: 4000, offStageReports: 1000, verdicts: { gated: 400 } };
  const [ines, gull] = reportOf(
    { performers: [one('ines', counted), one('gull', { firstS: undefined, sinceS: 0 })] },
    { absent: new Set(['gull']) },
  ).performers;
  expect(ines).toMatchObject({
    ...{ availability: 0.8, meanConfidence: 0.9, reportHz: 30, gatedShare: 0.1 },
    ...{ expected: true, trackers: [{ id: '7', reports: 40 }] },
  });
  expect(gull).toMatchObject({ availability: Number.NaN, reportHz: 0, expected: false });
});

test('what nobody could use: the most first, by whom where that is known', () => {
  const counts = {
    ...{ drops: { 'no-route': 3, 'not-osc': 0 }, duplicates: 9, outOfOrder: 1, invalid: 0 },
    from: { 'no-route': '10.0.0.5' },
  };
  expect(reportOf({}, { counts }).dropped).toEqual([
    { reason: 'duplicate', count: 9, what: expect.stringContaining('sent twice') },
    {
      ...{ reason: 'no-route', count: 3, from: '10.0.0.5' },
      what: 'messages with an address that no route of the show has',
    },
    { reason: 'out-of-order', count: 1, what: 'older than the track remembers' },
  ]);
});

test('weak places are summed by name, a loss weighs as 2 s, and each is where it is worst', () => {
  const cells = [cell(1, 1, 0), cell(2, 2, 1), cell(4, 4.5, 0), cell(7, 0.4, 0), cell(8, 0, 0)];
  const { weakest } = reportOf({ grid: { cellM: 1, cells: () => cells } }).places;
  expect(weakest).toEqual([
    { place: 'left', x: 2, y: 2, heldS: 20, weakS: 3, losses: 1 },
    { place: 'centre', x: 4, y: 2, heldS: 10, weakS: 4.5, losses: 0 },
  ]);
});

test('silences of one tracker of several count within the show, and what of it another one was followed', () => {
  const silence = (fromS: number, untilS: number | undefined, isOnly = false) => ({
    ...{ tracker: '7', performer: 'ines', how: 'silent', fromS, untilS, isOnly },
  });
  const all = [
    silence(90, 110),
    silence(120, 130, true),
    silence(195, undefined),
    silence(201, 210),
  ];
  const report = reportOf({
    silences: { all },
    losses: [loss(104, 107), loss(105, 108, 'tobias')],
  });
  expect(
    report.trackerSilences.map(({ fromS, forS, followedS }) => [fromS, forS, followedS]),
  ).toEqual([
    [100, 10, 7],
    [195, 5, 5],
  ]);
});

test('what comes after the show is said, but for the fade of a daemon that stops', () => {
  const notes = (source: Partial<ReportSource>) =>
    reportOf({}, { notes: ['first'], ...source }).notes;
  expect(notes({ toS: END_S + 0.9 })).toEqual(['first']);
  expect(notes({ toS: END_S + 60 })).toEqual([
    'first',
    expect.stringMatching(/^From 200 s to the end \(1:00 min\) nobody was followed: /),
  ]);
  expect(notes({ toS: END_S + 60, stoppingS: END_S + 0.5 })).toEqual(['first']);
  expect(notes({ goneS: 150 })[0]).toMatch(
    /^The daemon was gone from 150 s, and did not end cleanly: /,
  );
});
