import type { LightingOutput } from './lighting/lighting-output.js';
import type { Pair, PairPhase } from './pair.js';
import { beginBlend, isAlike, type OtherLight, type ShowLevels } from './show-levels.js';

/**
 * One beat of a machine of a pair: what it hears of the other, and what it makes of its own light for it.
 * @returns the phases, where they have changed and are news
 */
export function stepPairLight(
  pair: Pair,
  lighting: LightingOutput,
  levels: ShowLevels,
  standby: boolean,
  nowS: number,
): { readonly from: PairPhase; readonly to: PairPhase } | undefined {
  if (pair.phase === 'leading') return undefined;
  const { partner } = lighting;
  const other: OtherLight = {
    levels: partner.levels,
    knows: universe => partner.knows(universe, nowS),
  };
  const from = pair.phase;
  const to = pair.step({
    nowS,
    partnerHeard: partner.isHeard(nowS),
    live: levels.fallback.phase === 'live',
    alike: from === 'joining' && isAlike(levels, other),
  });
  if (to === undefined) return undefined;
  if (pair.crossfades) beginBlend(levels, other);
  arrangePair(pair, lighting, standby);
  // That there is no standby is no news.
  return from === 'listening' && to === 'leading' ? undefined : { from, to };
}

/** How an output sends and listens in the present phase. */
export function arrangePair(pair: Pair, lighting: LightingOutput, standby: boolean): void {
  lighting.shiftPriority(pair.priorityShift);
  // A main one alone on Art-Net has nobody to wait for: its light is out at once.
  lighting.holdsArtnet = pair.holdsArtnet && (standby || lighting.hearsArtnet);
  lighting.hearsAlways = pair.phase === 'joining';
}
