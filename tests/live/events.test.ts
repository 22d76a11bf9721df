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

it('makes one line of each kind of drop, and of what each output could not send, with the newest numbers', () => {
  const events: LiveEvent[] = [];
  const dropped = (count: number, from: string) =>
    `input dropped: ${count} ${count === 1 ? 'datagram' : 'datagrams'} of a length that no OSC packet has (last: from ${from}); ${count} messages with an address that no route of the show has (last: /a(b) from ${from})`;
  const unsent = (output: string, count: number) =>
    `output "${output}": ${count} packets could not be sent from 10.3.0.5: send ENETUNREACH 10.99.0.1:5568`;
  for (let i = 0; i < 6; i++) {
    keepEvent(events, event(10 * i, dropped(30 + i, `10.1.0.${i}`), 'dropped'));
    keepEvent(events, event(10 * i + 1, unsent('extra 1', 2000 + i), 'send-failed'));
    if (i === 2) keepEvent(events, event(10 * i + 2, 'The Gull is lost', 'performer'));
    keepEvent(events, event(10 * i + 3, unsent('extra 2', 7 + i), 'send-failed'));
  }
  keepEvent(events, event(60, 'input dropped: 1 message with too many arrays', 'dropped'));
  keepEvent(events, event(70, 'input dropped: 2 messages with too many arrays', 'dropped'));
  expect(events.map(one => [one.text, one.times])).toEqual([
    ['The Gull is lost', undefined],
    [dropped(35, '10.1.0.5'), 6],
    [unsent('extra 1', 2005), 6],
    [unsent('extra 2', 12), 6],
    ['input dropped: 2 messages with too many arrays', 2],
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
