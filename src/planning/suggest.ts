import { distance, type Vec3 } from '../stage/vector.js';
import {
  addGeometry,
  GEOMETRY_SIZE,
  geometry,
  horizontalWith,
  subtractGeometry,
} from './dilution.js';
import { MOST_ANCHORS, type PlanOptions, type WearerOptions } from './options.js';
import { CUBE_M, LIGHT_CLEARANCE_M } from './rules.js';
import { holds } from './solid.js';
import { FEWEST_ANCHORS, gridOf, heightInformation, placeAt, surroundingsOf } from './survey.js';
import { BODY, createView, isIn, keyOfSet, lookFrom, oppositeOf } from './view.js';

/** One change of the layout, and what it brings. */
export interface Suggestion {
  readonly kind: 'add' | 'move';
  /** What it is for: less error, or an anchor in reserve in more places. */
  readonly for: 'error' | 'reserve';
  /** The anchor to move. */
  readonly anchor: string | undefined;
  readonly to: Readonly<Vec3>;
  readonly before: Worth;
  readonly after: Worth;
}

/** What a layout is worth, the performer facing the worst way at each place. */
export interface Worth {
  /** Mean error over the stage, metres; a place without a position counts as LOST_M. */
  readonly meanErrorM: number;
  /** Share of the stage where there is a position. */
  readonly positionShare: number;
  /** Share of it where 3 anchors are in view still when any one of them fails: one is in reserve. */
  readonly reserveShare: number;
}

/** A light that has lost its performer is as bad as one that is this far off. */
const LOST_M = 2;

/** The error is looked at in about so many places. */
const PLACES = 300;
/** So many candidates round the stage, at each height. */
const ROUND = 36;
/** How far outside the edge of the stage, and apart from other anchors, metres. */
const OUTSIDE_M = 0.6;
const APART_M = 1;
/** A change that brings less is not worth a ladder. */
const LEAST_GAIN = 0.03;
/** Nor is a reserve in less of the stage than this. */
const LEAST_RESERVE_GAIN = 0.05;
/** Anchors that are tried elsewhere. */
const MOVABLE = 4;

/** Anchors in view at each place for each heading: the sums of all, and each one's part. */
interface Sample {
  readonly terms: Float64Array;
  /** Sums of the anchors in view, a geometry a heading. */
  readonly sums: Float64Array;
  /** Which anchors are in view, a set a heading. */
  readonly keys: readonly number[];
}

/**
 * The one anchor to add and the one to move that take most off the error, for one of the wearers, and the one to add that leaves
 * most of the stage with an anchor in reserve, where that is another one; none where nothing helps enough.
 */
