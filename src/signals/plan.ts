import type { CurveOptions } from '../mapping/options.js';
import type { PlanPoint } from '../stage/area.js';
import type { Radians } from '../stage/units.js';

/**
 * Signals and conditions of a checked show: names are indices, angles radians, all else metres and seconds. See
 * docs/decisions/0024-signals-conditions-cues.md for what each means.
 */

/** What a signal is counted in. `share`: 0 to 1 by nature or by its range; only these drive a mapping. */
export type SignalUnit = 'share' | 'metres' | 'radians' | 'seconds' | 'speed' | 'people' | 'raw';

/** Performers by index, each once. Of several it is the nearest, or whatever the source says. */
export type Performers = readonly number[];

/** The far end of a distance, or what somebody walks towards. */
export type PlacePlan =
  | { readonly kind: 'performers'; readonly performers: Performers }
  /** Without `z` it is on the plan: heights don't count. */
  | { readonly kind: 'point'; readonly x: number; readonly y: number; readonly z?: number }
  /** Its nearest edge; 0 inside. It may move with somebody. */
  | { readonly kind: 'zone'; readonly zone: number };

export type SignalSource =
  /** 0 to 1: the greatest of the performers' presences, or the least where `every` one has to be there. */
  | {
      readonly kind: 'presence';
      readonly zone: number;
      readonly performers: Performers;
      readonly every: boolean;
    }
  /** Metres from the nearest of the performers, never from one to themselves; on the plan but to a point with `z` or a zone with heights. */
  | { readonly kind: 'distance'; readonly performers: Performers; readonly to: PlacePlan }
  /** Metres from the start of a line of two or more points to the point of it that is nearest to the performer, on the plan. */
  | { readonly kind: 'along'; readonly performer: number; readonly line: readonly PlanPoint[] }
  /**
   * 0 to 1: where the performer is between the two sides of a zone, looking along a direction. With `p` on the plan
   * and `c` the performer that the zone is around (0, 0 for one that stays): ((p - c) . d - fromM) / (toM - fromM), held to 0 to 1.
   */
  | {
      readonly kind: 'across';
      readonly performer: number;
      readonly zone: number;
      /** A unit vector on the plan. */
      readonly directionX: number;
      readonly directionY: number;
      readonly fromM: number;
      readonly toM: number;
    }
  /** Height of the tracked point in the stage frame, metres: of several the greatest. */
  | { readonly kind: 'height'; readonly performers: Performers }
  /** On the plan, metres a second: of several the greatest. */
  | { readonly kind: 'speed'; readonly performers: Performers }
  /**
   * Radians, 0 to pi: how far the direction of travel is off a direction on the plan (anticlockwise from x), or off
   * the way to a place. Too slow to have a direction, it stays as it was; before there was any it is pi.
   */
  | {
      readonly kind: 'heading';
      readonly performer: number;
      readonly towards: { readonly kind: 'direction'; readonly angle: Radians } | PlacePlan;
    }
  /** Seconds for which the condition has been yes; 0 while it is no. */
  | { readonly kind: 'time'; readonly condition: number }
  /** How many of the performers are in the zone: those whose presence is at least a half. */
  | { readonly kind: 'count'; readonly zone: number; readonly performers: Performers }
  /** A number that comes in by OSC; unknown before the first and after a silence of `timeoutS`. */
  | {
      readonly kind: 'osc';
      /** Index of its input. */
      readonly input: number;
      readonly address: string;
      /** Index of the argument. */
      readonly argument: number;
      /** Infinity: the last value stays. */
      readonly timeoutS: number;
    }
  /** 0 to 1: a slot of the desk, or two; unknown before the first packet, but where `gone` is a number. */
  | {
      readonly kind: 'slot';
      /** Index of its universe among those that are heard. */
      readonly desk: number;
      /** Indices of the slots; without a fine one it has 8 bits. */
      readonly coarse: number;
      readonly fine: number | undefined;
      /** What it is when the desk is gone. */
      readonly gone: 'hold' | 'unknown' | number;
    }
  /** 0 to 1, beginning at its least. `phase` in periods, 0 to 1. */
  | {
      readonly kind: 'wave';
      readonly shape: WaveShape;
      readonly periodS: number;
      readonly phase: number;
    }
  | { readonly kind: Arithmetic; readonly of: readonly Operand[] }
  /** 1 less the other, which is a share. */
  | { readonly kind: 'inverse'; readonly signal: number };

export const ARITHMETIC = ['product', 'sum', 'least', 'greatest'] as const;
export type Arithmetic = (typeof ARITHMETIC)[number];

/** A signal by index, or a number in the unit of the others. */
export type Operand =
  | { readonly kind: 'signal'; readonly signal: number }
  | { readonly kind: 'number'; readonly value: number };

export const WAVE_SHAPES = ['sine', 'triangle', 'square', 'ramp'] as const;
export type WaveShape = (typeof WAVE_SHAPES)[number];

/** In this order: the source, to 0..1 by the range, the curve, attack and release. */
export interface SignalPlan {
  /** As the file has it; a signal that differs from fixture to fixture is there once for each, with the fixture behind a slash. */
  readonly name: string;
  readonly source: SignalSource;
  /** Of what comes out. */
  readonly unit: SignalUnit;
  /** What the source is at 0 and at 1, in its own unit; from may be above to. Beyond it is held. */
  readonly range: { readonly from: number; readonly to: number } | undefined;
  readonly curve: CurveOptions | undefined;
  /** 0 to 1, and 1 to 0, seconds; 0 is at once. */
  readonly attackS: number;
  readonly releaseS: number;
  /** The least and the greatest that can come out; infinite where nothing limits it. */
  readonly least: number;
  readonly greatest: number;
}

export type ConditionTest =
  /**
   * `above`: yes at or above `on`, no at or below `off`, which is at or below `on`; in between as it was. `below`:
   * the same with the signs turned round. Where both are the same number, that number is a yes.
   */
  | {
      readonly kind: 'threshold';
      readonly signal: number;
      readonly direction: 'above' | 'below';
      readonly on: number;
      readonly off: number;
    }
  | { readonly kind: 'all' | 'any'; readonly of: readonly number[] }
  | { readonly kind: 'not'; readonly condition: number };

/** In this order: the test, `for`, `hold`. */
export interface ConditionPlan {
  /** As the file has it; of one that stands within another, where it stands. */
  readonly name: string;
  readonly test: ConditionTest;
  /** It has to be yes for so long before it counts, seconds. */
  readonly forS: number;
  /** It stays yes for so long after, seconds. */
  readonly holdS: number;
}

/** What is worked out in a tick one after the other: each after all that it is made of. */
export interface EvaluationStep {
  readonly kind: 'signal' | 'condition';
  readonly index: number;
}

export interface SignalSet {
  readonly signals: readonly SignalPlan[];
  readonly conditions: readonly ConditionPlan[];
  /** Names of those that differ from fixture to fixture, and that no mapping asks for: there are none of them above. */
  readonly unasked?: readonly string[];
  /** Every signal and condition once. */
  readonly order: readonly EvaluationStep[];
}
