import { type HazardClass, isRefused, REFUSALS, type RefusedClass } from '../../safety/hazard.js';
import { nameVerdict } from '../../safety/hazard-words.js';
import type { Finding, Path } from '../problem.js';
import type { ShowFile } from '../schema.js';

/** What must not be driven at all. */
export function checkHazards(show: ShowFile): Finding[] {
  return [
    ...Object.entries(show.profiles).flatMap(([name, { hazard }]) =>
      refused(`profile "${name}"`, [name], hazard, ['profiles', name]),
    ),
    ...Object.entries(show.fixtures).flatMap(([name, { hazard, label, profile }]) => {
      // A profile that is called like a machine has been refused at its own place, if it is of this show.
      const names = [name, label ?? '', ...(profile in show.profiles ? [] : [profile])];
      return refused(`fixture "${name}"`, names, hazard, ['fixtures', name]);
    }),
  ];
}

function refused(
  who: string,
  names: readonly string[],
  hazard: HazardClass | RefusedClass | undefined,
  path: Path,
): Finding[] {
  if (hazard !== undefined && isRefused(hazard)) {
    const { why, whoDecides } = REFUSALS[hazard];
    return [
      {
        code: 'hazard-refused',
        message: `${who} is of class "${hazard}", which is never driven from here: ${why}. That is for ${whoDecides}.`,
        path: [...path, 'hazard'],
      },
    ];
  }
  for (const name of names) {
    const verdict = nameVerdict(name);
    if (verdict === undefined || (verdict.mayBeLamp && hazard !== undefined)) continue;
    const { why, whoDecides } = REFUSALS[verdict.hazard];
    const lamp = verdict.mayBeLamp
      ? 'If it is a lamp, say so with hazard: ordinary.'
      : 'If it is a lamp, give it another name.';
    return [
      {
        code: 'hazard-refused',
        message: `${who} is called "${verdict.word}", and "${verdict.hazard}" is never driven from here: ${why}. That is for ${whoDecides}. ${lamp}`,
        path,
        atKey: true,
      },
    ];
  }
  return [];
}
