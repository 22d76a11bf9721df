/**
 * The two-state (position, velocity) Kalman filter of one axis, as plain functions with their
 * equations. Notation of Welch and Bishop, An Introduction to the Kalman Filter (UNC TR 95-041):
 *
 *   predict  x = F x,  P = F P F' + Q        F = [[1, T], [0, 1]]; damped: see below
 *   update   S = P11 + R,  K = [P11, P12]' / S,  x = x + K (z - x1),  P = (I - K H) P (I - K H)' + K R K'
 */
export interface Covariance {
  /** Position variance, m^2. */
  p11: number;
  /** Position-velocity covariance, m^2/s. */
  p12: number;
  /** Velocity variance, m^2/s^2. */
  p22: number;
}

export interface AxisState {
  /** Metres. */
  position: number;
  /** Metres a second. */
  velocity: number;
}

/** Process noise over an interval, the symmetric Q of the state. */
export interface ProcessNoise {
  q11: number;
  q12: number;
  q22: number;
}

/**
 * Continuous white noise acceleration: Q = q [[T^3/3, T^2/2], [T^2/2, T]] (Bar-Shalom, Li and
 * Kirubarajan, Estimation with Applications to Tracking and Navigation, 6.2.2).
 * @param density q, m^2/s^3
 */
export function whiteAcceleration(
  density: number,
  intervalS: number,
  out: ProcessNoise,
): ProcessNoise {
  out.q22 = density * intervalS;
  out.q12 = (out.q22 * intervalS) / 2;
  out.q11 = (out.q22 * intervalS * intervalS) / 3;
  return out;
}

/**
 * The same white acceleration, of a velocity that dies out with time constant m: dv = -v/m dt + sqrt(q) dW.
 * With phi = exp(-T/m): Qvv = q m/2 (1 - phi^2), Qpv = q m^2/2 (1 - phi)^2,
 * Qpp = q m^3/2 (2T/m - 3 + 4 phi - phi^2) (Singer, IEEE Trans. AES-6:473, 1970; from memory).
 * @param memoryS m, seconds
 */
export function dampedAcceleration(
  density: number,
  memoryS: number,
  intervalS: number,
  out: ProcessNoise,
): ProcessNoise {
  const share = intervalS / memoryS;
  // So short an interval leaves the difference to rounding, and the damping nothing to do.
  if (share < 1e-3) return whiteAcceleration(density, intervalS, out);
  const phi = Math.exp(-share);
  out.q22 = ((density * memoryS) / 2) * (1 - phi * phi);
  out.q12 = ((density * memoryS ** 2) / 2) * (1 - phi) ** 2;
  out.q11 = ((density * memoryS ** 3) / 2) * (2 * share - 3 + 4 * phi - phi * phi);
  return out;
}

/**
 * P = F P F' + Q, in place, with F = [[1, reach], [0, keep]].
 * @param reachS how far a velocity of 1 m/s leads: the interval, or less where it dies out
 * @param keep what is left of a velocity after the interval
 */
export function predictCovariance(
  p: Covariance,
  reachS: number,
  q: Readonly<ProcessNoise>,
  keep = 1,
): void {
  const { p12, p22 } = p;
  p.p11 += reachS * (2 * p12 + reachS * p22) + q.q11;
  p.p12 = keep * (p12 + reachS * p22) + q.q12;
  p.p22 = keep * keep * p22 + q.q22;
}

/** x = F x, in place; see `predictCovariance`. */
export function predictState(state: AxisState, reachS: number, keep = 1): void {
  state.position += reachS * state.velocity;
  state.velocity *= keep;
}

export interface Gain {
  k1: number;
  k2: number;
}

/**
 * Gain for a position measurement, and the covariance after it (Joseph's form, which stays symmetric
 * and positive whatever the rounding).
 * @param noiseVariance R, m^2, above 0
 */
export function updateCovariance(p: Covariance, noiseVariance: number, out: Gain): Gain {
  const s = p.p11 + noiseVariance;
  const k1 = p.p11 / s;
  const k2 = p.p12 / s;
  const keep = 1 - k1;
  const { p11, p12, p22 } = p;
  p.p11 = keep * keep * p11 + k1 * k1 * noiseVariance;
  p.p12 = keep * (p12 - k2 * p11) + k1 * k2 * noiseVariance;
  p.p22 = p22 - 2 * k2 * p12 + k2 * k2 * p11 + k2 * k2 * noiseVariance;
  out.k1 = k1;
  out.k2 = k2;
  return out;
}

/** x = x + K (z - x1), in place. */
export function updateState(state: AxisState, gain: Readonly<Gain>, innovation: number): void {
  state.position += gain.k1 * innovation;
  state.velocity += gain.k2 * innovation;
}
