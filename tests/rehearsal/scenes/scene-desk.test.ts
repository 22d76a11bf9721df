import { expect, test } from 'vitest';
import { rehearse } from '../../../src/rehearsal/rehearse.js';
import { parseScene } from '../../../src/rehearsal/scenes/scene-file.js';
import { SOLO } from '../../engine/shows.js';
import { showOf } from '../../show/show-of.js';

const SHOW = showOf(`${SOLO.replace(
  'mappings:',
  'signals: { glow: { slot: [control, 4] } }\nmappings:\n  - { by: glow, fixtures: [stove-glow], set: { Dimmer: 100 }, fade: { in: 0, out: 0 } }',
)}desk: { control: { protocol: sacn, universe: 201, interface: eth1, gone: 0 } }
orders: [{ slot: [control, 2], stop: everybody }]
`);
const parse = (desk: string) =>
  parseScene(
    `lampwright: 1\nscene: desk\nlength: 8\ndesk:\n${desk}performers:\n  ines: { path: [{ at: 0, place: [8, 2] }] }\n`,
    'a.scene.yaml',
    SHOW,
    () => ({ ok: false, why: 'none' }),
  );

test('a scene says what the desk says, and when it is gone', () => {
  const read = parse(
    '  control: [{ at: 0 }, { at: 3, slots: { 4: 153 } }, { at: 5, slots: { 2: 255 } }, { at: 6, gone: true }]\n',
  );
  if (!read.ok) throw new Error(read.problems[0]?.message);
  const glow: number[] = [];
  const said: string[] = [];
  rehearse(
    SHOW,
    read.scene,
    { startS: 1000, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 },
    {
      ticked: ({ tick, levels, events }) => {
        if (tick % 40 === 39) glow.push(levels[0] as number);
        for (const event of events) if (event.kind === 'stopped') said.push(`${event.by} ${tick}`);
      },
    },
  );
  // The base of 8 per cent, what the slot says, and the safe value of 20 per cent, where the stop takes it.
  expect(glow[2]).toBe(20);
  expect(glow[4]).toBe(153);
  expect(glow[7]).toBe(51);
  expect(said).toEqual(['desk control 200']);
});

test.for([
  ['  contrl: [{ at: 0 }]\n', 'the show hears no desk universe "contrl". Did you mean "control"?'],
  ['  control: [{ at: 2 }, { at: 1 }]\n', 'times must rise: this one must be at least 2.'],
  ['  control: [{ at: 2, slots: { 513: 1 } }]\n', 'a slot from 1 to 512'],
  ['  control: [{ at: 2, slots: { 4: 256 } }]\n', '255'],
] as const)('a slip is named: %s', ([desk, says]) => {
  const read = parse(desk);
  expect(read.ok ? [] : read.problems.map(({ message }) => message)).toContainEqual(
    expect.stringContaining(says),
  );
});
