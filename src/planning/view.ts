import type { Vec3 } from '../stage/vector.js';
import { addAnchor, addGeometry, GEOMETRY_SIZE, type Geometry } from './dilution.js';
import type { AnchorOptions, ObstacleOptions } from './options.js';
import { pathInCylinderM, pathInM } from './solid.js';

/**
 * A body is two upright cylinders: trunk with arms, and head with neck. A tracker is worn on the surface
 * of the one that is at its height; another performer stands beside.
 */
export const BODY = {
  /** Half the breadth of shoulders, and of a head with hair or a wig. */
  trunkRadiusM: 0.25,
  headRadiusM: 0.1,
  /** Height of the shoulders as a share of the body's (Drillis and Contini 1966, from memory). */
  shoulders: 0.818,
  /**
   * So much of a body on the way stops the radio: muscle takes about 0.9 dB a millimetre at 5 GHz (from
   * memory, after Gabriel et al. 1996), which is far more than any link has to spare.
   */
  stopsM: 0.1,
  /** Ways that the wearer may face, equally likely. */
  headings: 24,
  /** Where the other may stand as seen from the tracker: these bearings, at each of these distances. */
  bearings: 24,
  distancesM: [0.6, 1, 1.5],
} as const;

/** Sets of anchors are two words of 24 bits, so that `high * 2^24 + low` is a whole number. */
const WORD = 24;
const WORD_SIZE = 2 ** WORD;

interface Offset {
  readonly x: number;
  readonly y: number;
}

/** Where the axes of two bodies may be as seen from a tracker, each place equally likely. */
export interface Bodies {
  readonly ownHeightM: number;
  readonly otherHeightM: number;
  readonly own: readonly Offset[];
  readonly others: readonly Offset[];
  /** For each of `own`, which of `others` leave both bodies room. */
  readonly room: readonly (readonly boolean[])[];
}

/** @param wornAtM height of the tracker above the floor */
export function bodiesAround(wornAtM: number, ownHeightM: number, otherHeightM: number): Bodies {
  const isOnHead = wornAtM > BODY.shoulders * ownHeightM;
  const own = ring(BODY.headings, [isOnHead ? BODY.headRadiusM : BODY.trunkRadiusM]);
  const others = ring(BODY.bearings, BODY.distancesM);
  const room = own.map(a =>
    others.map(b => Math.hypot(a.x - b.x, a.y - b.y) >= 2 * BODY.trunkRadiusM),
  );
  return { ownHeightM, otherHeightM, own, others, room };
}

function ring(count: number, distances: readonly number[]): Offset[] {
  return distances.flatMap(distance =>
    Array.from({ length: count }, (_, i) => ({
      x: distance * Math.cos((2 * Math.PI * i) / count),
      y: distance * Math.sin((2 * Math.PI * i) / count),
    })),
  );
}

/** What stands around a place: filled anew by `lookFrom`. */
export interface View {
  /** Geometry of each anchor alone, one after the other. */
  readonly terms: Float64Array;
  /** Anchors that no obstacle hides. */
  readonly clear: AnchorSet;
  /** Anchors in view for each heading of the wearer. */
  readonly own: readonly AnchorSet[];
  /** Anchors that the other does not hide, for each of their places. */
  readonly beside: readonly AnchorSet[];
}

export interface AnchorSet {
  low: number;
  high: number;
}

export interface Surroundings {
  readonly anchors: readonly AnchorOptions[];
  readonly obstacles: readonly ObstacleOptions[];
  readonly bodies: Bodies;
}

export function createView(anchors: number): View {
  const set = (): AnchorSet => ({ low: 0, high: 0 });
  return {
    terms: new Float64Array(anchors * GEOMETRY_SIZE),
    clear: set(),
    own: Array.from({ length: BODY.headings }, set),
    beside: Array.from({ length: BODY.bearings * BODY.distancesM.length }, set),
  };
}

/** @param at where the tracker is */
export function lookFrom(view: View, around: Surroundings, at: Readonly<Vec3>): void {
  const { clear, own, beside, terms } = view;
  const { bodies } = around;
  for (const set of [clear, ...own, ...beside]) set.low = set.high = 0;
  terms.fill(0);
  around.anchors.forEach(({ position }, index) => {
    const sums = terms.subarray(index * GEOMETRY_SIZE, (index + 1) * GEOMETRY_SIZE);
    addAnchor(sums, position.x - at.x, position.y - at.y, position.z - at.z);
    if (around.obstacles.some(({ solid }) => pathInM(solid, at, position) > 0)) return;
    put(clear, index);
    for (let i = 0; i < own.length; i++) {
      const set = own[i];
      const body = bodies.own[i];
      if (set === undefined || body === undefined) continue;
      if (!stops(at, position, body, bodies.ownHeightM)) put(set, index);
    }
    for (let i = 0; i < beside.length; i++) {
      const set = beside[i];
      const body = bodies.others[i];
      if (set === undefined || body === undefined) continue;
      if (!stops(at, position, body, bodies.otherHeightM)) put(set, index);
    }
  });
}

