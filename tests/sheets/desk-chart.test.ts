import { expect, test } from 'vitest';
import { deskChart, deskChartCsv } from '../../src/sheets/desk-chart.js';
import { SOLO } from '../engine/shows.js';
import { showOf } from '../show/show-of.js';

const SHOW = showOf(`${SOLO.replace(
  'fixtures:\n',
  'fixtures:\n  haze: { profile: dimmer, universe: 1, address: 400, hazard: atmospheric }\n',
).replace(
  'mappings:',
  `signals:
  sea: { slot: [control, 4] }
  fader: { slot: [control, 11], gone: 0 }
  wide: { slot: [control, 21, 23], gone: unknown }
conditions: { high: { signal: sea, on: 0.5 } }
groups: { all: [stove-glow, head] }
masters: [{ fixtures: [all], by: wide }]
cues: { one: { label: First }, two: {} }
mappings:
  - { name: swell, by: sea, master: fader, fixtures: [stove-glow], set: { Dimmer: 50 } }`,
)}desk:
  control: { protocol: sacn, universe: 201, interface: eth1 }
  stage: { protocol: artnet, universe: 3, interface: eth2, ground: 1 }
orders:
  - { slot: [control, 1], cue: number }
  - { slot: [control, 2], cue: next }
  - { slot: [control, 3], stop: everybody }
  - { slot: [control, 5], off: ines, held: true }
  - { slot: [control, 6], enable: atmospheric }
  - { slot: [control, 7], cue: one }
`);

test('slot by slot what the desk drives, and what is left of it without the desk', () => {
  const { universes, cues } = deskChart(SHOW);
  expect(universes.map(({ name, ground, slots }) => [name, ground, slots.length])).toEqual([
    ['control', null, 9],
    ['stage', 1, 0],
  ]);
  expect(universes[0]?.slots.map(({ slot, fine, does, gone }) => [slot, fine, does, gone])).toEqual(
    [
      [1, null, 'cue whose number is the level', 'stays as it was'],
      [2, null, 'cue next, when it rises through 50 %', 'stays as it was'],
      [3, null, 'stops everybody, when it rises through 50 %', 'stays as it was'],
      [4, null, 'signal sea: drives swell; condition high', 'stays as it was'],
      [5, null, 'sends ines off stage, while above a half', 'stays as it was'],
      [6, null, 'enables atmospheric, while above a half', 'released: drops at once'],
      [7, null, 'cue First, when it rises through 50 %', 'stays as it was'],
      [11, null, 'signal fader: master of swell', 'goes to 0 %'],
      [21, 23, 'signal wide: master over stove-glow and head', 'unknown: to safe values'],
    ],
  );
  expect(cues).toEqual([
    { number: 1, name: 'one', label: 'First' },
    { number: 2, name: 'two', label: 'two' },
  ]);
});

test('as a table, in quotes where a comma stands in it', () => {
  const lines = deskChartCsv(deskChart(SHOW)).split('\r\n');
  expect(lines[0]).toBe('name,protocol,universe,slot,fine,does,desk gone');
  expect(lines[2]).toBe(
    'control,sacn,201,2,,"cue next, when it rises through 50 %",stays as it was',
  );
  expect(lines).toHaveLength(11);
});
