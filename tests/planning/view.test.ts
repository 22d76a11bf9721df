import { describe, expect, it } from 'vitest';
import { MOST_ANCHORS } from '../../src/planning/options.js';
import {
  besideSituations,
  bodiesAround,
  createView,
  geometryOf,
  isIn,
  keyOfSet,
  lookFrom,
  ownSituations,
  type Situations,
  sizeOf,
} from '../../src/planning/view.js';
import { at } from './layouts.js';

/** Anchors all round, in the height of the tracker, far away. */
const RING = Array.from({ length: MOST_ANCHORS }, (_, i) => {
  const angle = (2 * Math.PI * i) / MOST_ANCHORS;
  return at(`a${i}`, 20 * Math.cos(angle), 20 * Math.sin(angle), 1.4);
});
const HERE = { x: 0, y: 0, z: 1.4 };

function look(
  anchors: typeof RING,
  { place = HERE, ownM = 1.7, otherM = 1.7, obstacles = [] as never[] } = {},
) {
  const bodies = bodiesAround(place.z, ownM, otherM);
  const view = createView(anchors.length);
  lookFrom(view, { anchors, obstacles, bodies }, place);
  const situations: Situations = new Map();
  const own = [...ownSituations(view, situations)];
  const beside = [...besideSituations(view, bodies, situations)];
  return { view, own, beside };
}

describe('bodies in the way', () => {
  it('hide nothing from a tracker above all heads', () => {
    const { view, own, beside } = look(RING, { place: { x: 0, y: 0, z: 1.8 } });
    expect(sizeOf(keyOfSet(view.clear))).toBe(MOST_ANCHORS);
    for (const [key] of [...own, ...beside]) expect(sizeOf(key)).toBe(MOST_ANCHORS);
  });

  it('hide the anchors behind a head, and as many whichever way it faces', () => {
    const { own } = look(RING);
    // Through a head of 0.2 m with the tracker on its skin: 0.2 cos a > 0.1 within 60 degrees either way,
    // a third of all directions; the ends fall on an anchor or not.
    for (const [key] of own) {
      const hidden = MOST_ANCHORS - sizeOf(key);
      expect(hidden).toBeGreaterThanOrEqual(15);
      expect(hidden).toBeLessThanOrEqual(17);
    }
    expect(own.reduce((sum, [, times]) => sum + times, 0)).toBe(24);
  });

  it('hide more from a tracker on the trunk than from one on the head', () => {
    const fewest = (z: number) =>
      Math.min(...look(RING, { place: { x: 0, y: 0, z } }).own.map(([key]) => sizeOf(key)));
    expect(fewest(1.2)).toBeLessThan(fewest(1.5));
  });

  it('are looked over by anchors high above', () => {
    const high = RING.map(({ name, position: { x, y } }) => at(name, x / 10, y / 10, 4));
    // A hand's breadth below the top: no way through the head is longer than 0.06 / sin(52 degrees).
    for (const [key] of look(high, { place: { x: 0, y: 0, z: 1.64 } }).own) {
      expect(sizeOf(key)).toBe(MOST_ANCHORS);
    }
  });

  it('beside can only hide more', () => {
    const { own, beside } = look(RING, { otherM: 1.9 });
    const worst = (all: typeof own) => Math.min(...all.map(([key]) => sizeOf(key)));
    expect(worst(beside)).toBeLessThan(worst(own));
    // Where both bodies would be in one place, the situation is left out.
    const situations = beside.reduce((sum, [, times]) => sum + times, 0);
    expect(situations).toBeLessThan(24 * 72);
    expect(situations).toBeGreaterThan(24 * 48);
  });
});

describe('obstacles', () => {
  it('hide what is behind them, whatever the bodies do', () => {
    const solid = { kind: 'cylinder', x: 1, y: 0, radiusM: 0.2, fromM: 0, toM: 3 } as const;
    const anchors = [at('behind', 9, 0, 1.5), at('beside', 9, 9, 1.5)];
    const view = createView(2);
    lookFrom(
      view,
      { anchors, obstacles: [{ name: 'pipe', solid }], bodies: bodiesAround(1.4, 1.7, 1.7) },
      HERE,
    );
    const key = keyOfSet(view.clear);
    expect([isIn(key, 0), isIn(key, 1)]).toEqual([false, true]);
    for (const set of [...view.own, ...view.beside]) expect(isIn(keyOfSet(set), 0)).toBe(false);
  });
});

describe('sets of anchors', () => {
  it('hold the last anchor as well as the first', () => {
    const { view } = look(RING);
    const key = keyOfSet(view.clear);
    expect(Number.isSafeInteger(key)).toBe(true);
    expect([0, 23, 24, MOST_ANCHORS - 1].map(index => isIn(key, index))).toEqual([
      true,
      true,
      true,
      true,
    ]);
    const sums = geometryOf(view, key, new Float64Array(10));
    expect(sums[0]).toBe(MOST_ANCHORS);
    // All round: the directions sum to nothing, and half their squares lie along each axis.
    expect(sums[1]).toBeCloseTo(0, 9);
    expect(sums[4]).toBeCloseTo(MOST_ANCHORS / 2, 9);
  });
});
