import {
  type Attribute,
  attributeUnit,
  isAttribute,
  needsDegrees,
  type PhysicalUnit,
} from '../fixtures/attributes.js';
import { isRange } from '../fixtures/profile-problems.js';
import { isStepped } from '../fixtures/scales.js';
import { own } from '../stage/own.js';
import { clipped } from './archive.js';
import type { ChannelFunction, GdtfChannel } from './gdtf-channels.js';
import {
  colouredLevels,
  type GdtfColour,
  type GdtfColours,
  type NamedLevels,
  statedColours,
} from './gdtf-colours.js';
import { nameFrom, type Remarks, uniqueName } from './outcome.js';

/** A channel as it will stand in a profile; keys as in the file. */
export interface ChannelDraft {
  attribute: Attribute;
  bits?: 8 | 16 | 24 | 32;
  slots: number[];
  copies?: number[][];
  range?: [number, number];
  unit?: PhysicalUnit;
  levels?: [number, number];
  values?: Record<string, NamedLevels>;
  snap?: boolean;
  default?: number | string;
  highlight?: number | string;
  emitter?: GdtfColour;
  filter?: GdtfColour;
}

/** More names for the levels of one channel than anybody would look through. */
const MOST_VALUES = 64;

/**
 * What a profile can say of a channel; undefined, with a remark, where it can say nothing.
 * @param slots of the first of its copies, coarse first
 */
export function channelDraft(
  channel: GdtfChannel,
  slots: readonly number[],
  units: ReadonlyMap<string, string>,
  colours: GdtfColours,
  remarks: Remarks,
): ChannelDraft | undefined {
  const { attribute, where } = channel;
  if (!isAttribute(attribute)) {
    remarks.leftOut(
      where,
      `the attribute is not one that a mapping can set; its slots are held at their default`,
    );
    return undefined;
  }
  const most = 256 ** slots.length - 1;
  const main = mainFunction(channel);
  const range = physicalRange(attribute, main, units.get(attribute) ?? 'None');
  if (range === undefined) {
    remarks.leftOut(
      where,
      `it gives no angles (${main?.physicalFrom ?? '?'} to ${main?.physicalTo ?? '?'}), without which it can't be aimed with; its slots are held at their default`,
    );
    return undefined;
  }
  const [first, last] = main === undefined ? [0, most] : [main.first, main.last];
  const draft: ChannelDraft = { attribute, slots: [...slots] };
  if (slots.length === 2) draft.bits = 16;
  if (slots.length === 3) draft.bits = 24;
  if (slots.length === 4) draft.bits = 32;
  const { from, to, unit } = range;
  if (unit !== 'per cent' || from !== 0 || to !== 100) draft.range = [from, to];
  if (unit !== attributeUnit(attribute)) draft.unit = unit;
  if (first !== 0 || last !== most) draft.levels = [first, last];
  Object.assign(draft, statedColours(attribute, main, colours));
  const values = valuesOf(channel, main, units, colours, remarks);
  const toValue = (raw: number, name: string) =>
    physicalAt(raw, first, last, from, to, values, isStepped(attribute), name);
  const byDefault = toValue(channel.defaultRaw, 'default');
  if (byDefault !== 0 || Math.min(from, to) > 0 || Math.max(from, to) < 0)
    draft.default = byDefault;
  if (channel.highlightRaw !== undefined)
    draft.highlight = toValue(channel.highlightRaw, 'highlight');
  if (values.size > 0) {
    draft.values = Object.fromEntries(values);
    if (!channel.snaps && !isStepped(attribute)) draft.snap = false;
  } else if (channel.snaps) draft.snap = true;
  return draft;
}

/** The function that a channel is there for: its own attribute over a range, the one that is on first. */
export function mainFunction({
  attribute,
  functions,
  initial,
}: GdtfChannel): ChannelFunction | undefined {
  const spread = functions.filter(
    one =>
      one.attribute === attribute &&
      isRange(one.physicalFrom, one.physicalTo) &&
      one.last > one.first,
  );
  if (initial !== undefined && spread.includes(initial)) return initial;
  return spread.reduce<ChannelFunction | undefined>(
    (best, one) =>
      best !== undefined && best.last - best.first >= one.last - one.first ? best : one,
    undefined,
  );
}

interface PhysicalRange {
  readonly from: number;
  readonly to: number;
  readonly unit: PhysicalUnit;
}

/** @returns undefined where degrees are needed and none are given */
function physicalRange(
  attribute: Attribute,
  main: ChannelFunction | undefined,
  gdtfUnit: string,
): PhysicalRange | undefined {
  if (main === undefined) {
    return needsDegrees(attribute) ? undefined : { from: 0, to: 100, unit: 'per cent' };
  }
  const { physicalFrom: from, physicalTo: to } = main;
  if (needsDegrees(attribute)) {
    // 0 to 1 is what GDTF takes where a file says nothing; nothing turns by one degree only.
    return from === 0 && to === 1 ? undefined : { from, to, unit: 'degrees' };
  }
  const unit = own(UNITS, gdtfUnit);
  if (unit !== undefined) return { from, to, unit };
  // Levels go from 0 to 1 in GDTF, and to 100 per cent here.
  const isShare = Math.max(Math.abs(from), Math.abs(to)) <= 1;
  if (isShare) return { from: percent(from), to: percent(to), unit: 'per cent' };
  return { from, to, unit: gdtfUnit === 'Percent' ? 'per cent' : 'none' };
}

