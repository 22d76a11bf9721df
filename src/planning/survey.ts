import type { Vec3 } from '../stage/vector.js';
import { dilution, geometry, horizontalWith } from './dilution.js';
import type { PlanOptions, RangingKind, RangingOptions, WearerOptions } from './options.js';
import { holds } from './solid.js';
import {
  besideSituations,
  bodiesAround,
  createView,
  geometryOf,
  keyOfSet,
  lookFrom,
  ownSituations,
  type Situations,
  type Surroundings,
  sizeOf,
  type View,
} from './view.js';

/** Places of the map: the middles of squares that cover the stage, row by row from downstage right. */
export interface Grid {
  readonly fromX: number;
  readonly fromY: number;
  readonly stepM: number;
  readonly columns: number;
  readonly rows: number;
  /** Height of the trackers, metres. */
  readonly heightM: number;
}

/** A quantity over the map, and what bodies make of it. */
export interface Shaded<T> {
  /** Nobody in the way. */
  readonly clear: T;
  /** The wearer's own body: facing the worst way, and the median over all ways. */
  readonly own: { readonly worst: T; readonly likely: T };
  /** Another body beside as well: the worst case, and the median over all. */
  readonly beside: { readonly worst: T; readonly likely: T };
}

export interface DilutionMap {
  readonly horizontal: Float64Array;
  readonly vertical: Float64Array;
}

export interface Survey {
  readonly grid: Grid;
  /** 0 where an obstacle stands, and nobody can. Other maps are 0 there. */
  readonly open: Uint8Array;
  /** With all the anchors that no obstacle hides. */
  readonly dilution: Readonly<Record<RangingKind, DilutionMap>>;
  readonly inView: Shaded<Uint8Array>;
  /** Expected error across the floor (root mean square), metres; infinite where there is no position. */
  readonly errorM: Shaded<Float64Array>;
}

/** Fewer anchors leave more than one place to be in, even with the height known. */
export const FEWEST_ANCHORS = 3;

export function surroundingsOf(
  options: PlanOptions,
  { wornAtM, heightM }: WearerOptions,
): Surroundings {
  const tallestM = Math.max(...options.wearers.map(one => one.heightM));
  return {
    anchors: options.anchors,
    obstacles: options.obstacles,
    bodies: bodiesAround(wornAtM, heightM, tallestM),
  };
}

export function gridOf({ bounds, stepM }: PlanOptions, heightM: number): Grid {
  const { min, max } = bounds;
  // Rounding must not add a column to a stage that is a whole number of steps wide.
  const count = (length: number) => Math.max(1, Math.ceil(length / stepM - 1e-9));
  return {
    fromX: min.x,
    fromY: min.y,
    stepM,
    columns: count(max.x - min.x),
    rows: count(max.y - min.y),
    heightM,
  };
}

export function placeAt(grid: Grid, index: number, out: Vec3): Vec3 {
  out.x = grid.fromX + ((index % grid.columns) + 0.5) * grid.stepM;
  out.y = grid.fromY + (Math.floor(index / grid.columns) + 0.5) * grid.stepM;
  out.z = grid.heightM;
  return out;
}

/**
 * What is known of the height beforehand, as information: a performer is between the lowest and the
 * highest place of the stage, a spread with the deviation (highest - lowest) / sqrt(12).
 */
export function heightInformation({ bounds, ranging }: PlanOptions): number {
  const spreadM = (bounds.max.z - bounds.min.z) / Math.sqrt(12);
  return spreadM > 0 ? (ranging.errorM / spreadM) ** 2 : Number.POSITIVE_INFINITY;
}

/** The map of the stage for one of its wearers: dilution, anchors in view, expected error. */
export function survey(options: PlanOptions, wearer: WearerOptions): Survey {
  const { wornAtM, isPair } = wearer;
  const grid = gridOf(options, wornAtM);
  const size = grid.columns * grid.rows;
  const around = surroundingsOf(options, wearer);
  const view = createView(options.anchors.length);
  const maps = createMaps(size);
  const heightKnown = heightInformation(options);
  const at = { x: 0, y: 0, z: 0 };
  const sums = geometry();
  const situations: Situations = new Map();
  const errors: Weighted[] = [];
  for (let i = 0; i < size; i++) {
    placeAt(grid, i, at);
    if (options.obstacles.some(({ solid }) => holds(solid, at))) continue;
    maps.open[i] = 1;
    lookFrom(view, around, at);
    const clear = keyOfSet(view.clear);
    geometryOf(view, clear, sums);
    for (const by of ['range', 'time-difference'] as const) {
      const { horizontal, vertical } = dilution(sums, by);
      maps.dilution[by].horizontal[i] = horizontal;
      maps.dilution[by].vertical[i] = vertical;
    }
    maps.inView.clear[i] = sizeOf(clear);
    maps.errorM.clear[i] = errorOf(view, clear, options.ranging, heightKnown, sums);
    for (const who of ['own', 'beside'] as const) {
      const all =
        who === 'own'
          ? ownSituations(view, situations, isPair)
          : besideSituations(view, around.bodies, situations, isPair);
      errors.length = 0;
      let fewest = Number.POSITIVE_INFINITY;
      for (const [key, times] of all) {
        fewest = Math.min(fewest, sizeOf(key));
        const errorM = errorOf(view, key, options.ranging, heightKnown, sums);
        errors.push({ value: errorM, size: sizeOf(key), times });
      }
      errors.sort((a, b) => a.value - b.value || b.size - a.size);
      maps.inView[who].worst[i] = fewest;
      maps.errorM[who].worst[i] = errors.at(-1)?.value ?? Number.POSITIVE_INFINITY;
      maps.errorM[who].likely[i] = middle(errors)?.value ?? Number.POSITIVE_INFINITY;
      errors.sort((a, b) => a.size - b.size);
      maps.inView[who].likely[i] = middle(errors)?.size ?? 0;
    }
  }
  return { grid, ...maps };
}

interface Weighted {
  readonly value: number;
  readonly size: number;
  readonly times: number;
}

/** The weighted median of a sorted list; of two in the middle the later. */
function middle(sorted: readonly Weighted[]): Weighted | undefined {
  let left = sorted.reduce((sum, { times }) => sum + times, 0) / 2;
  return sorted.find(({ times }) => {
    left -= times;
    return left < 0;
  });
}

/** Expected error across the floor with a set of anchors in view, metres. */
export function errorOf(
  view: View,
  key: number,
  { by, errorM }: RangingOptions,
  heightKnown: number,
  sums = geometry(),
): number {
  if (sizeOf(key) < FEWEST_ANCHORS) return Number.POSITIVE_INFINITY;
  return errorM * horizontalWith(geometryOf(view, key, sums), by, heightKnown);
}

function createMaps(size: number): Omit<Survey, 'grid'> {
  const floats = () => new Float64Array(size);
  const shaded = <T>(make: () => T): Shaded<T> => ({
    clear: make(),
    own: { worst: make(), likely: make() },
    beside: { worst: make(), likely: make() },
  });
  const pair = (): DilutionMap => ({ horizontal: floats(), vertical: floats() });
  return {
    open: new Uint8Array(size),
    dilution: { range: pair(), 'time-difference': pair() },
    inView: shaded(() => new Uint8Array(size)),
    errorM: shaded(floats),
  };
}
