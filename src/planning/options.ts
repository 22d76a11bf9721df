import type { AreaOptions } from '../stage/area.js';
import type { Bounds, Vec3 } from '../stage/vector.js';

/** How the tracking system measures: times of flight, or differences of times of arrival. */
export const RANGING_KINDS = ['range', 'time-difference'] as const;
export type RangingKind = (typeof RANGING_KINDS)[number];

export interface AnchorOptions {
  readonly name: string;
  /** Stage frame, metres. */
  readonly position: Readonly<Vec3>;
}

/** Something the radio does not pass: a wall, a metal flat, a full tank. */
export type SolidOptions =
  | { readonly kind: 'box'; readonly min: Readonly<Vec3>; readonly max: Readonly<Vec3> }
  | {
      readonly kind: 'cylinder';
      readonly x: number;
      readonly y: number;
      readonly radiusM: number;
      readonly fromM: number;
      readonly toM: number;
    };

export interface ObstacleOptions {
  readonly name: string;
  readonly solid: SolidOptions;
}

export interface RangingOptions {
  readonly by: RangingKind;
  /** Standard deviation of one range, or of one time of arrival times the speed of light, metres. */
  readonly errorM: number;
}

/** Where a tracker is worn, and the body that it is worn on. */
export interface WearerOptions {
  readonly heightM: number;
  /** Height of the tracker above the floor, metres. */
  readonly wornAtM: number;
  /**
   * Trackers on opposite sides of the body: the one that sees more anchors counts. Left out: one, or several
   * on one side.
   */
  readonly isPair?: boolean | undefined;
  /** Who wears it, for messages. */
  readonly label?: string | undefined;
}

export interface LightOptions {
  readonly name: string;
  readonly position: Readonly<Vec3>;
}

export interface PlanOptions {
  /** Where performers can be. */
  readonly bounds: Bounds;
  readonly anchors: readonly AnchorOptions[];
  readonly obstacles: readonly ObstacleOptions[];
  readonly lights: readonly LightOptions[];
  /** Drawn only: where a place has to be known well. */
  readonly zones?: readonly { readonly label: string; readonly area: AreaOptions }[];
  readonly ranging: RangingOptions;
  readonly wearers: readonly WearerOptions[];
  /** Distance between two places of the map, metres. */
  readonly stepM: number;
}

/** More than the working volume of one system holds; a set of anchors in view is two words of bits. */
export const MOST_ANCHORS = 48;

/** 0.1 to 0.2 m is what ultra-wideband ranging is reported with (arXiv 2402.10515: about 0.15 m). */
export const DEFAULT_RANGING: RangingOptions = { by: 'range', errorM: 0.15 };
export const DEFAULT_HEIGHT_M = 1.7;
/** Below the top of the head: a tracker on the shoulder or at the nape of the neck. Common practice. */
export const WORN_BELOW_TOP_M = 0.2;
