import type { Crowd, EngineState, Layer, Light, PerformerState, Trust } from './state.js';

/**
 * How much of a layer shows beside the other layers of its fixture: less by as much as its performer
 * is trusted less than the most trusted. The guard fades all layers together to the safe values; taken
 * off here as well, the trust would lead a lost performer's colours back over the base on their way.
 */
export function shareOf({ binding, trust, governs, light }: Layer): number {
  return governs ? binding.level : shareAmong(binding.level, trust, light.crowd);
}

/** The same for a light that doesn't follow this performer. */
export function shareAmong(level: number, trust: Trust, crowd: Crowd | undefined): number {
  const highest = crowd?.highest ?? 0;
  return highest > 0 ? level * Math.min(1, trust.level / highest) : 0;
}

/** Whose state a head's own follows: whom it follows, or else anyone who is believed, or was last. */
export function governorOf(
  state: EngineState,
  { follow }: Light,
  { trusts }: Crowd,
): PerformerState {
  if (follow !== undefined) return state.performers[follow.performer] as PerformerState;
  let best = trusts[0] as Trust;
  for (const trust of trusts) {
    const performer = state.performers[trust.performer] as PerformerState;
    if (performer.follows) return performer;
    if (trust.level > best.level) best = trust;
  }
  return state.performers[best.performer] as PerformerState;
}
