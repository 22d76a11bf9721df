import type { Bounds, Vec3 } from '../stage/vector.js';
import type { Finding } from './finding.js';
import type { Pair, Placement } from './rigid.js';

/** A place taped out on the stage and measured by the tracking system. */
export interface Marker extends Pair {
  readonly name: string;
  /** Standard error of one axis of the tracked place, metres; 0 if it isn't known. */
  readonly errorM: number;
  /** `check` markers are kept out of the fit, and test it. */
  readonly use: 'fit' | 'check';
}

export interface FrameOptions {
  /** The placement of the input in the show now. */
  readonly now: Placement;
  readonly fitScale: boolean;
  readonly level: boolean;
  /** A marker that the fit misses by more than this counts as wrong, metres. */
  readonly toleranceM: number;
  readonly bounds: Bounds;
}

export interface MarkerResult {
  readonly name: string;
  readonly use: 'fit' | 'check';
  readonly stage: Readonly<Vec3>;
  /** Where the fit places it, stage frame, metres. */
  readonly placed: Readonly<Vec3>;
  readonly offM: number;
  readonly offHorizontalM: number;
  readonly offVerticalM: number;
  /** How far off the show's present frame is there, metres. */
  readonly nowOffM: number;
}

export interface TapedDistance {
  readonly from: string;
  readonly to: string;
  readonly tapedM: number;
  readonly trackedM: number;
}

export interface FrameFit {
  readonly placement: Placement;
  readonly markers: readonly MarkerResult[];
  /** Root mean square of the distances at the markers of the fit, metres. */
  readonly rmsM: number;
  /** Taped metres in a tracked metre, with its standard error: always reported, used only with `--scale`. */
  readonly scale: { readonly ratio: number; readonly error: number };
  readonly distances: readonly TapedDistance[];
  /** Angle between the vertical of the tracking system and that of the stage, radians. */
  readonly tilt: number;
  /** Standard errors of the three turns (about stage x, y, z), radians. */
  readonly turnErrors: readonly [number, number, number];
  /** Expected error of a placed point at the corner of the stage where it is largest, metres (rms). */
  readonly worstCornerM: number;
  readonly findings: readonly Finding[];
}
