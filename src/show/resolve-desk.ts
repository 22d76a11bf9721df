import { attributeClass, isColour } from '../fixtures/attributes.js';
import type { Profile } from '../fixtures/profile.js';
import type { HazardClass } from '../safety/hazard.js';
import { COLOUR } from './look-values.js';
import type { DeskInputPlan, GroundUse } from './model.js';
import type { ShowFile } from './schema.js';
import type { GroundFile } from './schema-desk.js';

/** The universes that are heard, in the order of the file. */
export function resolveDesk(file: ShowFile, universes: readonly number[]): DeskInputPlan[] {
  return Object.entries(file.desk).map(([name, input]) => ({
    name,
    protocol: input.protocol,
    universe: input.universe,
    interface: input.interface,
    gone: input.gone,
    ground: input.ground === undefined ? undefined : universes.indexOf(input.ground),
    fadeS: input.fade,
  }));
}

/** What each channel of a fixture takes from the desk. */
export function groundUses(
  ground: GroundFile | undefined,
  { channels }: Profile,
  hazards: readonly HazardClass[],
): GroundUse[] {
  return channels.map(({ attribute }, channel): GroundUse => {
    if (ground === undefined || hazards[channel] !== 'ordinary') return 'ours';
    if (ground === 'safe') return 'safe';
    const isIntensity = attributeClass(attribute) === 'intensity';
    if (ground === 'scale') return isIntensity ? 'scale' : 'ours';
    const { desk = [], safe = [], scale = [] } = 'map' in ground ? { desk: ground } : ground;
    const isIn = (words: readonly string[]) =>
      words.includes(attribute) || (isColour(attribute) && words.includes(COLOUR));
    if (isIn(desk)) return 'desk';
    if (isIn(safe)) return 'safe';
    return isIn(scale) ? 'scale' : 'ours';
  });
}
