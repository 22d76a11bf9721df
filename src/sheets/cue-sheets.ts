import type { PhysicalUnit } from '../fixtures/attributes.js';
import { driversIn, driversOf } from '../show/model/basis.js';
import { mappingTitle } from '../show/model/mapping-words.js';
import type { CuePlan, FixturePlan, Show } from '../show/model/model.js';
import { type PaletteWord, wordsOfValues } from '../show/model/palette-names.js';
import { valueText } from '../show/problems/value-text.js';

export interface ValueSheet {
  readonly attribute: string;
  /** Physical, in `unit`. */
  readonly value: number;
  readonly unit: PhysicalUnit;
  /** As a person reads it: by the name of the value, or with its unit. */
  readonly text: string;
  /** Label of the colour, the beam or the target of the palettes that it is a part of; missing where it is of none. */
  readonly colour?: string;
  readonly beam?: string;
  readonly target?: string;
}

/** One cue: what acts in it, and where its safe look is another than that of the fixtures. */
export interface CueSheet {
  readonly name: string;
  readonly label: string;
  /** Crossfade to it, seconds. */
  readonly fadeS: number;
  /** Name of the condition that brings it on; undefined: none does. */
  readonly fire: string | undefined;
  /** Names of the performers who are off stage, and on again, from when it comes on. */
  readonly off: readonly string[];
  readonly on: readonly string[];
  /** The same by label. */
  readonly offLabels: readonly string[];
  readonly onLabels: readonly string[];
  /** Mappings that act in it, and how far, 0..1. */
  readonly mappings: readonly { readonly name: string; readonly level: number }[];
  /** Fixtures whose safe values in it are not those of the fixture itself. */
  readonly safe: readonly {
    readonly fixture: string;
    readonly label: string;
    readonly values: readonly ValueSheet[];
  }[];
  /**
   * Fixtures that performers drive in other cues, and nobody in this one: whoever is lost, and if all are, they stay as
   * the cue has them. Only the end of the engine takes them to the safe look.
   */
  readonly lossLeavesAlone: readonly { readonly fixture: string; readonly label: string }[];
}

export function cueSheets(show: Show): CueSheet[] {
  return show.cues.map(
    (cue, at): CueSheet => ({
      name: cue.name,
      label: cue.label,
      fadeS: cue.fadeS,
      fire: cue.fire === undefined ? undefined : show.signals.conditions[cue.fire]?.name,
      off: cue.off.map(p => show.performers[p]?.name ?? ''),
      on: cue.on.map(p => show.performers[p]?.name ?? ''),
      offLabels: cue.off.map(p => show.performers[p]?.label ?? ''),
      onLabels: cue.on.map(p => show.performers[p]?.label ?? ''),
      mappings: show.mappings.flatMap((mapping, index) => {
        if (mapping.kind === 'signal' && mapping.isMaster === true) return [];
        const { name } = mapping;
        const level = cue.levels[index] ?? 0;
        return level > 0 ? [{ name: name ?? mappingTitle(show, index), level }] : [];
      }),
      safe: show.fixtures.flatMap((plan, index) => {
        const values = cue.safe[index] ?? plan.safe;
        if (values.every((value, c) => value === plan.safe[c])) return [];
        return [{ fixture: plan.name, label: plan.label, values: valuesOf(show, index, values) }];
      }),
      lossLeavesAlone: show.fixtures.flatMap(({ name: fixture, label, hazards }, index) => {
        // What is hazardous goes with its enable, whoever drives it.
        if (hazards.some(one => one !== 'ordinary')) return [];
        const drivenHere = driversIn(show, at, index).length > 0;
        return drivenHere || driversOf(show, index).length === 0 ? [] : [{ fixture, label }];
      }),
    }),
  );
}

export function valuesOf(show: Show, fixture: number, values: readonly number[]): ValueSheet[] {
  const { profile } = show.fixtures[fixture] as FixturePlan;
  const words = wordsOfValues(show, fixture, c => values[c]);
  return profile.channels.map((channel, c) => {
    const value = values[c] ?? 0;
    const { attribute, unit } = channel;
    const own = { attribute, value, unit, text: valueText(channel, value) };
    const word = words.find(({ attributes }) => attributes.includes(attribute));
    return word === undefined ? own : { ...own, ...named(word) };
  });
}

function named({ kind, label }: PaletteWord): Partial<Record<PaletteWord['kind'], string>> {
  return { [kind]: label };
}

const WORDS = ['target', 'beam', 'colour'] as const;

/** `Dimmer 20 %, target The pool (Pan -40.2°, Tilt 50.6°)` */
export function valuesText(values: readonly ValueSheet[]): string {
  const textOf = (some: readonly ValueSheet[]) =>
    some.map(({ attribute, text }) => `${attribute} ${text}`).join(', ');
  const plain = values.filter(one => WORDS.every(word => one[word] === undefined));
  const named = WORDS.flatMap(word => {
    const mine = values.filter(one => one[word] !== undefined);
    const [first] = mine;
    return first === undefined ? [] : [`${word} ${first[word]} (${textOf(mine)})`];
  });
  return [...(plain.length === 0 ? [] : [textOf(plain)]), ...named].join(', ');
}

/** The safe values that a fixture has in any cue; its own in a show without cues. */
export function safeValuesOf(
  { cues }: Show,
  plan: FixturePlan,
  index: number,
): readonly number[][] {
  const all =
    cues.length === 0 ? [plan.safe] : cues.map((cue: CuePlan) => cue.safe[index] ?? plan.safe);
  return all.map(values => [...values]);
}

/** "stove, harbour at 60 %" */
export function actsText({ mappings }: CueSheet): string {
  const all = mappings.map(({ name, level }) =>
    level === 1 ? name : `${name} at ${Number((100 * level).toFixed(1))} %`,
  );
  // A rule for several heads is a mapping for each.
  return [...new Set(all)].join(', ') || 'no mapping';
}

export const LEFT_ALONE =
  'A fixture that nobody drives in a cue stays as the cue has it, even if everybody is lost: "safe within" applies to it in other cues. When the engine fails, it goes to the safe look like everything else.';

/** What no loss of performers changes in it; '' where there is nothing. */
export function leavesAloneText({ lossLeavesAlone }: CueSheet): string {
  if (lossLeavesAlone.length === 0) return '';
  const names = lossLeavesAlone.map(one => one.label).join(', ');
  return `a loss leaves alone: ${names}`;
}

/** How it comes on. */
export function comesText({ fadeS, fire, offLabels: off, onLabels: on }: CueSheet): string {
  const by = fire === undefined ? '' : `, also by condition ${fire}`;
  const leave = off.length === 0 ? '' : `; off stage: ${off.join(', ')}`;
  const come = on.length === 0 ? '' : `; on stage: ${on.join(', ')}`;
  return `in ${Number(fadeS.toFixed(2))} s${by}${leave}${come}`;
}
