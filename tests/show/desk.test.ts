import { expect, test } from 'vitest';
import { changed, MINIMAL } from './base.js';
import { showOf } from './show-of.js';

const DESK = `desk:
  control: { protocol: sacn, universe: 201, interface: eth1 }
  stage: { protocol: artnet, universe: 3, interface: eth1, gone: 0, ground: 1, fade: 4 }
`;

test('universes of the desk as the daemon and the engine take them', () => {
  expect(showOf(`${MINIMAL}${DESK}`).desk).toEqual([
    {
      name: 'control',
      protocol: 'sacn',
      universe: 201,
      interface: 'eth1',
      gone: 'hold',
      goneApart: [],
      leavesSafe: false,
      ground: undefined,
      fadeS: 2,
    },
    {
      name: 'stage',
      protocol: 'artnet',
      universe: 3,
      interface: 'eth1',
      gone: 0,
      goneApart: [],
      leavesSafe: false,
      ground: 0,
      fadeS: 4,
    },
  ]);
});

test('what becomes of signals with a `gone` of their own, and of fixtures with `ground: safe`, when the desk is gone', () => {
  const signals = `signals:
  rack: { slot: [control, 4], gone: 1 }
  train: { slot: [control, 5, 6], gone: unknown }
  same: { slot: [control, 7], gone: hold }
  plain: { slot: [control, 8] }
`;
  const text = changed('profile: moving-head,', 'profile: moving-head, ground: safe,');
  const [control, stage] = showOf(`${text}${DESK}${signals}`).desk;
  expect(control).toMatchObject({
    goneApart: [
      { signal: 'rack', gone: 1 },
      { signal: 'train', gone: 'unknown' },
    ],
    leavesSafe: false,
  });
  expect(stage).toMatchObject({ goneApart: [], leavesSafe: true });
});

test('which slots are ours, and a synchronization address, are in the plan only where they are asked for', () => {
  const [plain] = showOf(MINIMAL).outputs;
  expect(plain?.universes).toEqual([{ index: 0, onWire: 1 }]);
  expect(plain).not.toHaveProperty('sync');
  const text = changed('universes: [1] }', 'universes: [1], addressPriority: true, sync: 7962 }');
  const [asked] = showOf(text).outputs;
  // A dimmer at 1, and a head of 16-bit Pan, Tilt, Dimmer and Zoom at 11.
  expect(asked?.universes[0]?.ours?.[0]).toEqual([0, 1]);
  expect(asked?.universes[0]?.ours?.[1]?.[0]).toBe(10);
  expect(asked).toMatchObject({ sync: 7962 });
  // Over a desk we pass its slots on: they are ours to send, too.
  const [passing] = showOf(`${text}${DESK}`).outputs;
  expect(passing?.universes[0]?.ours).toEqual([[0, 512]]);
});

test.for([
  ['safe', ['safe', 'safe', 'safe', 'safe']],
  ['scale', ['ours', 'ours', 'scale', 'ours']],
  ['[Dimmer, Zoom]', ['ours', 'ours', 'desk', 'desk']],
  ['[target, beam]', ['desk', 'desk', 'ours', 'desk']],
  ['{ desk: [beam, Dimmer], safe: [target] }', ['safe', 'safe', 'desk', 'desk']],
  ['{ desk: [Zoom], safe: [Pan, Tilt], scale: [Dimmer] }', ['safe', 'safe', 'scale', 'desk']],
] as const)('ground %s of a head with Pan, Tilt, Dimmer and Zoom', ([ground, uses]) => {
  const text = changed('profile: moving-head,', `profile: moving-head, ground: ${ground},`);
  const show = showOf(`${text}${DESK}`);
  expect(show.fixtures.map(({ ground: all }) => all)).toEqual([['ours'], uses]);
});

test('`colour` is all that makes the colour, and a hazardous channel stays ours', () => {
  const text = changed(
    '  head: { profile: moving-head',
    '  bar: { profile: rgb, universe: 1, address: 101, ground: [colour] }\n  haze: { profile: dimmer, universe: 1, address: 110, hazard: atmospheric, ground: safe }\n  head: { profile: moving-head',
  );
  const uses = Object.fromEntries(
    showOf(`${text}${DESK}`).fixtures.map(({ name, ground }) => [name, ground]),
  );
  expect(uses.bar).toEqual(['ours', 'desk', 'desk', 'desk']);
  expect(uses.haze).toEqual(['ours']);
});
