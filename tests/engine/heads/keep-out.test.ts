import { describe, expect, test } from 'vitest';
import { snapshot } from '../../../src/engine/snapshot.js';
import { Rig, TICK_HZ } from '../harness.js';
import { KEPT } from '../keep-out-show.js';

/** Upstage, and at the edge of the stage, where the beam from behind goes into the audience. */
const UPSTAGE = [5, 5, 1.2] as const;
const EDGE = [5, 0.4, 1.2] as const;

function dimmers(rig: Rig, seconds: number, places: Parameters<Rig['run']>[1]): number[] {
  const seen: number[] = [];
  rig.run(seconds, places, one => seen.push(one.level('back')));
  return seen;
}

describe('a head whose performer walks where its beam would go into the audience', () => {
  test('holds still while it goes dark, is dark there, and comes up once it is clear', () => {
    const rig = new Rig(KEPT).run(4, { 1: UPSTAGE });
    expect(rig.level('back')).toBeCloseTo(80, 0);
    const path = (from: number, to: number) => (t: number) => ({
      1: [5, from + (to - from) * Math.min(1, t / 4), 1.2] as const,
    });
    const aim = () => [rig.level('back', 'Pan'), rig.level('back', 'Tilt')];
    let before = aim();
    let held = 0;
    const going: number[] = [];
    rig.run(5, path(5, 0.4), () => {
      going.push(rig.level('back'));
      // From the tick on in which it would touch.
      if (rig.light('back').keepOut !== undefined && rig.level('back') > 0) {
        expect(aim()).toEqual(before);
        held += 1;
      }
      before = aim();
    });
    expect(held).toBeGreaterThan(5);
    // A fade of 0.3 s, and no step.
    for (let i = 1; i < going.length; i++) {
      const step = (going[i - 1] as number) - (going[i] as number);
      expect(step).toBeLessThanOrEqual(80 / (0.3 * TICK_HZ) + 0.1);
    }
    expect(rig.level('back')).toBe(0);
    expect(rig.light('back').keepOut).toBe('audience');
    const shown = () => snapshot(rig.view).fixtures.find(({ name }) => name === 'back');
    expect(shown()?.keepOut).toBe('audience');
    expect(rig.beamMisses('back', [...EDGE])).toBeLessThan(0.1);
    const told = () => rig.eventsOf('keep-out').filter(({ fixture }) => fixture === 'back');
    expect(told()).toMatchObject([{ fixture: 'back', keepOut: 'audience', barred: true }]);
    // Standing there for longer than any head is waited for.
    expect(
      Math.max(...dimmers(rig, 40, t => ({ 1: [5 + 0.02 * Math.sin(t), EDGE[1], EDGE[2]] }))),
    ).toBe(0);
    rig.run(6, path(0.4, 5));
    expect(rig.level('back')).toBeCloseTo(80, 0);
    expect(rig.light('back').keepOut).toBeUndefined();
    expect(shown()).not.toHaveProperty('keepOut');
    expect(told().map(({ barred }) => barred)).toEqual([true, false]);
  });

  test('who stands at its edge does not make it flicker', () => {
    const rig = new Rig(KEPT).run(4, { 1: UPSTAGE });
    // Walks to where it goes dark, and sways there by 5 cm.
    let y = 5;
    while (rig.light('back').keepOut === undefined && y > 0) {
      y -= 0.025;
      rig.run(1 / TICK_HZ, { 1: [5, y, 1.2] });
    }
    expect(y).toBeGreaterThan(0.5);
    rig.run(20, t => ({ 1: [5, y + 0.05 * Math.sin(6 * t), 1.2] }));
    expect(
      rig.eventsOf('keep-out').filter(({ fixture }) => fixture === 'back').length,
    ).toBeLessThanOrEqual(2);
  });

  test('a loss there goes to the safe look, as everywhere', () => {
    const rig = new Rig(KEPT).run(4, { 1: UPSTAGE }).run(3, t => ({ 1: [5, 5 - 1.5 * t, 1.2] }));
    rig.run(5, {});
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.level('back')).toBeCloseTo(20, 0);
  });
});

describe('a head that a zone aims into the audience', () => {
  test('goes there and stays dark', () => {
    const rig = new Rig(KEPT).run(4, { 1: UPSTAGE, 2: [5, 5, 1.2] });
    expect(rig.level('zoned')).toBeCloseTo(25, 0);
    rig.run(6, { 1: UPSTAGE, 2: [5, 1, 1.2] });
    expect(rig.level('zoned')).toBe(0);
    expect(rig.light('zoned').keepOut).toBe('audience');
    rig.run(6, { 1: UPSTAGE, 2: [5, 5, 1.2] });
    expect(rig.level('zoned')).toBeCloseTo(25, 0);
  });
});

test('a show with nothing to keep out of has the same slots', () => {
  const without = KEPT.replace(/keepOut:\n.*\n.*\n/, '');
  const elsewhere = KEPT.replace('audience: {', 'audience: { fixtures: [zoned],').replace(
    'camera: {',
    'camera: { fixtures: [zoned],',
  );
  const [one, other] = [new Rig(without), new Rig(elsewhere)];
  for (let i = 0; i < 400; i++) {
    const t = i / TICK_HZ;
    const places = { 1: [5 + Math.sin(t), 4 + 3 * Math.cos(t), 1.2], 2: [3, 5, 1.2] } as const;
    one.run(1 / TICK_HZ, places);
    other.run(1 / TICK_HZ, places);
    expect(Buffer.compare(one.view.levels.slice(0, 40), other.view.levels.slice(0, 40))).toBe(0);
  }
});
