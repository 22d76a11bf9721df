import type { ProfileFile } from './profile-schema.js';
import { modeFilesOf, slotsOf } from './profiles.js';

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
      const range = channel.range ?? ([0, 100] as const);
      const put = (slots: readonly number[], copy: boolean) => {
        slots.forEach((slot, byte) => {
          const { attribute } = channel;
          lines.push({ slot, attribute, byte: byte + 1, bytes, copy, range, level: undefined });
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
    ...lines.map(line => `    ${String(line.slot).padStart(5)}  ${lineText(line)}`),
  ]);
}

function lineText({ attribute, byte, bytes, copy, range, level }: ChartLine): string {
  const which = bytes === 1 ? '' : byte === 1 ? ' coarse' : bytes === 2 ? ' fine' : ` byte ${byte}`;
  const what = `${attribute}${which}${copy ? ' (copy)' : ''}`.padEnd(28);
  if (level !== undefined) return `${what}at ${level}`;
  return range === undefined || byte > 1 ? what.trimEnd() : `${what}${range[0]} to ${range[1]}`;
}