export function suggest(options: PlanOptions, wearer: WearerOptions): Suggestion[] {
  const around = surroundingsOf(options, wearer);
  const candidates = candidatesFor(options);
  const area = options.bounds;
  const [width, depth] = [area.max.x - area.min.x, area.max.y - area.min.y];
  const stepM = Math.max(options.stepM, Math.sqrt((width * depth) / PLACES));
  const grid = gridOf({ ...options, stepM }, wearer.wornAtM);
  const all = [...options.anchors, ...candidates.map(position => ({ name: '', position }))];
  const known = options.anchors.length;
  const score = scorer(options, wearer.isPair === true);
  const samples: Sample[] = [];
  const candidateViews: { readonly parts: readonly Float64Array[]; readonly seen: Uint8Array }[] =
    [];
  const at = { x: 0, y: 0, z: 0 };
  const view = createView(known);
  // Candidates are looked at in groups that a set can hold.
  const group = createView(MOST_ANCHORS);
  for (let i = 0; i < grid.columns * grid.rows; i++) {
    placeAt(grid, i, at);
    if (options.obstacles.some(({ solid }) => holds(solid, at))) continue;
    lookFrom(view, around, at);
    const keys = view.own.map(keyOfSet);
    const sums = new Float64Array(keys.length * GEOMETRY_SIZE);
    keys.forEach((key, heading) => {
      const part = sums.subarray(heading * GEOMETRY_SIZE, (heading + 1) * GEOMETRY_SIZE);
      for (let a = 0; a < known; a++) {
        if (isIn(key, a)) addGeometry(part, view.terms, a * GEOMETRY_SIZE);
      }
    });
    samples.push({ terms: view.terms.slice(), sums, keys });
    const terms = new Float64Array(candidates.length * GEOMETRY_SIZE);
    const seen = new Uint8Array(candidates.length * keys.length);
    for (let from = known; from < all.length; from += MOST_ANCHORS) {
      const anchors = all.slice(from, from + MOST_ANCHORS);
      lookFrom(group, { ...around, anchors }, at);
      const length = anchors.length * GEOMETRY_SIZE;
      terms.set(group.terms.subarray(0, length), (from - known) * GEOMETRY_SIZE);
      group.own.forEach((set, heading) => {
        const key = keyOfSet(set);
        anchors.forEach((_, index) => {
          if (isIn(key, index)) seen[(from - known + index) * keys.length + heading] = 1;
        });
      });
    }
    const parts = candidates.map((_, index) =>
      terms.subarray(index * GEOMETRY_SIZE, (index + 1) * GEOMETRY_SIZE),
    );
    candidateViews.push({ parts, seen });
  }

  const before = score(samples, undefined, () => undefined);
  const best = (without: number | undefined, isBetter: Better): Found | undefined => {
    let found: Found | undefined;
    candidates.forEach((to, index) => {
      const others = options.anchors.filter((_, a) => a !== without);
      if (!fits(others, to)) return;
      const after = score(samples, without, (place, heading) => {
        const one = candidateViews[place];
        const isSeen = one?.seen[index * (samples[place]?.keys.length ?? 0) + heading] === 1;
        return isSeen ? one.parts[index] : undefined;
      });
      if (isBetter(after, found?.after)) found = { to, after };
    });
    return found;
  };

  const suggestions: Suggestion[] = [];
  const offer = (
    kind: Suggestion['kind'],
    anchor: string | undefined,
    found: Found | undefined,
  ) => {
    if (found !== undefined && found.after.meanErrorM < (1 - LEAST_GAIN) * before.meanErrorM) {
      suggestions.push({ kind, for: 'error', anchor, to: found.to, before, after: found.after });
    }
  };
  if (known < MOST_ANCHORS) offer('add', undefined, best(undefined, hasLessError));
  let moved: { anchor: string; found: Found } | undefined;
  for (const index of leastMissed(options, samples, score)) {
    const found = best(index, hasLessError);
    const anchor = options.anchors[index]?.name;
    if (found === undefined || anchor === undefined) continue;
    if (hasLessError(found.after, moved?.found.after)) moved = { anchor, found };
  }
  if (moved !== undefined) offer('move', moved.anchor, moved.found);
  // Another place may do more for the evening on which an anchor fails.
  const most = Math.max(
    ...[before, ...suggestions.map(one => one.after)].map(one => one.reserveShare),
  );
  const reserve = known < MOST_ANCHORS ? best(undefined, hasMoreReserve) : undefined;
  if (reserve !== undefined && reserve.after.reserveShare >= most + LEAST_RESERVE_GAIN) {
    suggestions.push({ kind: 'add', for: 'reserve', anchor: undefined, before, ...reserve });
  }
  return suggestions;
}

interface Found {
  readonly to: Vec3;
  readonly after: Worth;
}

type Better = (a: Worth, b: Worth | undefined) => boolean;

function hasLessError(a: Worth, b: Worth | undefined): boolean {
  return b === undefined || a.meanErrorM < b.meanErrorM;
}

function hasMoreReserve(a: Worth, b: Worth | undefined): boolean {
  if (b === undefined || a.reserveShare > b.reserveShare) return true;
  return a.reserveShare === b.reserveShare && a.meanErrorM < b.meanErrorM;
}

/** The anchors that the layout would miss least: the only ones worth moving. */
function leastMissed(
  { anchors }: PlanOptions,
  samples: readonly Sample[],
  score: ReturnType<typeof scorer>,
): number[] {
  return anchors
    .map((_, index) => ({ index, missed: score(samples, index, () => undefined) }))
    .sort((a, b) => a.missed.meanErrorM - b.missed.meanErrorM)
    .slice(0, MOVABLE)
    .map(({ index }) => index);
}