function percent(share: number): number {
  return Number((100 * share).toPrecision(9));
}

/** Physical units of GDTF (Annex A) that a profile has a word for. */
const UNITS: Readonly<Record<string, PhysicalUnit>> = {
  Angle: 'degrees',
  AngularSpeed: 'degrees per second',
  Temperature: 'kelvin',
  Frequency: 'hertz',
  Length: 'metres',
  Time: 'seconds',
};

/**
 * Names for the levels: of the sets of all functions, and of the functions beside the main one. Their own
 * physical range goes with them, where the file has one.
 */
function valuesOf(
  { functions, where }: GdtfChannel,
  main: ChannelFunction | undefined,
  units: ReadonlyMap<string, string>,
  colours: GdtfColours,
  remarks: Remarks,
): Map<string, NamedLevels> {
  const taken = new Set<string>();
  const values = new Map<string, NamedLevels>();
  let dropped = 0;
  const add = (
    text: string,
    levels: [number, number],
    physical?: PhysicalRange,
    coloured = (named: NamedLevels) => named,
  ) => {
    if (values.size >= MOST_VALUES) {
      dropped += 1;
      return;
    }
    const { from, to, unit } = physical ?? {};
    const named: NamedLevels =
      from === undefined || to === undefined || unit === undefined
        ? levels
        : { levels, range: [from, to], unit };
    values.set(uniqueName(nameFrom(text, 'value'), taken), coloured(named));
  };
  for (const one of functions) {
    const own = one === main ? undefined : meaningOf(one.physicalFrom, one.physicalTo, one, units);
    const wholeSet = one.sets.find(({ first, last }) => first === one.first && last === one.last);
    for (const set of one.sets) {
      const { physicalFrom = one.physicalFrom, physicalTo = one.physicalTo } = set;
      const says = set.physicalFrom !== undefined || set.physicalTo !== undefined;
      const meaning =
        one !== main && says ? meaningOf(physicalFrom, physicalTo, one, units) : undefined;
      add(set.name, [set.first, set.last], meaning ?? (set === wholeSet ? own : undefined), named =>
        colouredLevels(named, one, set, colours),
      );
    }
    if (one === main || functions.length === 1 || wholeSet !== undefined) continue;
    if (main !== undefined && one.first === main.first && one.last === main.last) {
      remarks.note(
        where,
        `its functions "${clipped(main.name)}" and "${clipped(one.name || one.attribute)}" begin at the same value; it is driven as the first`,
      );
      continue;
    }
    add(one.name || one.attribute, [one.first, one.last], own);
  }
  if (dropped > 0)
    remarks.note(where, `${dropped} more named values than the ${MOST_VALUES} that were taken`);
  return values;
}

/** What the ends of a stretch mean; undefined for no range, and for 0 to 1, which is GDTF for "not said". */
function meaningOf(
  from: number,
  to: number,
  { attribute }: ChannelFunction,
  units: ReadonlyMap<string, string>,
): PhysicalRange | undefined {
  if (!isRange(from, to)) return undefined;
  const unit = own(UNITS, units.get(attribute) ?? 'None');
  if (unit !== undefined) return { from, to, unit };
  return from === 0 && to === 1 ? undefined : { from, to, unit: 'none' };
}

function levelsOf(named: NamedLevels): [number, number] {
  return Array.isArray(named) ? named : named.levels;
}

/** A level as the profile says it: physical within the range, else by a name that is made if need be. */
function physicalAt(
  raw: number,
  first: number,
  last: number,
  from: number,
  to: number,
  values: Map<string, NamedLevels>,
  preferName: boolean,
  newName: string,
): number | string {
  const holding = [...values]
    .map(([name, named]) => [name, levelsOf(named)] as const)
    .filter(([, range]) => range[0] <= raw && raw <= range[1]);
  const inside = raw >= first && raw <= last;
  if (preferName || !inside) {
    const [nearest] = holding.sort(([, a], [, b]) => a[1] - a[0] - (b[1] - b[0]));
    if (nearest !== undefined) return nearest[0];
  }
  if (!inside) {
    const name = uniqueName(newName, new Set(values.keys()));
    values.set(name, [raw, raw]);
    return name;
  }
  if (raw === last) return to;
  const value = Number((from + ((raw - first) * (to - from)) / (last - first)).toPrecision(9));
  return Math.min(Math.max(from, to), Math.max(Math.min(from, to), value));
}
