import { describe, expect, it } from 'vitest';
import { outsideOf, TrackerSilences } from '../../../src/reporting/measures/tracker-silences.js';

const silent = (tracker: string, silentForS?: number) =>
  ({
    kind: 'tracker-contact', tracker, performer: 'dov', heard: false, silentForS, others: ['90'],
  }) as const; // biome-ignore format: an event
const heard = (tracker: string) => ({ ...silent(tracker), heard: true });
const frozen = (tracker: string, is: boolean) =>
  ({ kind: 'tracker-frozen', tracker, performer: 'dov', frozen: is }) as const;
const stretches = ({ all }: TrackerSilences) =>
  all.map(({ how, fromS, untilS }) => [how, fromS, untilS]);

describe('the silence of one tracker of a pair', () => {
  it('lasts from its last report to when it was first heard again, not when that was believed', () => {
    const silences = new TrackerSilences();
    silences.contact(silent('41', 2), false, 100, 0);
    expect(silences.beganOf('41')).toBe(98);
    silences.contact({ ...heard('41'), heardForS: 1 }, false, 130, 0);
    expect(stretches(silences)).toEqual([['silent', 98, 129]]);
    expect(silences.beganOf('41')).toBeUndefined();
  });

  it('ends when it is taken off', () => {
    const silences = new TrackerSilences();
    silences.contact(silent('41', 2), false, 100, 0);
    silences.moved('41', 140);
    silences.contact(heard('41'), false, 200, 0);
    expect(stretches(silences)).toEqual([['silent', 98, 140]]);
  });

  it('of a spare begins when it is worn: its time on the table does not count', () => {
    const silences = new TrackerSilences();
    silences.moved('41', 90);
    silences.contact(silent('41', 30), false, 92, 0);
    silences.moved('41', 102);
    expect(stretches(silences)).toEqual([['silent', 90, 102]]);
  });

  it('that goes on under the next engine is one silence; else it ended with the one before', () => {
    const silences = new TrackerSilences();
    silences.contact(silent('41', 2), false, 100, 0);
    silences.contact(silent('42', 2), false, 100, 0);
    silences.restart(120);
    // What the next engine says of it has been told; but not that one fell silent again.
    expect(silences.isTold(silent('41'))).toBe(true);
    expect(silences.isTold(silent('42', 2))).toBe(false);
    expect(silences.isTold(silent('43'))).toBe(false);
    silences.contact(silent('41'), false, 123, 121);
    silences.contact(silent('42', 2), false, 150, 121);
    expect(stretches(silences)).toEqual([
      ['silent', 98, undefined],
      ['silent', 98, 120],
      ['silent', 148, undefined],
    ]);
  });

  it('follows its being frozen where it dies then, and the other way round', () => {
    const silences = new TrackerSilences();
    silences.frozen(frozen('41', true), false, 100);
    expect(silences.frozenOf('dov')).toEqual(['41']);
    silences.contact(silent('41', 2), false, 112, 0);
    expect(silences.frozenOf('dov')).toEqual([]);
    silences.frozen(frozen('41', true), false, 120);
    silences.frozen(frozen('41', false), false, 130);
    expect(stretches(silences)).toEqual([
      ['frozen', 100, 110],
      ['silent', 110, 120],
      ['frozen', 120, 130],
    ]);
  });

  it('counts as followed by another but for the losses of its performer', () => {
    const losses = [
      { atS: 90, forS: 15 },
      { atS: 120, forS: 5 },
      { atS: 160, forS: 5 },
    ];
    expect(outsideOf(100, 130, losses)).toBe(20);
    expect(outsideOf(100, 130, [])).toBe(30);
  });
});
