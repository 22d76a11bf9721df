/**
 * Mean-reverting velocity (an Ornstein-Uhlenbeck process; "integrated OU" or first-order Singer
 * model): people keep their velocity for a while and then stop or turn.
 *
 *   dp = v dt,   dv = -v/tau dt + sqrt(2 sigma^2 / tau) dW
 *
 * sigma is the standing spread of the velocity along one axis (m/s), tau its memory (s), at the speed of the
 * moment. Exact over any interval T, with phi = exp(-T/tau):
 *
 *   F = [1  tau(1 - phi)]      Q_vv = sigma^2 (1 - phi^2)
 *       [0  phi         ]      Q_pv = sigma^2 tau (1 - phi)^2
 *                              Q_pp = sigma^2 tau^2 (2T/tau - 3 + 4 phi - phi^2)
 *
 * Sources: Uhlenbeck and Ornstein, Phys. Rev. 36:823, 1930 (the variance of the displacement);
 * R. A. Singer, IEEE Trans. AES-6:473, 1970 (the same algebra one derivative higher). Both from memory.
 * With tau -> infinity and 2 sigma^2/tau = q it becomes CWNA, Q = q [[T^3/3, T^2/2], [T^2/2, T]].
 */
export interface Regime {
  readonly name: string;
  /** Standing spread of the velocity along one axis, m/s. */
  readonly speedMps: number;
  /** How much of the present speed adds to `speedMps`: runners stop and turn harder than walkers. */
  readonly speedShare: number;
  /** How long a velocity lasts, s; and how much shorter it lasts at speed, s/m^2: 1/tau = 1/memoryS + brakingSpm2 v^2. */
  readonly memoryS: number;
  readonly brakingSpm2: number;
  /** Share of the time a performer spends in this regime; the shares add up to 1. */
  readonly share: number;
}

/** Transition over one interval: position += reach * velocity; velocity *= keep; plus noise Q. */
export interface Transition {
  keep: number;
  reach: number;
  qpp: number;
  qpv: number;
  qvv: number;
}

export function createTransition(): Transition {
  return { keep: 1, reach: 0, qpp: 0, qpv: 0, qvv: 0 };
}

/** The `reach` of that transition alone. */
export function reachOver(regime: Regime, intervalS: number, speed2: number): number {
  const tau = 1 / (1 / regime.memoryS + regime.brakingSpm2 * speed2);
  return tau * -Math.expm1(-intervalS / tau);
}

/**
 * Fills `out` with the exact transition of a regime over `intervalS` (>= 0) seconds.
 * @param speed2 square of the present speed, m^2/s^2: taken as constant over the interval
 */
export function transitionOver(
  regime: Regime,
  intervalS: number,
  out: Transition,
  speed2 = 0,
): Transition {
  const tau = 1 / (1 / regime.memoryS + regime.brakingSpm2 * speed2);
  const variance = regime.speedMps ** 2 + regime.speedShare ** 2 * speed2;
  const u = intervalS / tau;
  const lost = -Math.expm1(-u); // 1 - phi
  const phi = 1 - lost;
  out.keep = phi;
  out.reach = tau * lost;
  out.qvv = variance * lost * (1 + phi);
  out.qpv = variance * tau * lost * lost;
  // 2u - 3 + 4 phi - phi^2 cancels to (2/3)u^3: below 0.03 its series is exact to 1e-8 of the value.
  const shape =
    u < 0.03
      ? u * u * u * (2 / 3 - u * (1 / 2 - u * (7 / 30 - u / 12)))
      : 2 * u - 3 + 4 * phi - phi * phi;
  out.qpp = variance * tau * tau * shape;
  return out;
}