/** Places that the rules of common practice allow: round the stage, at the heights in use. */
function candidatesFor({ bounds: { min, max }, anchors, lights, obstacles, wearers }: PlanOptions) {
  const [x0, x1] = [min.x - OUTSIDE_M, max.x + OUTSIDE_M];
  const [y0, y1] = [min.y - OUTSIDE_M, max.y + OUTSIDE_M];
  const [width, depth] = [x1 - x0, y1 - y0];
  const heads = Math.max(...wearers.map(one => one.heightM));
  const used = anchors.map(one => one.position.z);
  const low = Math.max(heads + 0.5, Math.min(...used));
  const heights = [...new Set([low, Math.max(low, ...used)])];
  return Array.from({ length: ROUND }, (_, i) => {
    let along = ((width + depth) * 2 * i) / ROUND;
    if (along < width) return [x0 + along, y0];
    along -= width;
    if (along < depth) return [x1, y0 + along];
    along -= depth;
    return along < width ? [x1 - along, y1] : [x0, y1 - (along - width)];
  })
    .flatMap(([x = 0, y = 0]) => heights.map(z => ({ x: tenth(x), y: tenth(y), z: tenth(z) })))
    .filter(
      at =>
        lights.every(({ position }) => distance(position, at) >= LIGHT_CLEARANCE_M) &&
        obstacles.every(({ solid }) => !holds(solid, at)),
    );
}

function fits(anchors: PlanOptions['anchors'], to: Readonly<Vec3>): boolean {
  return anchors.every(
    ({ position: p }) =>
      distance(p, to) >= APART_M &&
      Math.abs(p.x - to.x) <= CUBE_M &&
      Math.abs(p.y - to.y) <= CUBE_M &&
      Math.abs(p.z - to.z) <= CUBE_M,
  );
}

/** The part of an anchor that is not there yet, where it is in view. */
type Extra = (place: number, heading: number) => Float64Array | undefined;

/** @param isPair of two trackers on opposite sides of the body the better one counts */
function scorer(options: PlanOptions, isPair: boolean) {
  const heightKnown = heightInformation(options);
  const { by, errorM } = options.ranging;
  const sums = geometry();
  const errors = new Float64Array(BODY.headings);
  const counts = new Uint8Array(BODY.headings);
  return (samples: readonly Sample[], without: number | undefined, extra: Extra): Worth => {
    let [total, positions, reserves] = [0, 0, 0];
    samples.forEach((sample, place) => {
      let lastError = 0;
      let lastCount = 0;
      let lastKey = -1;
      let lastAdded: ReturnType<Extra>;
      sample.keys.forEach((key, heading) => {
        const added = extra(place, heading);
        // The head turned a little, and hides the same anchors.
        if (key === lastKey && added === lastAdded) {
          errors[heading] = lastError;
          counts[heading] = lastCount;
          return;
        }
        lastKey = key;
        lastAdded = added;
        const from = heading * GEOMETRY_SIZE;
        for (let i = 0; i < GEOMETRY_SIZE; i++) sums[i] = sample.sums[from + i] ?? 0;
        if (without !== undefined && isIn(key, without)) {
          subtractGeometry(sums, sample.terms, without * GEOMETRY_SIZE);
        }
        if (added !== undefined) addGeometry(sums, added);
        const count = Math.round(sums[0] ?? 0);
        lastError =
          count < FEWEST_ANCHORS
            ? Number.POSITIVE_INFINITY
            : errorM * horizontalWith(sums, by, heightKnown);
        errors[heading] = lastError;
        lastCount = count;
        counts[heading] = count;
      });
      let worst = 0;
      let fewest = Number.POSITIVE_INFINITY;
      errors.forEach((error, heading) => {
        const opposite = isPair ? oppositeOf(heading) : heading;
        worst = Math.max(worst, Math.min(error, errors[opposite] ?? error));
        fewest = Math.min(fewest, Math.max(counts[heading] ?? 0, counts[opposite] ?? 0));
      });
      total += Math.min(worst, LOST_M);
      if (Number.isFinite(worst)) positions++;
      if (Number.isFinite(worst) && fewest > FEWEST_ANCHORS) reserves++;
    });
    const count = samples.length || 1;
    return {
      meanErrorM: total / count,
      positionShare: positions / count,
      reserveShare: reserves / count,
    };
  };
}

function tenth(value: number): number {
  return Math.round(10 * value) / 10;
}
