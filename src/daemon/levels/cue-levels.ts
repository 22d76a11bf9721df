import type { FallbackPlan } from '../../safety/fallback.js';
import type { ShowLevels } from './show-levels.js';
import { takeOverLevels } from './take-over.js';

/**
 * Another cue is on, or coming on: from now on a loss goes to its safe look. Light that is at, or on its way to, the
 * safe look of the previous cue goes on to this one's, as when another show is loaded; light that is coming up from
 * it comes up first.
 * @param well whether the engine is alive and on time
 * @returns the levels from now on
 */
export function followCue(levels: ShowLevels, cue: number, well: boolean): ShowLevels {
  if (cue === levels.cue) return levels;
  const { phase } = levels.fallback;
  if (phase === 'returning' && well) return levels;
  if (phase !== 'live') {
    const { outages } = levels;
    return { ...takeOverLevels(levels.show, levels, cue), outages };
  }
  const plan = levels.plans[cue] as FallbackPlan;
  // Light of the previous show that this one does not have is still faded out.
  const left = levels.plan.fixtures.slice(plan.fixtures.length);
  levels.plan = left.length === 0 ? plan : { ...plan, fixtures: [...plan.fixtures, ...left] };
  levels.cue = cue;
  return levels;
}
