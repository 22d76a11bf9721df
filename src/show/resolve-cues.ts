import type { CuePlan, FixturePlan } from './model.js';
import { applyLook } from './resolve-look.js';
import type { ShowFile } from './schema.js';
import type { CueFile } from './schema-cues.js';

/** The cues of a checked file, in order. */
export function resolveCues(file: ShowFile, fixtures: readonly FixturePlan[]): CuePlan[] {
  return Object.entries(file.cues).map(([name, cue]): CuePlan => {
    const shares = cueShares(cue);
    return {
      name,
      label: cue.label ?? name,
      levels: file.mappings.map(mapping =>
        mapping.name !== undefined && shares.has(mapping.name)
          ? (shares.get(mapping.name) as number)
          : mapping.always
            ? 1
            : 0,
      ),
      base: fixtures.map(plan => lookOver(plan.base, cue.base[plan.name], plan)),
      safe: fixtures.map(plan => lookOver(plan.safe, cue.safe[plan.name], plan)),
      fadeS: cue.fade,
    };
  });
}

/** How far the mappings act that a cue names, 0..1, by name. */
export function cueShares({ mappings }: CueFile): ReadonlyMap<string, number> {
  return new Map(
    mappings.flatMap((one): (readonly [string, number])[] =>
      typeof one === 'string'
        ? [[one, 1]]
        : Object.entries(one).map(([name, perCent]) => [name, perCent / 100]),
    ),
  );
}

function lookOver(
  below: readonly number[],
  look: CueFile['base'][string] | undefined,
  { profile, head, panChannel, tiltChannel }: FixturePlan,
): readonly number[] {
  if (look === undefined) return below;
  return applyLook(below, look, profile, head, panChannel, tiltChannel);
}
