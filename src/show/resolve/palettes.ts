import { own } from '../../stage/own.js';
import { vec3 } from '../../stage/vector.js';
import type { FixturePlan, Show } from '../model/model.js';
import { angleOf } from '../palettes/beams.js';
import { colourAsked } from '../palettes/colours.js';
import {
  BEAM,
  beamOfLook,
  COLOUR,
  colourOfLook,
  type LookWords,
  TARGET,
} from '../palettes/look-values.js';
import type { BeamPlan, ColourPlan, TargetPlan } from '../palettes/palette-plans.js';
import type { ShowFile } from '../schema/schema.js';
import { namesOf } from './groups.js';
import { certain } from './look.js';
import { aimedAt, targetPlace } from './targets.js';

type Word = typeof COLOUR | typeof BEAM | typeof TARGET;

/** The palettes of a checked file; each entry says how the fixtures that use it make it. */
export function resolvePalettes(
  file: ShowFile,
  fixtures: readonly FixturePlan[],
): Pick<Show, 'colours' | 'beams' | 'targets'> {
  const { palettes } = file;
  const looks = looksOf(file);
  /** What it becomes on each fixture that uses it in some look. */
  const on = <Made>(word: Word, name: string, made: (plan: FixturePlan) => Made | undefined) => {
    const using = looks.filter(({ look }) => look[word] === name);
    const names = new Set(using.flatMap(one => one.fixtures));
    return fixtures.flatMap((plan, fixture): (Made & { fixture: number })[] => {
      const one = names.has(plan.name) ? made(plan) : undefined;
      return one === undefined ? [] : [{ fixture, ...one }];
    });
  };
  const objectOf = <Made extends object>(made: Made | string | undefined) =>
    typeof made === 'object' ? made : undefined;
  return {
    colours: Object.entries(palettes.colours).map(
      ([name, colour]): ColourPlan => ({
        name,
        label: colour.label ?? name,
        ...colourAsked(colour),
        on: on(COLOUR, name, ({ profile }) =>
          objectOf(colourOfLook({ [COLOUR]: name }, profile, palettes)),
        ),
      }),
    ),
    beams: Object.entries(palettes.beams).map(
      ([name, beam]): BeamPlan => ({
        name,
        label: labelOf(beam) ?? name,
        angleDeg: angleOf(beam),
        on: on(BEAM, name, ({ profile }) =>
          objectOf(beamOfLook({ [BEAM]: name }, profile, palettes)),
        ),
      }),
    ),
    targets: targetsOf(file, looks).map((name): TargetPlan => {
      const place = certain(targetPlace(file, name));
      const point = Object.hasOwn(palettes.points, name) ? palettes.points[name] : undefined;
      const label = point === undefined ? own(file.fixtures, name)?.label : labelOf(point);
      return {
        name,
        label: label ?? name,
        kind: point === undefined ? 'fixture' : 'point',
        at: vec3(...place),
        on: on(TARGET, name, ({ head }) => (head === undefined ? undefined : aimedAt(head, place))),
      };
    }),
  };
}

function labelOf(entry: unknown): string | undefined {
  return (entry as { label?: string }).label;
}

/** All points of the palette, and the fixtures at which something aims. */
function targetsOf({ palettes }: ShowFile, looks: ReturnType<typeof looksOf>): string[] {
  const asked = looks.flatMap(({ look: { [TARGET]: name } }) =>
    typeof name === 'string' ? [name] : [],
  );
  return [...new Set([...Object.keys(palettes.points), ...asked])];
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
