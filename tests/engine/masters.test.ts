import { describe, expect, test } from 'vitest';
import { Rig } from './harness.js';
import { SOLO } from './shows.js';

const STOVE = { 1: [2, 6] } as const;

const desk = (gone = 'hold') =>
  `desk: { control: { protocol: sacn, universe: 201, interface: eth1, gone: ${gone} } }
signals: { fader: { slot: [control, 1] }, group: { slot: [control, 2] } }
`;
const say = (rig: Rig, level: number, group = 255) => rig.hear(0, { 1: level, 2: group });

/** The practical by a zone and the head by a follow, each under the fader. */
const MASTERED = SOLO.replace('- { zone: stove,', '- { master: fader, zone: stove,').replace(
  '- { follow: ines,',
  '- { master: fader, follow: ines,',
);

describe('the master of a mapping', () => {
  test.for([
    [0, 8, 0],
    [51, 17, 15],
    [255, 85, 75],
  ] as const)('at %i lets it act so far, over the base', ([level, glow, head]) => {
    const rig = new Rig(MASTERED + desk());
    say(rig, level);
    rig.run(6, STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(glow, 0);
    expect(rig.level('head')).toBeCloseTo(head, 0);
  });

  test('acts at once, whatever the fade of the mapping', () => {
    const rig = new Rig(MASTERED.replace('in: 0.5, out: 1', 'in: 5, out: 5') + desk());
    say(rig, 255);
    rig.run(12, STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
    say(rig, 102);
    rig.run(0.1, STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(34, 0);
    expect(rig.level('head')).toBeCloseTo(30, 0);
    say(rig, 255);
    rig.run(0.1, STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
  });

  test('takes nothing from the safe values of who is lost', () => {
    const rig = new Rig(MASTERED + desk());
    say(rig, 0);
    rig.run(6, STOVE).run(6);
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
  });

  test.for([
    ['hold', 51],
    ['0', 8],
    ['unknown', 20],
  ] as const)('of a desk that is gone: %s', ([gone, level]) => {
    const rig = new Rig(MASTERED + desk(gone));
    say(rig, 153);
    rig.run(6, STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(51, 0);
    rig.hear(0, {}, false);
    rig.run(6, STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(level, 0);
    say(rig, 255);
    rig.run(6, STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
    expect(rig.level('head')).toBeCloseTo(75, 0);
  });

  test('nobody comes up by it while everybody is stopped', () => {
    const rig = new Rig(MASTERED + desk());
    say(rig, 51);
    rig.run(6, STOVE);
    rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
    rig.tick();
    say(rig, 255);
    let most = 0;
    rig.run(6, STOVE, () => {
      most = Math.max(most, rig.level('stove-glow'), rig.level('head'));
    });
    // From 17 and 15 to the safe values, 20 and 0.
    expect(most).toBeLessThanOrEqual(20.5);
  });

  test('a cue gives a share, and the master one of that', () => {
    const named = MASTERED.replace(
      '- { master: fader, zone',
      '- { name: glow, master: fader, zone',
    );
    const rig = new Rig(
      `${named}${desk()}cues: { half: { mappings: [glow: 50] }, off: { fade: 2 } }\n`,
    );
    say(rig, 204);
    rig.run(6, STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(85 * 0.5 * 0.8, 0);
    rig.order({ kind: 'cue', to: { name: 'off' }, cause: 'command' });
    rig.run(1, STOVE);
    // Half way from 34 to the base, 8.
    expect(rig.level('stove-glow')).toBeCloseTo(21, 0);
  });
});

describe('a master over fixtures', () => {
  const GROUPED = SOLO.replace(
    'mappings:',
    'groups: { all: [stove-glow, head] }\nmasters: [{ fixtures: [all], by: group }]\nmappings:',
  );

  test.for([
    [0, 0, 0],
    [128, 43, 38],
    [255, 85, 75],
  ] as const)('at %i takes down all that is asked of them', ([level, glow, head]) => {
    const rig = new Rig(GROUPED + desk());
    say(rig, 0, level);
    rig.run(6, STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(glow, 0);
    expect(rig.level('head')).toBeCloseTo(head, 0);
  });

  test('takes down the base, at once, and not the safe values', () => {
    const rig = new Rig(GROUPED + desk());
    say(rig, 0, 255);
    rig.run(6, { 1: [8, 2] });
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
    say(rig, 0, 128);
    rig.run(0.1, { 1: [8, 2] });
    expect(rig.level('stove-glow')).toBeCloseTo(4, 0);
    say(rig, 0, 0);
    rig.run(6);
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
  });

  test('of a desk that is gone, where that is unknown, they go to their safe values', () => {
    const rig = new Rig(GROUPED + desk('unknown'));
    say(rig, 0, 255);
    rig.run(6, STOVE);
    rig.hear(0, {}, false);
    rig.run(6, STOVE);
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
    expect(rig.level('head')).toBe(0);
  });
});
