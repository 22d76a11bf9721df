import type { HazardClass } from '../../safety/hazard.js';
import type { FixturePlan } from './model.js';

/** Whether a fixture can do this: by a channel of the class, or by the strobing values of a shutter. */
export function hasHazard(
  { hazards, strobes }: Pick<FixturePlan, 'hazards' | 'strobes'>,
  hazard: HazardClass,
): boolean {
  return (
    hazards.includes(hazard) || (hazard === 'strobe' && strobes.some(one => one !== undefined))
  );
}
