import { attributeClass } from '../fixtures/attributes.js';
import type { FixturePlan, Show } from './model.js';
import type { Finding } from './problem.js';

/**
 * Heads that follow, and whose light is not their own: the body of a bar moves, and its cells are lights for themselves.
 * Each once, at the first mapping.
 */
export function followWarnings({ mappings, fixtures }: Show): Finding[] {
  const seen = new Set<FixturePlan>();
  return mappings.flatMap((mapping, index): Finding[] => {
    if (mapping.kind !== 'follow') return [];
    return mapping.heads.flatMap((head): Finding[] => {
      const plan = fixtures[head];
      if (plan === undefined || seen.has(plan) || hasIntensity(plan)) return [];
      seen.add(plan);
      const message = `fixture "${plan.name}" follows and has no Dimmer to go dark with: in a loss, and where it goes to somebody else, it swings with the light that shines through it. Let what makes that light rest on the same people, so that it goes dark with them.`;
      return [{ code: 'follow-lit', message, path: ['mappings', mapping.place ?? index] }];
    });
  });
}

function hasIntensity({ profile }: FixturePlan): boolean {
  return profile.channels.some(({ attribute }) => attributeClass(attribute) === 'intensity');
}
