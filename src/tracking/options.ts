export interface TrackingOptions {
  /** Standard deviation of a report at full quality, each axis, metres. */
  readonly noiseM: number;
  /** Density of the white acceleration noise on the floor plan, m^2/s^3. */
  readonly accelerationDensityHorizontal: number;
  /** The same upwards. */
  readonly accelerationDensityVertical: number;
  /** Largest normalised innovation squared (3 degrees of freedom) that is believed. */
  readonly gate: number;
  /** Gated reports that agree with each other for this long are a new place, seconds. */
  readonly reacquireAfterS: number;
  /** And there must be so many of them. */
  readonly reacquireReports: number;
  /** How far apart two reports in a row may be for one person, beyond the noise, metres a second. */
  readonly maxSpeedMps: number;
  /** Beyond this age of the last report the estimate stands still instead of running on, seconds. */
  readonly maxPredictionS: number;
}

export const DEFAULT_TRACKING_OPTIONS: TrackingOptions = {
  // Ultra-wideband ranging errors are about 0.15 m (arXiv:2402.10515), position a little better.
  noiseM: 0.1,
  // Acceleration of a performer changes by some 2 m/s^2 within about a second: q = a^2 t. Common practice.
  accelerationDensityHorizontal: 4,
  // Heads go up and down far less than people walk. Common practice.
  accelerationDensityVertical: 1,
  // Chi-square, 3 degrees of freedom, 99.9 % (scipy.stats.chi2.ppf).
  gate: 16.2662,
  // Longer than a burst of outliers of a few reports at 10 Hz. Common practice.
  reacquireAfterS: 0.6,
  reacquireReports: 5,
  // Peak of sprinters 9.46 m/s (di Prampero et al. 2005), the fastest that anyone on a stage can be.
  maxSpeedMps: 9.46,
  maxPredictionS: 0.5,
};
