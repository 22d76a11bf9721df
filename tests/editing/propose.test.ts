import { isDeepStrictEqual } from 'node:util';
import { applyPatch } from 'diff';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type Change, proposeChanges } from '../../src/editing/propose.js';
import type { Show } from '../../src/show/model/model.js';
import { parseShow } from '../../src/show/parse.js';
import { demand } from '../demand.js';
import { changed, configShow, MINIMAL } from '../show/base.js';

function proposed(text: string, ...changes: Change[]) {
  const proposal = proposeChanges(text, 'a.show.yaml', changes);
  if (!proposal.ok) throw new Error(proposal.why);
  return proposal;
}

/** Lines that went and came, as the diff has them. */
function linesOf(patch: string): string[] {
  return patch.split('\n').filter(line => /^[-+](?![-+])/.test(line));
}

const ORIGIN: Change = { path: ['inputs', 'tracking', 'origin'], value: [1, -2.5, 0.04] };
const TURN: Change = { path: ['inputs', 'tracking', 'turn'], value: { x: 0.3, y: 0, z: 7.4 } };
const POSITION: Change = { path: ['fixtures', 'head', 'position'], value: [3.1, 1.2, 5.05] };
const ORIENTATION: Change = {
  path: ['fixtures', 'head', 'orientation'],
  value: { x: 1.5, y: 0, z: 180 },
};

/** Heads as they may be written: in lines of their own or within braces, with an orientation or without. */
const THREE_HEADS = changed(
  '  head: { profile: moving-head, universe: 1, address: 11, position: [3, 1, 5] }',
  `  head-right: { profile: moving-head, universe: 1, address: 11, position: [3, 1, 5] } # upstage
  # the one on the left
  head-left:
    profile: moving-head
    universe: 1
    address: 31
    position: [1, 1, 5] # taped
    orientation:
      x: 1 # by eye
      y: 0
      z: 180
    # never above the stove
    base: { Dimmer: 0 }
  head-back:
    { profile: moving-head, universe: 1, address: 51, orientation: hanging, position: [5, 1, 5] }`,
  changed('fixtures: [head]', 'fixtures: [head-right, head-left, head-back] # all three'),
);

