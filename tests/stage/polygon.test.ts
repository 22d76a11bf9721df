import { describe, expect, test } from 'vitest';
import type { PlanPoint } from '../../src/stage/area.js';
import { isInsideBounds, polygonArea, selfCrossing } from '../../src/stage/polygon.js';

const SQUARE: readonly PlanPoint[] = [
  [0, 0],
  [2, 0],
  [2, 2],
  [0, 2],
];
const L_SHAPE: readonly PlanPoint[] = [
  [0, 0],
  [3, 0],
  [3, 1],
  [1, 1],
  [1, 3],
  [0, 3],
];

describe('selfCrossing', () => {
  test.each<[string, readonly PlanPoint[]]>([
    ['a square', SQUARE],
    ['a square the other way round', [...SQUARE].reverse()],
    ['a triangle', SQUARE.slice(0, 3)],
    [
      'a straight corner',
      [
        [0, 0],
        [1, 0],
        [2, 0],
        [2, 2],
      ],
    ],
    ['an L', L_SHAPE],
  ])('%s is simple', (_, points) => {
    expect(selfCrossing(points)).toBeUndefined();
  });

  test.each<[string, readonly PlanPoint[], [number, number, string]]>([
    [
      'a bow tie',
      [
        [0, 0],
        [2, 2],
        [2, 0],
        [0, 2],
      ],
      [0, 2, 'crosses-or-touches'],
    ],
    [
      'a five-pointed star',
      [
        [0, 3],
        [2, -3],
        [-3, 1],
        [3, 1],
        [-2, -3],
      ],
      [0, 2, 'crosses-or-touches'],
    ],
    [
      'a corner on another edge',
      [
        [0, 0],
        [4, 0],
        [4, 4],
        [2, 0],
        [0, 4],
      ],
      [0, 2, 'crosses-or-touches'],
    ],
    [
      'two corners in one place',
      [
        [0, 0],
        [2, 1],
        [4, 0],
        [4, 4],
        [2, 1],
        [0, 4],
      ],
      [0, 3, 'crosses-or-touches'],
    ],
    [
      'edges on one another',
      [
        [0, 0],
        [3, 0],
        [3, 1],
        [2, 1],
        [2, 0],
        [1, 0],
        [1, 1],
        [0, 1],
      ],
      [0, 3, 'crosses-or-touches'],
    ],
    [
      'a point given twice',
      [
        [0, 0],
        [2, 0],
        [2, 0],
        [2, 2],
      ],
      [0, 1, 'no-length'],
    ],
    ['the first point again at the end', [...SQUARE, [0, 0]], [3, 4, 'no-length']],
    [
      'a spike',
      [
        [0, 0],
        [2, 0],
        [2, 2],
        [2, 5],
        [2, 2],
        [0, 2],
      ],
      [2, 3, 'folds-back'],
    ],
    [
      'a spike of two edges',
      [
        [0, 0],
        [2, 0],
        [5, 0],
        [2, 0],
        [0, 2],
      ],
      [1, 2, 'folds-back'],
    ],
    [
      'folding back at the end',
      [
        [0, 0],
        [4, 0],
        [1, 0],
        [0, 3],
      ],
      [0, 1, 'folds-back'],
    ],
    [
      'folding back at the start',
      [
        [1, 0],
        [0, 3],
        [0, 0],
        [4, 0],
      ],
      [2, 3, 'folds-back'],
    ],
    [
      'folding back over the first point',
      [
        [2, 0],
        [4, 0],
        [4, 3],
        [6, 0],
      ],
      [0, 3, 'folds-back'],
    ],
    [
      'a triangle without area',
      [
        [0, 0],
        [1, 1],
        [2, 2],
      ],
      [1, 2, 'folds-back'],
    ],
    [
      'two points',
      [
        [0, 0],
        [1, 1],
      ],
      [0, 1, 'folds-back'],
    ],
  ])('%s', (_, points, [first, second, kind]) => {
    expect(selfCrossing(points)).toEqual({ first, second, kind });
  });

  test('a single point has no edges to speak of', () => {
    expect(selfCrossing([])).toBeUndefined();
    expect(selfCrossing([[1, 2]])).toBeUndefined();
  });

  test('a touch that only rounding hides is found', () => {
    // 0.1 + 0.2 is not 0.3: the corner misses the edge by 5e-17 m.
    const points: PlanPoint[] = [
      [0, 0.3],
      [4, 0.3],
      [4, 4],
      [2, 0.1 + 0.2],
      [0, 4],
    ];
    expect(selfCrossing(points)).toMatchObject({ first: 0, second: 2 });
  });
});

describe('polygonArea', () => {
  test('square and L, either way round', () => {
    expect(polygonArea(SQUARE)).toBe(4);
    expect(polygonArea([...SQUARE].reverse())).toBe(4);
    expect(polygonArea(L_SHAPE)).toBe(5);
  });

  test('far away, no digits are lost', () => {
    const far = SQUARE.map(([x, y]): PlanPoint => [x + 2 ** 40, y - 2 ** 40]);
    expect(polygonArea(far)).toBe(4);
  });

  test('less than a triangle has none', () => {
    expect(polygonArea([])).toBe(0);
    expect(polygonArea([[1, 2]])).toBe(0);
    expect(
      polygonArea([
        [1, 2],
        [5, 6],
      ]),
    ).toBe(0);
  });
});

describe('isInsideBounds', () => {
  const stage = { x: [-4, 4], y: [0, 6] } as const;
  const circle = (x: number, y: number, radiusM: number) => ({
    shape: { kind: 'circle', centre: { x, y }, radiusM } as const,
  });

  test('circles, rim included', () => {
    expect(isInsideBounds(circle(0, 3, 3), stage)).toBe(true);
    expect(isInsideBounds(circle(0, 3, 3.001), stage)).toBe(false);
    expect(isInsideBounds(circle(3, 3, 1), stage)).toBe(true);
    expect(isInsideBounds(circle(3.1, 3, 1), stage)).toBe(false);
    expect(isInsideBounds(circle(-3.1, 3, 1), stage)).toBe(false);
    expect(isInsideBounds(circle(0, 5.5, 1), stage)).toBe(false);
    expect(isInsideBounds(circle(20, 3, 1), stage)).toBe(false);
  });

  test('polygons, corners included', () => {
    expect(isInsideBounds({ shape: { kind: 'polygon', points: SQUARE } }, stage)).toBe(true);
    const out = SQUARE.map(([x, y]): PlanPoint => [x, y - 0.1]);
    expect(isInsideBounds({ shape: { kind: 'polygon', points: out } }, stage)).toBe(false);
  });
});
