import { expect, test } from 'vitest';
import { DeskNotes } from '../../../src/daemon/status/desk-notes.js';
import { SOLO } from '../../engine/shows.js';
import { showOf } from '../../show/show-of.js';

const SHOW = showOf(`${SOLO}desk:
  control: { protocol: sacn, universe: 201, interface: eth1 }
  stage: { protocol: artnet, universe: 3, interface: eth1, ground: 1, gone: 0 }
orders: [{ slot: [control, 3], stop: everybody }]
`);
const iso = (atS: number) => `at ${atS}`;

test('who is heard since when, what is left of one that is gone, and what its slots do', () => {
  const notes = new DeskNotes();
  notes.take(SHOW, { ...SHOW, desk: [] }, 10);
  expect(notes.status(SHOW, iso).map(({ state, since }) => [state, since])).toEqual([
    ['not heard', 'at 10'],
    ['not heard', 'at 10'],
  ]);
  const source = { name: 'a desk', address: '10.0.0.5', priority: 100, leads: true };
  notes.hear({ kind: 'desk-heard', input: 'control', sources: [source] }, 12);
  notes.hear({ kind: 'desk-heard', input: 'stage', sources: [source] }, 12);
  notes.hear({ kind: 'desk-gone', input: 'stage', ended: false, gone: 0, last: source }, 20);
  const [control, stage] = notes.status(SHOW, iso);
  expect(control).toMatchObject({ state: 'heard', since: 'at 12', sources: [source] });
  expect(control?.slots).toEqual([
    {
      slot: 3,
      fine: null,
      kind: 'stop',
      does: 'stops everybody, when it rises through 50 %',
      gone: 'stays as it was',
    },
  ]);
  expect(control).not.toHaveProperty('gone');
  expect(stage).toMatchObject({
    state: 'gone',
    since: 'at 20',
    sources: [],
    gone: 'its levels go to 0 %',
    ground: 1,
    slots: [],
  });
});
