import { expect, test } from 'vitest';
import type { OperatorAction } from '../../../src/engine/values/operator-action.js';
import { rehearse } from '../../../src/rehearsal/rehearse.js';
import { parseScene } from '../../../src/rehearsal/scenes/scene-file.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

const SHOW = showOf(configShow('salt-lantern'));
const parse = (orders: string) =>
  parseScene(
    `lampwright: 1\nscene: off\nlength: 16\norders:\n${orders}\nperformers:
  ines: { path: [{ at: 0, place: window }] }
  gull: { path: [{ at: 0, place: [5, 5] }], losses: [{ from: 7, to: 16 }] }\n`,
    'a.scene.yaml',
    SHOW,
    () => ({ ok: false, why: 'none' }),
  );

test('who is sent off in a scene is absent and not lost, and on stage again in the next evening', () => {
  const read = parse('  - { at: 6, off: gull }');
  if (!read.ok) throw new Error(read.problems[0]?.message);
  const phases: string[] = [];
  const given: [number, OperatorAction][] = [];
  const lost = new Set<string>();
  rehearse(
    SHOW,
    read.scene,
    { startS: 1000, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 2 },
    {
      intake: (tick, _, __, operator) =>
        given.push(...operator.map((one): [number, OperatorAction] => [tick, one])),
      ticked: ({ view, tick, events }) => {
        if (tick % 40 === 0) phases.push(view.performers[2]?.phase ?? '');
        for (const event of events) {
          if (event.kind === 'performer' && event.to === 'losing') lost.add(event.performer);
        }
      },
    },
  );
  expect(given.map(([tick, { kind }]) => [tick / 40, kind])).toEqual([
    [6, 'off'],
    [16, 'cue'],
    [16, 'off'],
    [22, 'off'],
  ]);
  expect(given[2]?.[1]).toMatchObject({ performer: 'gull', away: true });
  // Second by second; in the second evening she is heard again from the beginning.
  expect(phases[5]).toBe('live');
  expect(phases.slice(7, 16).every(phase => phase === 'off')).toBe(true);
  expect(phases[21]).toBe('live');
  expect(phases.slice(23).every(phase => phase === 'off')).toBe(true);
  expect([...lost]).not.toContain('gull');
});

test('without the order the same scene loses them', () => {
  const read = parse('  - { at: 6, off: gull }\n  - { at: 6.5, on: gull }');
  if (!read.ok) throw new Error(read.problems[0]?.message);
  const lost: string[] = [];
  rehearse(
    SHOW,
    read.scene,
    { startS: 1000, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 },
    {
      ticked: ({ events }) => {
        for (const event of events) {
          if (event.kind === 'performer' && event.cause === 'tracker-silent')
            lost.push(event.performer);
        }
      },
    },
  );
  expect(lost).toContain('gull');
});

test('orders that can not be carried out are refused, all at once and where they stand', () => {
  const read = parse(
    '  - { at: 5, off: gul }\n  - { at: 4, on: everybody }\n  - { at: 6 }\n  - { at: 7, off: ines, on: gull }',
  );
  expect(read.ok ? [] : read.problems.map(one => `${one.line} ${one.code} ${one.message}`)).toEqual(
    [
      '5 unknown-name the show has no performer "gul". Did you mean "gull"? It takes "ines", "tobias", "gull" or "everybody".',
      '6 bad-value times must rise: this one must be at least 5.',
      '7 missing-key an order says who goes "off" the stage, or is "on" it again, or which head to "pin" to whom, or to "unpin".',
      '8 bad-value an order has "off" or "on", not both: make it two.',
    ],
  );
});

const DANCE = showOf(configShow('low-water'));
const dance = (orders: string) =>
  parseScene(
    `lampwright: 1\nscene: pins\nlength: 14\norders:\n${orders}\nperformers:
  mara: { path: [{ at: 0, place: [3, 3] }] }
  ilja: { path: [{ at: 0, place: [10, 4] }] }\n`,
    'pins.scene.yaml',
    DANCE,
    () => ({ ok: false, why: 'none' }),
  );

test('a head that is pinned in a scene is on them until it is let go, and in the next evening chooses anew', () => {
  const read = dance('  - { at: 5, pin: [left-2, mara] }\n  - { at: 11, unpin: left-2 }');
  if (!read.ok) throw new Error(read.problems[0]?.message);
  const on: (string | undefined)[] = [];
  const told: [number, string | undefined][] = [];
  rehearse(
    DANCE,
    { ...read.scene, orders: (read.scene.orders ?? []).slice(0, 1) },
    { startS: 1000, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 2 },
    {
      ticked: ({ tick, events, view }) => {
        for (const event of events) if (event.kind === 'pin') told.push([tick, event.performer]);
        const left = view.fixtures.find(({ plan }) => plan.name === 'left-2');
        if (tick % 560 === 400) on.push(left?.choice?.performer);
      },
    },
  );
  expect(on).toEqual(['mara', 'mara']);
  expect(told).toEqual([
    [200, 'mara'],
    [560, undefined],
    [760, 'mara'],
  ]);
  expect(read.scene.orders?.map(({ action }) => action)).toMatchObject([
    { kind: 'pin', fixture: 'left-2', performer: 'mara' },
    { kind: 'pin', fixture: 'left-2', performer: undefined },
  ]);
});

test('heads and people that can not be pinned are refused, with what would be right', () => {
  const read = dance(
    '  - { at: 1, pin: [left2, mara] }\n  - { at: 2, pin: [front-1, marra] }\n  - { at: 3, unpin: back-1 }',
  );
  const heads =
    'These do: "front-1", "front-2", "front-3", "front-4", "right-1", "right-2", "left-1", "left-2" or "back-2".';
  expect(read.ok ? [] : read.problems.map(one => `${one.line} ${one.code} ${one.message}`)).toEqual(
    [
      `5 unknown-name "left2" is not a head that chooses whom it follows. Did you mean "left-2"? ${heads}`,
      '6 unknown-name "front-1" can\'t follow "marra": its mapping doesn\'t list them. Did you mean "mara"? It lists "mara", "ilja", "noor", "pim", "sava", "tomas", "wen" or "yara".',
      `7 unknown-name "back-1" is not a head that chooses whom it follows. Did you mean "back-2"? ${heads}`,
    ],
  );
});

test('a cue among the orders is told where cues go', () => {
  const read = parse('  - { at: 5, cue: dusk }');
  expect(read.ok ? [] : read.problems.map(({ message }) => message)).toContainEqual(
    expect.stringMatching(
      /^"cue" is not a key .* Cues go under "cues": \[\{ at: 5, cue: next \}\]\.$/,
    ),
  );
});
