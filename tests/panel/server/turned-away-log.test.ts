import { expect, it } from 'vitest';
import { turnedAwayInWords } from '../../../src/live/turned-away.js';
import { TurnedAwayLog } from '../../../src/panel/server/turned-away-log.js';

function log() {
  const clock = { s: 0 };
  return {
    clock,
    log: new TurnedAwayLog(
      () => clock.s,
      () => 1000 + clock.s,
    ),
  };
}

it('tells at once of what is turned away, and then every ten seconds, with what has come since', () => {
  const { clock, log: away } = log();
  expect(away.news()).toBeUndefined();
  for (let i = 0; i < 3; i++) away.note('token wrong', '10.0.0.9');
  expect(away.news()?.since).toEqual([
    { reason: 'token wrong', count: 3, from: '10.0.0.9', lastS: 1000 },
  ]);
  for (let i = 0; i < 1000; i++) away.note('too many tries', '10.0.0.7');
  clock.s = 9.9;
  expect(away.news()).toBeUndefined();
  clock.s = 10;
  const news = away.news();
  expect(news?.since.map(({ reason, count }) => [reason, count])).toEqual([
    ['too many tries', 1000],
  ]);
  expect(news?.all.map(({ reason, count }) => [reason, count])).toEqual([
    ['token wrong', 3],
    ['too many tries', 1000],
  ]);
  clock.s = 30;
  expect(away.news()).toBeUndefined();
});

it('counts what is told to whoever asked, and tells of it only beside something else', () => {
  const { log: away } = log();
  away.note('not found', '10.0.0.9');
  away.note('gone', '10.0.0.8');
  expect(away.news()).toBeUndefined();
  away.note('too many connections', '10.0.0.9');
  expect(away.news()?.all).toHaveLength(3);
});

it('says in words how many of what, and from where the last one came', () => {
  const lastS = 1;
  expect(turnedAwayInWords([{ reason: 'token wrong', count: 1, lastS }])).toBe('1 wrong token');
  expect(
    turnedAwayInWords([
      { reason: 'token wrong', count: 10, from: '10.0.0.9', lastS: 5 },
      { reason: 'too many tries', count: 2, from: '10.0.0.8', lastS: 6 },
      { reason: 'too many streams', count: 1, from: '10.0.0.7', lastS: 4 },
      { reason: 'gone', count: 9, from: '10.0.0.6', lastS: 9 },
    ]),
  ).toBe('12 wrong tokens and 1 viewer (no place left), the last from 10.0.0.8');
  expect(turnedAwayInWords([{ reason: 'not found', count: 4, lastS }])).toBe('');
});