describe('a proposed change of a show', () => {
  test('puts a new key behind the one it belongs to', () => {
    const after = ['nowhere', 'position'];
    const text = configShow('salt-lantern');
    const path = ['fixtures', 'head-right', 'orientation'];
    const { patch } = proposed(text, { ...ORIENTATION, path, after });
    expect(patch).toContain(
      '     position: [1, 1, 5.2]\n+    orientation: { x: 1.5, y: 0, z: 180 }\n     base',
    );
    const flow = changed('position: [3, 1, 5]', 'position: [3, 1, 5], base: {}');
    expect(proposed(flow, { ...ORIENTATION, after }).text).toContain(
      '[3, 1, 5], orientation: { x: 1.5, y: 0, z: 180 }, base: {} }',
    );
  });

  test('adds keys to a block, at its end and indented like it', () => {
    const { patch } = proposed(MINIMAL, ORIGIN, TURN);
    expect(linesOf(patch)).toEqual([
      '+    origin: [1, -2.5, 0.04]',
      '+    turn: { x: 0.3, y: 0, z: 7.4 }',
    ]);
  });

  test('adds keys within braces, and keeps what stands behind them', () => {
    const text = changed('position: [3, 1, 5] }', 'position: [3, 1, 5] } # the head');
    expect(linesOf(proposed(text, ORIENTATION).patch)).toEqual([
      '-  head: { profile: moving-head, universe: 1, address: 11, position: [3, 1, 5] } # the head',
      '+  head: { profile: moving-head, universe: 1, address: 11, position: [3, 1, 5], orientation: { x: 1.5, y: 0, z: 180 } } # the head',
    ]);
  });

  test('sets an item of a list, and a key within one', () => {
    const path = ['performers', 'ines', 'trackers', '0'];
    const value = { id: 1, offset: { forward: 0.1, left: 0, up: -0.3 } };
    expect(linesOf(proposed(MINIMAL, { path, value }).patch)).toEqual([
      '-  ines: { trackers: [1] }',
      '+  ines: { trackers: [{ id: 1, offset: { forward: 0.1, left: 0, up: -0.3 } }] }',
    ]);
    const block = changed(
      '  ines: { trackers: [1] }',
      '  ines:\n    trackers:\n      - 1 # the front\n      - id: 2\n        offset: { up: 0.2 } # the back\n',
    );
    const offset = { path: ['performers', 'ines', 'trackers', '1', 'offset'], value: { up: 0.3 } };
    expect(linesOf(proposed(block, { path, value: { id: 1, noise: 0.2 } }, offset).patch)).toEqual([
      '-      - 1 # the front',
      '+      - { id: 1, noise: 0.2 } # the front',
      '-        offset: { up: 0.2 } # the back',
      '+        offset: { up: 0.3 } # the back',
    ]);
    // A block in a list is not written anew: what stands beside its keys would be lost.
    const whole = { path: ['performers', 'ines', 'trackers', '1'], value: { id: 2, noise: 0.2 } };
    expect(proposeChanges(block, 'a.show.yaml', [whole])).toMatchObject({ ok: false });
    const beyond = { path: ['performers', 'ines', 'trackers', '5'], value: 3 };
    expect(proposeChanges(block, 'a.show.yaml', [beyond])).toMatchObject({ ok: false });
  });

  test('sets values, and keeps the comment beside them', () => {
    const text = changed(
      '    port: 9010',
      '    origin:   [0, 0, 0]   # taped\n    turn: 90 # by eye\n    port: 9010',
    );
    expect(linesOf(proposed(text, ORIGIN, TURN).patch)).toEqual([
      '-    origin:   [0, 0, 0]   # taped',
      '-    turn: 90 # by eye',
      '+    origin:   [1, -2.5, 0.04]   # taped',
      '+    turn: { x: 0.3, y: 0, z: 7.4 } # by eye',
    ]);
  });

  test('sets a block line by line', () => {
    const block = '    turn:\n      x: 0 # level\n      z: 3\n    port: 9010';
    expect(linesOf(proposed(changed('    port: 9010', block), TURN).patch)).toEqual([
      '-      x: 0 # level',
      '-      z: 3',
      '+      x: 0.3 # level',
      '+      z: 7.4',
      '+      y: 0',
    ]);
  });

  test('puts a number in the place of a block, and a block of lines in the place of a list', () => {
    const block = '    turn:\n      x: 0\n      z: 3\n\n    # the port\n    port: 9010';
    const number = { path: TURN.path, value: 12 };
    expect(linesOf(proposed(changed('    port: 9010', block), number).patch)).toEqual([
      '-    turn:',
      '-      x: 0',
      '-      z: 3',
      '+    turn: 12',
    ]);
    const list = '    origin:\n      - 1\n      - 2\n      - 3\n    port: 9010';
    expect(linesOf(proposed(changed('    port: 9010', list), ORIGIN).patch)).toEqual([
      '-    origin:',
      '-      - 1',
      '-      - 2',
      '-      - 3',
      '+    origin: [1, -2.5, 0.04]',
    ]);
  });

  test('of the example show touches only its lines', () => {
    const text = configShow('salt-lantern');
    const at = (key: string) => ['fixtures', 'head-left', key];
    const { patch, text: after } = proposed(
      text,
      ORIGIN,
      { path: at('position'), value: [9.02, 1.01, 5.17] },
      { path: at('orientation'), value: { x: 0.4, y: -0.2, z: 181.3 } },
    );
    expect(linesOf(patch)).toEqual([
      '+    origin: [1, -2.5, 0.04]',
      '-    position: [9, 1, 5.2]',
      '-    orientation: { z: 180 }',
      '+    position: [9.02, 1.01, 5.17]',
      '+    orientation: { x: 0.4, y: -0.2, z: 181.3 }',
    ]);
    expect(applyPatch(text, patch)).toBe(after);
  });

  test('of a word to turns, without a last newline, with other line ends', () => {
    const word = changed('position: [3, 1, 5] }', 'position: [3, 1, 5], orientation: hanging }');
    expect(proposed(word, ORIENTATION).text).toContain('orientation: { x: 1.5, y: 0, z: 180 } }');
    const bare = MINIMAL.trimEnd();
    expect(applyPatch(bare, proposed(bare, POSITION).patch)).toBe(proposed(bare, POSITION).text);
    const windows = MINIMAL.replaceAll('\n', '\r\n');
    const { text } = proposed(windows, ORIGIN, TURN);
    expect(text).toContain('    origin: [1, -2.5, 0.04]\r\n    turn: { x: 0.3, y: 0, z: 7.4 }\r\n');
    expect(text.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/);
  });

  // Each run reads the whole show several times: many runs on a small show, a few on the long one.
  test.each([
    { of: 'a small show', text: THREE_HEADS, numRuns: 40 },
    { of: 'the example', text: configShow('salt-lantern'), numRuns: 3 },
  ])('of any values in $of changes those alone: what else it says stays', ({ text, numRuns }) => {
    const before = parseShow(text, 'a');
    if (!before.ok) throw new Error('not a show');
    const heads = ['head-right', 'head-left', 'head-back'];
    const metres = fc.integer({ min: -9000, max: 9000 }).map(value => value / 1000);
    const degrees = fc.integer({ min: -18000, max: 18000 }).map(value => value / 100);
    const one = fc.record({
      head: fc.constantFrom(...heads),
      position: fc.tuple(metres, metres, metres),
      orientation: fc.record({ x: degrees, y: degrees, z: degrees }),
    });
    const rest = withoutPoses(before.show);
    fc.assert(
      fc.property(fc.array(one, { minLength: 1, maxLength: 3 }), all => {
        const wanted = new Map(all.map(({ head, ...pose }) => [head, pose]));
        const { text: after, patch } = proposed(
          text,
          ...[...wanted].flatMap(([head, { position, orientation }]) => [
            { path: ['fixtures', head, 'position'], value: position },
            { path: ['fixtures', head, 'orientation'], value: orientation, after: ['position'] },
          ]),
        );
        demand(applyPatch(text, patch) === after, () => `the patch is another text: ${patch}`);
        const comments = (all: string) => all.match(/#.*/g);
        demand(isDeepStrictEqual(comments(after), comments(text)), () => `comments of ${patch}`);
        const now = parseShow(after, 'a');
        if (!now.ok) throw new Error('not a show');
        for (const [i, fixture] of now.show.fixtures.entries()) {
          const pose = wanted.get(fixture.name);
          const isRight =
            pose === undefined
              ? isDeepStrictEqual(fixture, before.show.fixtures[i])
              : isDeepStrictEqual(Object.values(fixture.head?.position ?? {}), pose.position);
          demand(isRight, () => `${fixture.name}: ${patch}`);
        }
        demand(isDeepStrictEqual(withoutPoses(now.show), rest), () => `the rest: ${patch}`);
      }),
      { seed: 21, numRuns },
    );
  });

  test('that changes nothing is empty', () => {
    const same = { path: POSITION.path, value: [3, 1, 5] };
    expect(proposed(MINIMAL, same)).toEqual({ ok: true, text: MINIMAL, patch: '' });
  });

  test.each([
    ['an alias', '*p', '&p [3, 1, 5]'],
    ['an anchor', '&q [3, 1, 5]', '[0, 1, 5]'],
  ])('is refused where the value is %s, which other places share', (_, here, there) => {
    const text = changed('position: [3, 1, 5]', `position: ${here}`).replace(
      'address: 1 }',
      `address: 1, position: ${there} }`,
    );
    const proposal = proposeChanges(text, 'a.show.yaml', [POSITION]);
    expect(proposal).toEqual({
      ok: false,
      why: "fixtures.head.position can't be set in the text as it is written; set it by hand to [3.1, 1.2, 5.05].",
    });
  });

  test('is refused where its place is not there, or the show would not be right', () => {
    const nowhere = { path: ['fixtures', 'lamp', 'position'], value: [1, 2, 3] };
    expect(proposeChanges(MINIMAL, 'a.show.yaml', [nowhere]).ok).toBe(false);
    const wrong = { path: ['inputs', 'tracking', 'scale'], value: 7 };
    expect(proposeChanges(MINIMAL, 'a.show.yaml', [wrong])).toMatchObject({
      ok: false,
      why: expect.stringMatching(/^the show would not be right with it: /),
    });
  });
});

/** An aim is a pan and a tilt in the fixtures and in the looks of cues: those go with the pose, as does the digest. */
function withoutPoses(show: Show): Show {
  const cues = show.cues.map(cue => ({ ...cue, base: [], safe: [] }));
  return { ...show, fixtures: [], cues, digest: '' };
}
