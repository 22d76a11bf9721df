export const CURVES = ['linear', 'smooth', 'square', 'root', 'switch'] as const;
export type NamedCurve = (typeof CURVES)[number];

/** A named shape, or points [presence, level] between which it runs straight; all 0..1. */
export type CurveOptions = NamedCurve | readonly (readonly [number, number])[];

export interface EnvelopeOptions {
  /** 0 to full, seconds; 0 = at once. */
  readonly inS: number;
  /** Full to 0, seconds. */
  readonly outS: number;
}

export interface SoftEdge {
  /** Width of the border outside of the edge over which presence falls from 1 to 0, metres. */
  readonly featherM: number;
  /** How far a performer can move without the presence following, so that noise doesn't, metres. */
  readonly hysteresisM: number;
}
