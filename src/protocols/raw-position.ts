/** A position as sent: metres, axes permuted, still in the frame of the tracking system. */
export interface RawPosition {
  tracker: string;
  x: number;
  y: number;
  z: number;
  /** 0 to 1, or undefined when the feed gives none. */
  quality: number | undefined;
  /** Charge left, 0 to 1; undefined when the feed gives none, or one that is out of range. */
  battery: number | undefined;
  /** What it gave as its charge, where that is out of range: per cent, say. */
  batteryOutside: number | undefined;
  /** When it was measured, by the clock of the tracking system, seconds; or undefined when it doesn't say. */
  stampS: number | undefined;
}

export function rawPosition(): RawPosition {
  return {
    tracker: '',
    x: 0,
    y: 0,
    z: 0,
    quality: undefined,
    battery: undefined,
    batteryOutside: undefined,
    stampS: undefined,
  };
}

/** What a feed gives as quality when a position is worth nothing, and when it is as good as it gets. */
export type QualityScale = readonly [worst: number, best: number];
export const PLAIN_QUALITY: QualityScale = [0, 1];

/** @returns 0 to 1; NaN where it lies outside of the scale */
export function qualityOn([worst, best]: QualityScale, given: number): number {
  const quality = (given - worst) / (best - worst);
  return quality >= 0 && quality <= 1 ? quality : Number.NaN;
}

/** The way back. */
export function qualityAs([worst, best]: QualityScale, quality: number): number {
  return worst + quality * (best - worst);
}
