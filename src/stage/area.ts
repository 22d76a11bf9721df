/** A point of a polygon, `[x, y]` in the stage frame, metres. */
export type PlanPoint = readonly [x: number, y: number];

export type ShapeOptions =
  | {
      readonly kind: 'circle';
      readonly centre: { readonly x: number; readonly y: number };
      readonly radiusM: number;
    }
  | {
      readonly kind: 'polygon';
      /** Corners in either direction, the last joined to the first; edges may not cross. */
      readonly points: readonly PlanPoint[];
    };

/** A part of the stage: a shape on the plan, upright between two heights or without end. */
export interface AreaOptions {
  readonly shape: ShapeOptions;
  readonly height?: { readonly fromM: number; readonly toM: number } | undefined;
}

/** An area whose middle is 0, 0, about somebody; as it is about nobody. */
export function movedTo(
  area: AreaOptions,
  middle: { readonly x: number; readonly y: number } | undefined,
): AreaOptions {
  const { shape } = area;
  if (middle === undefined || shape.kind !== 'circle') return area;
  const centre = { x: shape.centre.x + middle.x, y: shape.centre.y + middle.y };
  return { ...area, shape: { ...shape, centre } };
}

interface Heights {
  readonly fromM: number;
  readonly toM: number;
  /** The smallest box around the shape on the plan. */
  readonly minX: number;
  readonly maxX: number;
  readonly minY: number;
  readonly maxY: number;
}

export type Area = Heights &
  (
    | { readonly kind: 'circle'; readonly x: number; readonly y: number; readonly radiusM: number }
    | { readonly kind: 'polygon'; readonly edges: Float64Array }
  );

/**
 * Layout of an edge in `edges`: start, vector to the end, 1 / length squared (0 for a point), and the y
 * of its end, which must be the very number that the next edge starts with: `y + dy` may round.
 */
const EDGE = { x: 0, y: 1, dx: 2, dy: 3, inverseLengthSquared: 4, endY: 5 } as const;
const EDGE_SIZE = 6;

/** Expects finite numbers, a positive radius, at least three points, and `fromM` below `toM`. */
export function compileArea(options: AreaOptions): Area {
  const fromM = options.height?.fromM ?? Number.NEGATIVE_INFINITY;
  const toM = options.height?.toM ?? Number.POSITIVE_INFINITY;
  const { shape } = options;
  switch (shape.kind) {
    case 'circle': {
      const { centre, radiusM } = shape;
      const box = {
        minX: centre.x - radiusM,
        maxX: centre.x + radiusM,
        minY: centre.y - radiusM,
        maxY: centre.y + radiusM,
      };
      return { kind: 'circle', fromM, toM, ...box, ...centre, radiusM };
    }
    case 'polygon': {
      const xs = shape.points.map(([x]) => x);
      const ys = shape.points.map(([, y]) => y);
      const box = {
        minX: Math.min(...xs),
        maxX: Math.max(...xs),
        minY: Math.min(...ys),
        maxY: Math.max(...ys),
      };
      return { kind: 'polygon', fromM, toM, ...box, edges: compileEdges(shape.points) };
    }
  }
}

function compileEdges(points: readonly PlanPoint[]): Float64Array {
  const edges = new Float64Array(points.length * EDGE_SIZE);
  points.forEach(([x, y], index) => {
    const [endX, endY] = points[(index + 1) % points.length] ?? [x, y];
    const [dx, dy] = [endX - x, endY - y];
    const lengthSquared = dx * dx + dy * dy;
    const inverse = lengthSquared > 0 ? 1 / lengthSquared : 0;
    edges.set([x, y, dx, dy, inverse, endY], index * EDGE_SIZE);
  });
  return edges;
}

/** The same on the plan, from the deepest to the highest. */
export function withoutHeight(area: Area): Area {
  return { ...area, fromM: Number.NEGATIVE_INFINITY, toM: Number.POSITIVE_INFINITY };
}

/**
 * Euclidean distance in metres from a point to the surface of the area, negative inside. A point
 * that isn't a number is infinitely far away.
 *
 * With d the signed distance on the plan and h the one in height, an upright solid has
 * max(d, h) inside (the nearer of wall and cap) and hypot(max(d, 0), max(h, 0)) outside.
 */
export function signedDistanceM(area: Area, x: number, y: number, z: number): number {
  const plan =
    area.kind === 'circle'
      ? length(x - area.x, y - area.y) - area.radiusM
      : signedDistanceToPolygon(area.edges, x, y);
  const height = Math.max(area.fromM - z, z - area.toM);
  if (plan <= 0 && height <= 0) return Math.max(plan, height);
  const outside = length(Math.max(plan, 0), Math.max(height, 0));
  return Number.isNaN(outside) ? Number.POSITIVE_INFINITY : outside;
}

/** Math.hypot guards against squares that overflow, which no stage does, and is several times slower. */
function length(x: number, y: number): number {
  return Math.sqrt(x * x + y * y);
}

function signedDistanceToPolygon(edges: Float64Array, x: number, y: number): number {
  let nearestSquared = Number.POSITIVE_INFINITY;
  let inside = false;
  for (let i = 0; i < edges.length; i += EDGE_SIZE) {
    const dx = edges[i + EDGE.dx] ?? 0;
    const dy = edges[i + EDGE.dy] ?? 0;
    const startY = edges[i + EDGE.y] ?? 0;
    const fromX = x - (edges[i + EDGE.x] ?? 0);
    const fromY = y - startY;
    // Foot of the perpendicular as a share of the edge, held to its ends.
    const along = (fromX * dx + fromY * dy) * (edges[i + EDGE.inverseLengthSquared] ?? 0);
    const share = Math.min(1, Math.max(0, along));
    const missX = fromX - share * dx;
    const missY = fromY - share * dy;
    const squared = missX * missX + missY * missY;
    if (squared < nearestSquared) nearestSquared = squared;
    // Even-odd rule with half-open edges, so that a ray through a corner meets one edge of the two.
    const startsAbove = startY > y;
    const endsAbove = (edges[i + EDGE.endY] ?? 0) > y;
    if (startsAbove !== endsAbove && fromX < (fromY / dy) * dx) inside = !inside;
  }
  const distance = Math.sqrt(nearestSquared);
  return inside ? -distance : distance;
}
