import { expect, it } from 'vitest';
import type { LiveStage, Outline } from '../../../src/live/stage-schema.js';
import {
  frameOf,
  inside,
  labelAt,
  placeTag,
  placeZoneName,
  WORDS_PX,
} from '../../../src/panel/page/plan-frame.js';

const stage: LiveStage = {
  ...{ kind: 'stage', version: 1, revision: 1, show: 'a show' },
  bounds: { x: [0, 10], y: [0, 8] },
  ...{ performers: [], zones: [], exits: [], keepOuts: [], anchors: [], fixtures: [] },
  ...{ mappings: [], cues: [], hazards: [] },
};
const keepOut = (x: number, y: number) => ({
  ...{ name: 'row', label: 'row' },
  outline: { kind: 'circle', centre: [x, y] as [number, number], radiusM: 1 } as const,
});

it('draws to scale what fits into the room, and a keep-out about the stage whole', () => {
  const room = { width: 358, height: 420 };
  const { edge, perPx, left, top } = frameOf({ ...stage, keepOuts: [keepOut(5, -3)] }, room);
  expect(edge.minY).toBeLessThan(-4);
  expect((edge.maxX - edge.minX) / perPx).toBeLessThanOrEqual(room.width - 2 * WORDS_PX + 1e-9);
  expect((edge.maxY - edge.minY) / perPx).toBeLessThanOrEqual(room.height - 2 * WORDS_PX + 1e-9);
  expect([left(edge.minX), top(edge.maxY)]).toEqual([0, 0]);
});

it('does not let one far away make the stage small', () => {
  const near = frameOf(stage, { width: 600, height: 600 });
  const far = frameOf({ ...stage, keepOuts: [keepOut(5, -80)] }, { width: 600, height: 600 });
  expect(far.perPx).toBeLessThan(2 * near.perPx);
});

it('puts a name where it covers nothing, keeps it there, and where it covers least if it must', () => {
  const of = { x: 5, y: 5, text: 'Ines', size: 1 };
  const frame = { edge: { minX: 0, maxX: 10, minY: 0, maxY: 10 } };
  expect(placeTag(of, [], 0, frame)[0]).toBe(0);
  const above = labelAt(5, 3.7, 'stove', 1);
  expect(placeTag(of, [above], 0, frame)[0]).toBe(1);
  expect(placeTag(of, [], 1, frame)[0]).toBe(1);
  const all = { x: 5, y: 5, width: 50, height: 50 };
  expect(placeTag(of, [all, above], 0, frame)[0]).toBe(1);
});

it('puts the name of a zone on no mark: downstage in it, else upstage, else in its middle', () => {
  const frame = {
    edge: { minX: 0, maxX: 10, minY: 0, maxY: 10 },
    left: (x: number) => x,
    top: (y: number) => 10 - y,
  };
  const zone: Outline = { kind: 'circle', centre: [5, 5], radiusM: 2 };
  const at = (marks: readonly number[], before = 0) =>
    placeZoneName(
      zone,
      { text: 'stove', size: 0.5 },
      marks.map(y => ({ x: 5, y: 10 - y, width: 0.5, height: 0.5 })),
      before,
      frame,
    );
  expect(at([])).toMatchObject([0, { x: 5, y: 6.6 }]);
  expect(at([3.4])).toMatchObject([1, { x: 5, y: 3.4 }]);
  expect(at([3.4, 6.6])).toMatchObject([2, { x: 5, y: 5 }]);
  // It does not jump back as soon as it could.
  expect(at([], 1)[0]).toBe(1);
});

it('keeps a name on the plan whole, wherever what it names is', () => {
  const { edge } = frameOf(stage, { width: 358, height: 420 });
  const [wide, high] = [edge.maxX - edge.minX, edge.maxY - edge.minY];
  const size = 0.4;
  const places = [-50, -1, 0, 0.1, 5, wide - 0.1, wide, 90];
  for (const x of places) {
    for (const y of places) {
      const name = inside(labelAt(x, y, 'The Gull: stopped', size), { edge });
      expect(name.x - name.width / 2).toBeGreaterThanOrEqual(0);
      expect(name.x + name.width / 2).toBeLessThanOrEqual(wide);
      expect(name.y - name.height / 2).toBeGreaterThanOrEqual(0);
      expect(name.y + name.height / 2).toBeLessThanOrEqual(high);
    }
  }
  const middle = labelAt(5, 5, 'Ines', size);
  expect(inside(middle, { edge })).toEqual(middle);
  // One that is longer than the plan is wide loses as much on either side.
  expect(inside(labelAt(0, 5, 'x'.repeat(99), size), { edge }).x).toBeCloseTo(wide / 2);
});
