/** An axis of a feed, with its sign. */
export const SIGNED_AXES = ['x', '-x', 'y', '-y', 'z', '-z'] as const;
export type SignedAxis = (typeof SIGNED_AXES)[number];

/**
 * Which axis of a feed is x, y and z of the position that goes on: [x, z, y] swaps a feed whose y is up. Mirrored
 * (left-handed) feeds are allowed, so any signs are.
 */
export type AxisOrder = readonly [SignedAxis, SignedAxis, SignedAxis];

/** For x, y, z of the result: index of the axis of the feed, and signed metres in one of its units. */
export type AxisMap = readonly [AxisSource, AxisSource, AxisSource];

export interface AxisSource {
  readonly axis: 0 | 1 | 2;
  readonly scaleM: number;
}

export function axisMap([x, y, z]: AxisOrder, unitM: number): AxisMap {
  return [axisSource(x, unitM), axisSource(y, unitM), axisSource(z, unitM)];
}

/** Whether each axis of the feed goes in once. */
export function isPermutation(map: AxisMap): boolean {
  return new Set(map.map(source => source.axis)).size === 3;
}

function axisSource(axis: SignedAxis, unitM: number): AxisSource {
  const index = axis.endsWith('x') ? 0 : axis.endsWith('y') ? 1 : 2;
  return { axis: index, scaleM: axis.startsWith('-') ? -unitM : unitM };
}

/** Adding 0 turns -0 into 0. */
export function pick(source: AxisSource, x: number, y: number, z: number): number {
  return (source.axis === 0 ? x : source.axis === 1 ? y : z) * source.scaleM + 0;
}

/** The position that a feed with these axes means, into `out`. */
export function toStageAxes(
  map: AxisMap,
  x: number,
  y: number,
  z: number,
  out: { x: number; y: number; z: number },
): void {
  out.x = pick(map[0], x, y, z);
  out.y = pick(map[1], x, y, z);
  out.z = pick(map[2], x, y, z);
}

/** The way back: what a feed with these axes gives for a position, in its own units. Axes that are no permutation leave 0. */
export function toFeedAxes(
  map: AxisMap,
  at: { readonly x: number; readonly y: number; readonly z: number },
): [x: number, y: number, z: number] {
  const feed: [number, number, number] = [0, 0, 0];
  feed[map[0].axis] = at.x / map[0].scaleM + 0;
  feed[map[1].axis] = at.y / map[1].scaleM + 0;
  feed[map[2].axis] = at.z / map[2].scaleM + 0;
  return feed;
}
