import { attributeUnit, isAttribute, type PhysicalUnit } from '../fixtures/attributes.js';
import { isStepped } from '../fixtures/scales.js';
import { unitSuffix } from '../show/problems/value-text.js';
import { modeFilesOf, namedLevels, slotsOf } from '../show/resolve/profiles.js';
import type { ChannelFile, ProfileFile } from '../show/schema/profile.js';

/** What one slot of a fixture does: a line of the chart that its manual has as well. */
export interface ChartLine {
  /** Of the fixture, from 1. */
  readonly slot: number;
  readonly attribute: string;
  /** Of an attribute of several bytes: 1 is the coarsest. */
  readonly byte: number;
  readonly bytes: number;
  /** Repeats what the attribute's own slots have. */
  readonly copy: boolean;
  /** Physical values of the ends of the slot's range; of what is held, its level. */
  readonly range: readonly [number, number] | undefined;
  readonly level: number | undefined;
  readonly unit: PhysicalUnit | undefined;
  /** The named values, in the order of their levels; empty where the profile names none. */
  readonly values: readonly ChartValue[];
}

/** A named value, as a manual has it: `32-255 strobe, 1 to 20 Hz`. */
export interface ChartValue {
  readonly name: string;
  /** First and last level, of the whole width of the channel. */
  readonly levels: readonly [number, number];
  /** Physical values at these, where the profile says what it means. */
  readonly range: readonly [number, number] | undefined;
  readonly unit: PhysicalUnit | undefined;
}

export interface ModeChart {
  /** undefined: the profile has no modes. */
  readonly mode: string | undefined;
  /** Slots from the first to the last one used. */
  readonly slots: number;
  readonly lines: readonly ChartLine[];
}

/** Slot by slot what a profile does, for each of its modes: to hold beside the manual. */
export function chartOf(profile: ProfileFile): ModeChart[] {
  return modeFilesOf(profile).map(({ name, mode }): ModeChart => {
    const lines: ChartLine[] = [];
    const places = slotsOf(mode);
    mode.channels.forEach((channel, index) => {
      const bytes = channel.bits / 8;
      const values = valuesOf(channel);
      const { unit, range } = scaleOf(channel);
      const put = (slots: readonly number[], copy: boolean) => {
        slots.forEach((slot, byte) => {
          const { attribute } = channel;
          lines.push({
            ...{ slot, attribute, byte: byte + 1, bytes, copy },
            ...{ range, level: undefined, unit, values },
          });
        });
      };
      put(places[index] ?? [], false);
      for (const copy of channel.copies ?? []) put(copy, true);
    });
    for (const { slot, level } of mode.fixed ?? []) {
      lines.push({
        slot,
        attribute: 'held',
        byte: 1,
        bytes: 1,
        copy: false,
        range: undefined,
        level,
        unit: undefined,
        values: [],
      });
    }
    lines.sort((a, b) => a.slot - b.slot);
    return { mode: name === '' ? undefined : name, slots: lines.at(-1)?.slot ?? 0, lines };
  });
}

/** The same as lines to print. */
export function chartLines(charts: readonly ModeChart[]): string[] {
  return charts.flatMap(({ mode, slots, lines }) => [
    `    ${mode === undefined ? '' : `mode ${mode}, `}${slots} ${slots === 1 ? 'slot' : 'slots'}`,
    ...lines.flatMap(line => [
      `    ${String(line.slot).padStart(5)}  ${lineText(line)}`.trimEnd(),
      ...(line.byte > 1 || line.copy ? [] : line.values).map(
        value => `${' '.repeat(39)}${namedText(value)}`,
      ),
    ]),
  ]);
}

function lineText({ attribute, byte, bytes, copy, range, level, unit }: ChartLine): string {
  const which = bytes === 1 ? '' : byte === 1 ? ' coarse' : bytes === 2 ? ' fine' : ` byte ${byte}`;
  const what = `${attribute}${which}${copy ? ' (copy)' : ''}`.padEnd(28);
  if (level !== undefined) return `${what}at ${level}`;
  if (range === undefined || byte > 1) return what.trimEnd();
  return `${what}${rangeText(range, unit)}`;
}

function rangeText([from, to]: readonly [number, number], unit: PhysicalUnit | undefined): string {
  return `${from} to ${to}${unit === undefined ? '' : unitSuffix(unit)}`;
}

function namedText({ name, levels: [first, last], range, unit }: ChartValue): string {
  const levels = first === last ? String(first) : `${first}-${last}`;
  return `${levels} ${name}${range === undefined ? '' : `, ${rangeText(range, unit)}`}`;
}

/** What the levels mean physically; a shutter or wheel that has names only has no scale beside them. */
function scaleOf({ attribute, range, unit, values }: ChannelFile) {
  if (!isAttribute(attribute)) return { unit, range };
  const isNamedOnly = values !== undefined && range === undefined && isStepped(attribute);
  if (isNamedOnly) return { unit: undefined, range: undefined };
  return { unit: unit ?? attributeUnit(attribute), range: range ?? ([0, 100] as const) };
}

function valuesOf({ values }: ChannelFile): ChartValue[] {
  return Object.entries(values ?? {})
    .map(([name, at]) => {
      const meaning = typeof at === 'number' || !('levels' in at) ? undefined : at;
      return { name, levels: namedLevels(at), range: meaning?.range, unit: meaning?.unit };
    })
    .sort((a, b) => a.levels[0] - b.levels[0]);
}
