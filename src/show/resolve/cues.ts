import type { SignalSet } from '../../signals/plan.js';
import type { CuePlan, FixturePlan, MappingPlan } from '../model/model.js';
import type { CueFile } from '../schema/cues.js';
import type { ShowFile } from '../schema/schema.js';
import { namesOf } from './groups.js';
import { applyLook } from './look.js';

/** The cues of a checked file, in order. */
export function resolveCues(
  file: ShowFile,
  fixtures: readonly FixturePlan[],
  { conditions }: SignalSet,
  mappings: readonly MappingPlan[],
): CuePlan[] {
  return Object.entries(file.cues).map(([name, cue]): CuePlan => {
    const shares = cueShares(cue);
    const fire = conditions.findIndex(one => one.name === cue.fire);
    return {
      name,
      label: cue.label ?? name,
      levels: mappings.map(mapping =>
        mapping.name !== undefined && shares.has(mapping.name)
          ? (shares.get(mapping.name) as number)
          : mapping.always
            ? 1
            : 0,
      ),
      base: fixtures.map(plan => lookOver(file, plan.base, cue.base, plan)),
      safe: fixtures.map(plan => lookOver(file, plan.safe, cue.safe, plan)),
      fadeS: cue.fade,
      fire: fire < 0 ? undefined : fire,
      off: placesOf(file, cue.off),
      on: placesOf(file, cue.on),
    };
  });
}

function placesOf(file: ShowFile, words: readonly string[]): number[] {
  const all = Object.keys(file.performers);
  return namesOf(file, words, 'performers').map(name => all.indexOf(name));
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

/** The look of a fixture; a later entry for it, or for a group with it, overrides an earlier one. The same object if there is no entry. */
function lookOver(
  file: ShowFile,
  below: readonly number[],
  looks: CueFile['base'],
  plan: FixturePlan,
): readonly number[] {
  let values = below;
  for (const [word, look] of Object.entries(looks)) {
    if (!namesOf(file, [word], 'fixtures').includes(plan.name)) continue;
    values = applyLook(values, look, file, plan);
  }
  return values;
}
