import { expect, it } from 'vitest';
import type { LiveStage } from '../../../src/live/stage-schema.js';
import { frameOf, labelAt, placeTag, WORDS_PX } from '../../../src/panel/page/plan-frame.js';

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

it('puts a name where it covers nothing, keeps it there, and above where there is no such place', () => {
  const of = { x: 5, y: 5, text: 'Ines', size: 1 };
  expect(placeTag(of, [], 0)[0]).toBe(0);
  const above = labelAt(5, 3.7, 'stove', 1);
  expect(placeTag(of, [above], 0)[0]).toBe(1);
  expect(placeTag(of, [], 1)[0]).toBe(1);
  expect(placeTag(of, [{ x: 5, y: 5, width: 50, height: 50 }], 2)[0]).toBe(0);
});