function stops(at: Readonly<Vec3>, anchor: Readonly<Vec3>, body: Offset, heightM: number): boolean {
  // A body on the far side of the tracker is on no line to this anchor.
  const ahead = body.x * (anchor.x - at.x) + body.y * (anchor.y - at.y);
  if (ahead <= 0) return false;
  const [x, y, shouldersM] = [at.x + body.x, at.y + body.y, BODY.shoulders * heightM];
  const path =
    pathInCylinderM(at, anchor, x, y, BODY.trunkRadiusM, 0, shouldersM) +
    pathInCylinderM(at, anchor, x, y, BODY.headRadiusM, shouldersM, heightM);
  return path > BODY.stopsM;
}

function put(set: AnchorSet, index: number): void {
  if (index < WORD) set.low |= 1 << index;
  else set.high |= 1 << (index - WORD);
}

/** How often each set of anchors is in view: keys to counts of situations, equally likely each. */
export type Situations = Map<number, number>;

export function keyOfSet({ low, high }: AnchorSet): number {
  return keyOf(low, high);
}

/**
 * The wearer alone, facing every way.
 * @param isPair two trackers on opposite sides of the body: the one that sees more counts
 */
export function ownSituations(view: View, out: Situations, isPair = false): Situations {
  out.clear();
  view.own.forEach((set, heading) => {
    const other = isPair ? view.own[oppositeOf(heading)] : undefined;
    const key = keyOfSet(set);
    count(out, other === undefined ? key : larger(key, keyOfSet(other)));
  });
  return out;
}

/** The heading for which the body stands on the other side of the tracker. */
export function oppositeOf(heading: number): number {
  return (heading + BODY.headings / 2) % BODY.headings;
}

function larger(a: number, b: number): number {
  return sizeOf(b) > sizeOf(a) ? b : a;
}

/** The wearer facing every way, and another beside at every place that leaves both bodies room. */
export function besideSituations(
  view: View,
  bodies: Bodies,
  out: Situations,
  isPair = false,
): Situations {
  out.clear();
  view.own.forEach((own, heading) => {
    const opposite = isPair ? view.own[oppositeOf(heading)] : undefined;
    const room = bodies.room[heading] ?? [];
    let last = -1;
    let run = 0;
    for (let i = 0; i < view.beside.length; i++) {
      const other = view.beside[i];
      if (other === undefined || room[i] !== true) continue;
      const seen = keyOf(own.low & other.low, own.high & other.high);
      const key =
        opposite === undefined
          ? seen
          : larger(seen, keyOf(opposite.low & other.low, opposite.high & other.high));
      // Neighbours mostly leave the same set: one look-up for a run of them.
      if (key === last) run++;
      else {
        if (run > 0) count(out, last, run);
        last = key;
        run = 1;
      }
    }
    if (run > 0) count(out, last, run);
  });
  return out;
}

function keyOf(low: number, high: number): number {
  return high * WORD_SIZE + low;
}

function count(situations: Situations, key: number, times = 1): void {
  situations.set(key, (situations.get(key) ?? 0) + times);
}

/** Anchors in a set. */
export function sizeOf(key: number): number {
  return bits(key % WORD_SIZE) + bits(Math.floor(key / WORD_SIZE));
}

function bits(word: number): number {
  let left = word;
  let size = 0;
  for (; left !== 0; size++) left &= left - 1;
  return size;
}

/** The geometry of a set of anchors, into `out`. */
export function geometryOf(view: View, key: number, out: Geometry): Geometry {
  out.fill(0);
  addWord(view, key % WORD_SIZE, 0, out);
  addWord(view, Math.floor(key / WORD_SIZE), WORD, out);
  return out;
}

function addWord(view: View, word: number, first: number, out: Geometry): void {
  for (let index = first, left = word; left !== 0; index++, left >>>= 1) {
    if ((left & 1) !== 0) addGeometry(out, view.terms, index * GEOMETRY_SIZE);
  }
}

export function isIn(key: number, index: number): boolean {
  const word = index < WORD ? key % WORD_SIZE : Math.floor(key / WORD_SIZE);
  return ((word >> (index % WORD)) & 1) !== 0;
}
