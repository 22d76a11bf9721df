import type { LiveStage, Outline } from '../../live/stage-schema.js';

/** Pixels that a person sees, and where in them the stage is. */
export interface Frame {
  /** What is drawn, metres: the stage with a margin, and what hangs or lies about it. */
  readonly edge: Edge;
  /** Metres that a pixel of the screen takes. */
  readonly perPx: number;
  left(x: number): number;
  top(y: number): number;
}

export interface Edge {
  readonly minX: number;
  readonly maxX: number;
  readonly minY: number;
  readonly maxY: number;
}

const MARGIN_M = 1.1;
/** Share of the stage's size beyond which a head stands at the edge of the plan, and a keep-out is cut. */
const FAR = { head: 0.25, keepOut: 0.6 };
/** Beside the plan, for the words on its edges. */
export const WORDS_PX = 26;

/** @param room pixels for the plan with its words; what has no size yet is taken for a phone's */
export function frameOf(
  stage: LiveStage,
  room: { readonly width: number; readonly height: number },
): Frame {
  const edge = edgeOf(stage);
  const across = Math.max(60, room.width - 2 * WORDS_PX);
  const up = Math.max(60, room.height - 2 * WORDS_PX);
  const perPx = Math.max((edge.maxX - edge.minX) / across, (edge.maxY - edge.minY) / up);
  return { edge, perPx, left: x => x - edge.minX, top: y => edge.maxY - y };
}

function edgeOf({ bounds, fixtures, keepOuts }: LiveStage): Edge {
  const {
    x: [minX, maxX],
    y: [minY, maxY],
  } = bounds;
  const size = Math.max(maxX - minX, maxY - minY);
  const margin = Math.max(MARGIN_M, 0.03 * size);
  const edge = {
    minX: minX - margin,
    maxX: maxX + margin,
    minY: minY - margin,
    maxY: maxY + margin,
  };
  const include = (box: Edge, about: number, far: number) => {
    const most = margin + far * size;
    edge.minX = Math.min(edge.minX, Math.max(box.minX - about, minX - most));
    edge.maxX = Math.max(edge.maxX, Math.min(box.maxX + about, maxX + most));
    edge.minY = Math.min(edge.minY, Math.max(box.minY - about, minY - most));
    edge.maxY = Math.max(edge.maxY, Math.min(box.maxY + about, maxY + most));
  };
  for (const { isHead, at } of fixtures) {
    if (!isHead || at === undefined) continue;
    const [x, y] = at;
    include({ minX: x, maxX: x, minY: y, maxY: y }, margin / 2, FAR.head);
  }
  for (const { outline } of keepOuts) include(boxOf(outline), margin / 4, FAR.keepOut);
  return edge;
}

export function boxOf(outline: Outline): Edge {
  if (outline.kind === 'circle') {
    const {
      centre: [x, y],
      radiusM: r,
    } = outline;
    return { minX: x - r, maxX: x + r, minY: y - r, maxY: y + r };
  }
  const [xs, ys] = [outline.points.map(([x]) => x), outline.points.map(([, y]) => y)];
  return {
    minX: Math.min(...xs),
    maxX: Math.max(...xs),
    minY: Math.min(...ys),
    maxY: Math.max(...ys),
  };
}

/** A text on the plan: its middle, and how much room it takes, in the metres of the drawing. */
export interface Label {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** Of a serif face, on average, as a share of its size. */
const LETTER = 0.54;

export const labelAt = (x: number, y: number, text: string, size: number): Label => ({
  x,
  y,
  width: LETTER * size * text.length,
  height: size,
});

/** The letters of a bold name are wider than the average, as a share. */
const ROOM = 1.15;

/** The same, moved so that all of it is on what is drawn; of one that is longer than that, the middle. */
export function inside(label: Label, { edge }: Pick<Frame, 'edge'>): Label {
  const within = (at: number, size: number, most: number) =>
    size >= most ? most / 2 : Math.min(most - size / 2, Math.max(size / 2, at));
  return {
    ...label,
    x: within(label.x, ROOM * label.width, edge.maxX - edge.minX),
    y: within(label.y, label.height, edge.maxY - edge.minY),
  };
}

/** How much of one lies on the other, as an area. */
function overlap(a: Label, b: Label): number {
  const wide = Math.min(a.width, b.width, (a.width + b.width) / 2 - Math.abs(a.x - b.x));
  const high = Math.min(a.height, b.height, (a.height + b.height) / 2 - Math.abs(a.y - b.y));
  return Math.max(0, wide) * Math.max(0, high);
}

/**
 * Where the name of a performer covers nothing that is there already: above, below, or beside; where there is no such place,
 * the one where it covers least. @param before where it was: it stays there while it can
 */
export function placeTag(
  of: { readonly x: number; readonly y: number; readonly text: string; readonly size: number },
  taken: readonly Label[],
  before: number,
  frame: Pick<Frame, 'edge'>,
): readonly [side: number, label: Label] {
  const { x, y, text, size } = of;
  const { width } = labelAt(x, y, text, size);
  const sides = [
    labelAt(x, y - 1.3 * size, text, size),
    labelAt(x, y + 1.3 * size, text, size),
    labelAt(x + width / 2 + 0.9 * size, y, text, size),
    labelAt(x - width / 2 - 0.9 * size, y, text, size),
  ];
  return leastCovering(sides, taken, before, frame);
}

/**
 * Where the name of a zone covers no mark: on the downstage edge, inside, where most people stand above it; on the
 * upstage edge; in the middle. @param before where it was: it stays there while it can
 */
export function placeZoneName(
  outline: Outline,
  of: { readonly text: string; readonly size: number },
  taken: readonly Label[],
  before: number,
  frame: Pick<Frame, 'edge' | 'left' | 'top'>,
): readonly [side: number, label: Label] {
  const { text, size } = of;
  const { minX, maxX, minY, maxY } = boxOf(outline);
  const x = frame.left((minX + maxX) / 2);
  const [high, low] = [frame.top(maxY) + 0.8 * size, frame.top(minY) - 0.8 * size];
  const sides = [low, high, (low + high) / 2].map(y => labelAt(x, y, text, size));
  return leastCovering(sides, taken, before, frame);
}

function leastCovering(
  wanted: readonly Label[],
  taken: readonly Label[],
  before: number,
  frame: Pick<Frame, 'edge'>,
): readonly [side: number, label: Label] {
  const sides = wanted.map(label => inside(label, frame));
  let best: readonly [side: number, label: Label] = [0, sides[0] as Label];
  let least = Number.POSITIVE_INFINITY;
  for (const side of [before, ...sides.keys()]) {
    const label = sides[side];
    if (label === undefined) continue;
    const covered = taken.reduce((sum, one) => sum + overlap(label, one), 0);
    if (covered === 0) return [side, label];
    if (covered < least) [best, least] = [[side, label], covered];
  }
  return best;
}
