import type { ShownColour } from '../colour/shown.js';
import { attributeClass } from '../fixtures/attributes.js';
import { stageWords } from '../planning/words.js';
import { landsAt } from '../show/model/beam-place.js';
import type { FixturePlan, Show } from '../show/model/model.js';
import { wordsOfValues } from '../show/model/palette-names.js';
import { groundUseOf, safeIsDark, safeValues } from '../show/model/safe-look.js';
import { lightColour } from '../show/palettes/light-colour.js';
import type { Vec3 } from '../stage/vector.js';
import { valuesOf, valuesText } from './cue-sheets.js';

/** What one fixture does in a safe look, for people. */
export interface SafeLight {
  readonly name: string;
  readonly label: string;
  /** Where it is; undefined: the show doesn't say. */
  readonly position: Readonly<Vec3> | undefined;
  readonly isHead: boolean;
  /** Per cent; 0: dark. undefined: it has no intensity, or has the desk's. */
  readonly level: number | undefined;
  /** While it is lit, where it has one of its own. */
  readonly colour: ShownColour | undefined;
  /** Where the beam of a head meets the floor. */
  readonly lands: Readonly<Vec3> | undefined;
  /** "dark, parked at centre stage" */
  readonly sentence: string;
}

/** @param cue index; it counts for nothing in a show without cues */
export function safeLights(show: Show, cue = 0): SafeLight[] {
  return show.fixtures.map((plan, index) => {
    const values = safeValues(show, cue, index);
    const level = levelOf(plan, values);
    const colour = level !== undefined && level > 0 ? lightColour(plan.profile, values) : undefined;
    const lands = landsAt(plan, values);
    const one = { level, colour, lands };
    return {
      name: plan.name,
      label: plan.label,
      position: plan.position ?? plan.head?.position,
      isHead: plan.head !== undefined,
      ...one,
      sentence: sentenceOf(show, index, values, one),
    };
  });
}

/** The brightest of its intensities. */
function levelOf(plan: FixturePlan, values: readonly number[]): number | undefined {
  const levels = plan.profile.channels.flatMap(({ attribute, default: usual }, c) =>
    attributeClass(attribute) === 'intensity' ? [values[c] ?? usual] : [],
  );
  if (levels.length === 0 || isOfDesk(plan)) return undefined;
  return safeIsDark(plan, values) ? 0 : Math.max(...levels);
}

function isOfDesk(plan: FixturePlan): boolean {
  return plan.profile.channels.some(
    ({ attribute }, c) =>
      attributeClass(attribute) === 'intensity' && groundUseOf(plan, c) === 'safe',
  );
}

function sentenceOf(
  show: Show,
  index: number,
  values: readonly number[],
  { level, colour, lands }: Pick<SafeLight, 'level' | 'colour' | 'lands'>,
): string {
  const plan = show.fixtures[index] as FixturePlan;
  const aim = aimWords(show, index, values, lands);
  if (level === undefined) {
    if (isOfDesk(plan)) return `as bright as the desk has it${aim === '' ? '' : `, on ${aim}`}`;
    const isOff = plan.profile.channels.every((_, c) => values[c] === 0);
    return isOff ? 'off' : valuesText(valuesOf(show, index, values));
  }
  if (level === 0)
    return `dark${aim === '' ? '' : `, parked ${aim.startsWith('off') ? '' : 'at '}${aim}`}`;
  const words = [
    `lit at ${Number(level.toFixed(1))} %`,
    ...(colour === undefined ? [] : [colourWords(show, index, values, colour)]),
    ...(aim === '' ? [] : [aim.startsWith('off') ? aim : `on ${aim}`]),
  ];
  return words.join(', ');
}

/** By its name in the palette, and what it looks like. */
function colourWords(
  show: Show,
  index: number,
  values: readonly number[],
  { word }: ShownColour,
): string {
  const named = wordsOfValues(show, index, c => values[c]).find(({ kind }) => kind === 'colour');
  return named === undefined || named.label === word ? word : `${named.label} (${word})`;
}

/** The target it aims at, or where on the stage; '' where it doesn't aim. */
function aimWords(
  show: Show,
  index: number,
  values: readonly number[],
  lands: Readonly<Vec3> | undefined,
): string {
  if (show.fixtures[index]?.head === undefined) return '';
  const target = wordsOfValues(show, index, c => values[c]).find(({ kind }) => kind === 'target');
  if (target !== undefined) return target.label;
  if (lands === undefined) return 'off the floor';
  const { min, max } = show.bounds;
  const isOn = lands.x >= min.x && lands.x <= max.x && lands.y >= min.y && lands.y <= max.y;
  return isOn ? stageWords(show.bounds, lands.x, lands.y) : 'off the stage';
}
