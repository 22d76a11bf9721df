import { colourAsked } from './colours.js';
import { namesOf } from './groups.js';
import { COLOUR, colourOfLook, type LookWords } from './look-values.js';
import type { ColourPlan, FixturePlan } from './model.js';
import type { ShowFile } from './schema.js';

/** The colours of a checked file, with how the fixtures that are given one make it. */
export function resolveColours(file: ShowFile, fixtures: readonly FixturePlan[]): ColourPlan[] {
  const looks = looksOf(file).filter(({ look }) => look[COLOUR] !== undefined);
  return Object.entries(file.palettes.colours).map(([name, colour]): ColourPlan => {
    const using = looks.filter(({ look }) => look[COLOUR] === name);
    const names = new Set(using.flatMap(one => one.fixtures));
    return {
      name,
      label: colour.label ?? name,
      ...colourAsked(colour),
      on: fixtures.flatMap(({ name: fixture, profile }, index) => {
        if (!names.has(fixture)) return [];
        const made = colourOfLook({ [COLOUR]: name }, profile, file.palettes);
        return typeof made === 'object' ? [{ fixture: index, ...made }] : [];
      }),
    };
  });
}

/** All looks of a file, with the fixtures that have them. */
function looksOf(file: ShowFile): { look: LookWords; fixtures: readonly string[] }[] {
  const of = (words: readonly string[]) => namesOf(file, words, 'fixtures');
  const ofCue = (looks: Readonly<Record<string, LookWords>>) =>
    Object.entries(looks).map(([word, look]) => ({ look, fixtures: of([word]) }));
  return [
    ...Object.entries(file.fixtures).flatMap(([name, { base, safe }]) =>
      [base, safe ?? {}].map(look => ({ look, fixtures: [name] })),
    ),
    ...file.mappings.flatMap(mapping => {
      const fixtures = of(mapping.fixtures);
      const from = 'from' in mapping ? (mapping.from ?? {}) : {};
      return [mapping.set, from].map(look => ({ look, fixtures }));
    }),
    ...Object.values(file.cues).flatMap(({ base, safe }) => [...ofCue(base), ...ofCue(safe)]),
  ];
}
