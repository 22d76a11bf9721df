import { describe, expect, it } from 'vitest';
import { TrackerSilences } from '../../src/reporting/tracker-silences.js';

const silent = (tracker: string, silentForS?: number) =>
  ({
    kind: 'tracker-contact', tracker, performer: 'dov', heard: false, silentForS, others: ['90'],
  }) as const; // biome-ignore format: an event
const heard = (tracker: string) => ({ ...silent(tracker), heard: true });
const stretches = ({ all }: TrackerSilences) => all.map(({ fromS, untilS }) => [fromS, untilS]);

describe('the silence of one tracker of a pair', () => {
  it('lasts from its last report to when it is heard again', () => {
    const silences = new TrackerSilences('silent');
    silences.contact(silent('41', 2), 100, 0);
    silences.contact(heard('41'), 130, 0);
    expect(stretches(silences)).toEqual([[98, 130]]);
  });

  it('does not count while the performer is lost, and ends when it is taken off', () => {
    const silences = new TrackerSilences('silent');
    silences.contact(silent('41', 2), 100, 0);
    silences.lost('dov', 110);
    silences.returned('dov', 125);
    silences.moved('41', 140);
    silences.contact(heard('41'), 200, 0);
    expect(stretches(silences)).toEqual([
      [98, 110],
      [125, 140],
    ]);
  });

  it('begins with the return of who was lost with it as their only one', () => {
    const silences = new TrackerSilences('silent');
    silences.lost('dov', 80);
    // A spare is given to them: only now is it one of several.
    silences.contact(silent('41', 20), 100, 0);
    silences.returned('dov', 102);
    silences.restart(150);
    expect(stretches(silences).filter(([fromS, untilS]) => fromS !== untilS)).toEqual([[102, 150]]);
  });
});

describe('what is told of a silence', () => {
  it('ends when the tracker was first heard again, not when that was believed', () => {
    const silences = new TrackerSilences('silent');
    silences.contact(silent('41', 2), 100, 0);
    expect(silences.beganOf('41')).toBe(98);
    silences.contact({ ...heard('41'), heardForS: 1 }, 130, 0);
    expect(stretches(silences)).toEqual([[98, 129]]);
    expect(silences.beganOf('41')).toBeUndefined();
  });

  it('of a spare begins when it is worn: its time on the table does not count', () => {
    const silences = new TrackerSilences('silent');
    silences.moved('41', 90);
    silences.contact(silent('41', 30), 92, 0);
    silences.moved('41', 102);
    expect(stretches(silences)).toEqual([[90, 102]]);
  });
});
