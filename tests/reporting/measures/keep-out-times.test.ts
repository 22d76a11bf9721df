import { expect, it } from 'vitest';
import { KeepOutTimes } from '../../../src/reporting/measures/keep-out-times.js';
import { keepOutInWords } from '../../../src/reporting/words/words.js';

it('adds up by head and keep-out, the longest in all first', () => {
  const times = new KeepOutTimes();
  const dark = (fixture: string, keepOut: string, fromS: number, untilS: number) => {
    times.hear(fixture, { keepOut, barred: true }, fromS);
    times.hear(fixture, { keepOut, barred: false }, untilS);
  };
  dark('back 1', 'house', 10, 19);
  dark('back 1', 'house', 30, 70);
  dark('back 2', 'pit', 5, 6);
  // From one into the next; and one that lasts to the end.
  times.hear('back 1', { keepOut: 'house', barred: true }, 80);
  times.hear('back 1', { keepOut: 'pit', barred: true }, 83);
  const all = times.all(90);
  expect(all).toEqual([
    { fixture: 'back 1', keepOut: 'house', times: 3, forS: 52, longestS: 40 },
    { fixture: 'back 1', keepOut: 'pit', times: 1, forS: 7, longestS: 7 },
    { fixture: 'back 2', keepOut: 'pit', times: 1, forS: 1, longestS: 1 },
  ]);
  expect(all.map(keepOutInWords)).toEqual([
    'back 1: 3 times, 52.0 s in all, 40.0 s at most; its beam would have touched the keep-out house',
    'back 1: once, for 7.0 s; its beam would have touched the keep-out pit',
    'back 2: once, for 1.0 s; its beam would have touched the keep-out pit',
  ]);
});

it('an engine that has gone ends what was dark', () => {
  const times = new KeepOutTimes();
  times.hear('back 1', { keepOut: 'house', barred: true }, 10);
  times.engineEnds(12);
  expect(times.all(90)).toEqual([
    { fixture: 'back 1', keepOut: 'house', times: 1, forS: 2, longestS: 2 },
  ]);
});
