import { expect, it } from 'vitest';
import { keepEvent, timesInWords } from '../../src/live/events.js';
import type { LiveEvent } from '../../src/live/schema.js';

const event = (atS: number, text: string, what = 'zone'): LiveEvent => {
  return { kind: 'event', atS, level: 'info', text, what };
};
const clock = (unixS: number) => `0:0${unixS}`;

it('makes one of what is refused again and again, whatever lies between', () => {
  const events: LiveEvent[] = [];
  for (let i = 0; i < 7; i++) {
    keepEvent(events, event(i, 'cue nope refused', 'operator-refused'));
    if (i === 3) keepEvent(events, event(i, 'Ines enters stove'));
  }
  expect(events.map(one => [one.text, one.atS, timesInWords(one, clock)])).toEqual([
    ['Ines enters stove', 3, undefined],
    ['cue nope refused', 6, '7 times since 0:00'],
  ]);
});

it('keeps apart what happens again later, and takes a count from whoever has counted', () => {
  const events: LiveEvent[] = [];
  for (const [atS, text] of [
    [1, 'Ines enters'],
    [2, 'Ines leaves'],
    [3, 'Ines enters'],
  ] as const) {
    expect(keepEvent(events, event(atS, text))).toBeUndefined();
  }
  expect(events).toHaveLength(3);
  expect(keepEvent(events, event(4, 'Ines enters'))?.atS).toBe(3);
  expect(events.at(-1)).toMatchObject({ times: 2, firstS: 3 });
  keepEvent(events, { ...event(5, 'Ines enters'), times: 9, firstS: 0 });
  expect(events.at(-1)).toMatchObject({ times: 9, firstS: 0 });
});

it('makes one of a stop of everybody and what comes of it for each', () => {
  const events: LiveEvent[] = [];
  const goes = (atS: number, who: string, how: string) =>
    keepEvent(events, event(atS, `${who}: fading (${how}), confidence 0.00`, 'performer'));
  expect(goes(0, 'Ines', 'operator stop')).toBeUndefined();
  keepEvent(events, event(1, 'everybody stopped by the panel.', 'stopped'));
  keepEvent(events, event(1, 'Ines leaves stove'));
  const stop = goes(1, 'Ines', 'operator stop');
  goes(3, 'Tobias', 'operator stop');
  goes(4, 'The Gull', 'tracker silent');
  expect(stop?.text).toBe('everybody stopped by the panel.');
  expect(events.map(({ what }) => what)).toEqual(['performer', 'zone', 'stopped', 'performer']);
});
