import { isAttribute } from '../fixtures/attributes.js';
import { clipped } from './archive.js';
import { dmxValue, rawIn } from './dmx-value.js';
import type { Remarks } from './outcome.js';
import { attributeOf, childOf, childrenOf, numberOf, type XmlElement } from './xml.js';

/** A named stretch of a channel function. */
export interface ChannelSet {
  readonly name: string;
  readonly first: number;
  readonly last: number;
  /** As the set itself has them. */
  readonly physicalFrom: number | undefined;
  readonly physicalTo: number | undefined;
  /** Of the wheel, counted from 1. */
  readonly slot: number | undefined;
}

/** What a stretch of a channel's levels does. */
export interface ChannelFunction {
  readonly name: string;
  readonly attribute: string;
  readonly first: number;
  readonly last: number;
  readonly physicalFrom: number;
  readonly physicalTo: number;
  /** Seconds over the whole range, and from standing to full speed; 0 for unknown. */
  readonly realFadeS: number;
  readonly realAccelerationS: number;
  readonly sets: readonly ChannelSet[];
  /** Names of what it drives; empty where the file names none. */
  readonly emitter: string;
  readonly filter: string;
  readonly wheel: string;
}

/** One channel of a mode as GDTF has it, values brought to its own width. */
export interface GdtfChannel {
  /** How messages call it. */
  readonly where: string;
  readonly geometry: string;
  /** undefined: "Overwrite", as the reference to its geometry has it. */
  readonly dmxBreak: number | undefined;
  /** Counted from 1, coarse first; none for a channel without slots. */
  readonly offsets: readonly number[];
  readonly attribute: string;
  readonly snaps: boolean;
  readonly defaultRaw: number;
  readonly highlightRaw: number | undefined;
  /** In the order of their levels; those that begin at the same level lie upon each other. */
  readonly functions: readonly ChannelFunction[];
  /** The function that is on by default. */
  readonly initial: ChannelFunction | undefined;
}

/** The widest channel that a profile can have, and that a DMXValue of GDTF can fill. */
export const MOST_BYTES = 4;

/** The channels of a DMXMode. */
export function channelsOf(mode: XmlElement, where: string, remarks: Remarks): GdtfChannel[] {
  return childrenOf(childOf(mode, 'DMXChannels'), 'DMXChannel').flatMap((channel, index) => {
    const entries = entriesOf(channel);
    const initialName = attributeOf(channel, 'InitialFunction');
    const logical = mainLogical(channel, entries, initialName);
    const attribute = logical && mainAttribute(logical, entries);
    const at = `${where}, channel ${index + 1}${attribute === undefined ? '' : ` (${clipped(attribute)})`}`;
    if (logical === undefined || attribute === undefined) {
      remarks.leftOut(at, 'it has no LogicalChannel with an Attribute');
      return [];
    }
    const offsets = offsetsOf(channel, at, remarks);
    return offsets === undefined
      ? []
      : [channelOf(channel, logical, attribute, entries, offsets, at, remarks)];
  });
}

/** A ChannelFunction with the LogicalChannel that it is in. */
interface Entry {
  readonly element: XmlElement;
  readonly logical: XmlElement;
  readonly attribute: string;
}

/** All functions of a channel: its logical channels exclude each other, so together they share its levels. */
function entriesOf(channel: XmlElement): Entry[] {
  return childrenOf(channel, 'LogicalChannel').flatMap(logical =>
    childrenOf(logical, 'ChannelFunction').map(element => ({
      element,
      logical,
      attribute: attributeOf(element, 'Attribute') ?? attributeOf(logical, 'Attribute') ?? NOTHING,
    })),
  );
}

/** What GDTF calls a stretch of levels that does nothing. */
const NOTHING = 'NoFeature';

function isOfUse(attribute: string | undefined): boolean {
  return attribute !== undefined && attribute !== NOTHING && isAttribute(attribute);
}

/** The logical channel that a channel is there for: the one that is on first, if a mapping can set it. */
function mainLogical(
  channel: XmlElement,
  entries: readonly Entry[],
  initialName: string | undefined,
): XmlElement | undefined {
  const all = childrenOf(channel, 'LogicalChannel').filter(
    one => attributeOf(one, 'Attribute') !== undefined,
  );
  const byInitial = all.find(one => attributeOf(one, 'Attribute') === initialName?.split('.')[1]);
  const useful = (one: XmlElement | undefined) =>
    one !== undefined && isOfUse(mainAttribute(one, entries));
  return useful(byInitial) ? byInitial : (all.find(useful) ?? all[0]);
}

/** Of a logical channel; where that is NoFeature, of the first of its functions that is something. */
function mainAttribute(logical: XmlElement, entries: readonly Entry[]): string | undefined {
  const own = attributeOf(logical, 'Attribute');
  if (own !== NOTHING) return own;
  const other = entries.find(one => one.logical === logical && isOfUse(one.attribute));
  return other?.attribute ?? own;
}

/** @returns undefined where the slots can't be read */
function offsetsOf(channel: XmlElement, at: string, remarks: Remarks): number[] | undefined {
  const text = attributeOf(channel, 'Offset');
  // The files of 1.0 have the fine ones apart.
  const parts = [text, attributeOf(channel, 'Coarse'), attributeOf(channel, 'Fine')]
    .flatMap(part => part?.split(',') ?? [])
    .map(part => part.trim())
    .filter(part => part !== '' && part !== 'None');
  const offsets = parts.map(Number);
  if (offsets.some(one => !Number.isInteger(one) || one < 1 || one > 512)) {
    remarks.leftOut(at, `its Offset "${clipped(text ?? '')}" is no list of slots from 1 to 512`);
    return undefined;
  }
  return offsets;
}

function channelOf(
  channel: XmlElement,
  logical: XmlElement,
  attribute: string,
  entries: readonly Entry[],
  offsets: readonly number[],
  at: string,
  remarks: Remarks,
): GdtfChannel {
  const bytes = Math.min(MOST_BYTES, Math.max(1, offsets.length));
  const most = 256 ** bytes - 1;
  const taken = entriesOnTogether(entries, attribute);
  const others = entries.filter(one => !taken.includes(one));
  const dependent = others.filter(({ element }) => masterOf(element) !== undefined);
  if (dependent.length > 0) {
    remarks.note(
      at,
      `${dependent.length} of its functions (${quoted(dependent.map(nameOf))}) depend on another channel (ModeMaster ${quoted(dependent.map(one => masterOf(one.element) ?? ''))}) and are not used`,
    );
  }
  const plain = others.filter(one => !dependent.includes(one));
  if (plain.length > 0) {
    remarks.note(
      at,
      `${plain.length} of its functions (${quoted(plain.map(nameOf))}) are not ${clipped(attribute)}, which depends on another channel (ModeMaster ${quoted(taken.map(one => masterOf(one.element) ?? ''))}); they are not used, and it is driven as if that channel let it`,
    );
  }
  const raw = (element: XmlElement | undefined, key: string) => {
    const text = attributeOf(element, key);
    const value = dmxValue(text);
    if (value === undefined && text !== undefined && text !== 'None') {
      remarks.error(
        at,
        `its ${key} "${clipped(text, 40)}" is no DMX value, such as 128/1; not used`,
      );
    }
    return value === undefined ? undefined : rawIn(value, bytes);
  };
  const number = (element: XmlElement, key: string) => {
    const value = numberOf(element, key);
    const text = attributeOf(element, key);
    if (value === undefined && text !== undefined) {
      remarks.error(at, `its ${key} "${clipped(text, 40)}" is no finite number; not used`);
    }
    return value;
  };
  const starts = taken
    .map(one => ({ ...one, first: raw(one.element, 'DMXFrom') ?? 0 }))
    .sort((a, b) => a.first - b.first);
  const functions = starts.map((one): ChannelFunction => {
    const { element, first: from } = one;
    // Those that begin at the same level end together, at the next one that begins higher.
    const last = (starts.find(({ first }) => first > from)?.first ?? most + 1) - 1;
    return {
      name: attributeOf(element, 'Name') ?? '',
      attribute: one.attribute,
      first: from,
      last,
      ...physicalEnds(element, number),
      realFadeS: Math.max(0, number(element, 'RealFade') ?? 0),
      realAccelerationS: Math.max(0, number(element, 'RealAcceleration') ?? 0),
      sets: setsOf(element, last, raw),
      emitter: attributeOf(element, 'Emitter') ?? '',
      filter: attributeOf(element, 'Filter') ?? '',
      wheel: attributeOf(element, 'Wheel') ?? '',
    };
  });
  const [, initialLogical, ...rest] = (attributeOf(channel, 'InitialFunction') ?? '').split('.');
  const named = starts.filter(({ element }) => attributeOf(element, 'Name') === rest.join('.'));
  const ofLogical = named.find(one => attributeOf(one.logical, 'Attribute') === initialLogical);
  // Without a name that is there it is the first; of several that begin there, the one that is of use.
  const first = starts.filter(one => one.first === starts[0]?.first);
  const initialStart =
    ofLogical ?? named[0] ?? first.find(one => one.attribute === attribute) ?? first[0];
  const initial = initialStart && functions[starts.indexOf(initialStart)];
  const initialElement = initialStart?.element;
  // Before 1.1 the default was the channel's.
  const defaultRaw = raw(initialElement, 'Default') ?? raw(channel, 'Default') ?? 0;
  const dmxBreak = attributeOf(channel, 'DMXBreak');
  return {
    where: at,
    geometry: attributeOf(channel, 'Geometry') ?? '',
    dmxBreak: dmxBreak === 'Overwrite' ? undefined : Number(dmxBreak ?? 1),
    offsets,
    attribute,
    snaps: ['Yes', 'On'].includes(attributeOf(logical, 'Snap') ?? ''),
    defaultRaw,
    highlightRaw: raw(channel, 'Highlight'),
    functions,
    initial,
  };
}

/** Those that are on at the same time: that depend on nothing, or else on one same state of another channel. */
function entriesOnTogether(entries: readonly Entry[], attribute: string): Entry[] {
  const keyOf = ({ element }: Entry) =>
    masterOf(element) === undefined
      ? ''
      : ['ModeMaster', 'ModeFrom', 'ModeTo'].map(key => attributeOf(element, key)).join(' ');
  const of = (key: string) => entries.filter(one => keyOf(one) === key);
  const plain = of('');
  if (plain.some(one => one.attribute === attribute)) return plain;
  const first = entries.find(one => one.attribute === attribute) ?? plain[0] ?? entries[0];
  return first === undefined ? [] : of(keyOf(first));
}

function masterOf(element: XmlElement): string | undefined {
  return attributeOf(element, 'ModeMaster');
}

function nameOf({ element, attribute }: Entry): string {
  return attributeOf(element, 'Name') ?? attribute;
}

const MOST_NAMES = 3;

function quoted(texts: readonly string[]): string {
  const names = [...new Set(texts)];
  const more = names.length - MOST_NAMES;
  const shown = names.slice(0, MOST_NAMES).map(name => `"${clipped(name, 40)}"`);
  return `${shown.join(', ')}${more > 0 ? ` and ${more} more` : ''}`;
}

/** GDTF takes 0 and 1 where nothing is said. Half a range is none: what would turn by it turned wrongly. */
function physicalEnds(
  element: XmlElement,
  number: (element: XmlElement, key: string) => number | undefined,
): { physicalFrom: number; physicalTo: number } {
  const [from, to] = [number(element, 'PhysicalFrom'), number(element, 'PhysicalTo')];
  const isBroken = (key: string, value: number | undefined) =>
    value === undefined && attributeOf(element, key) !== undefined;
  return isBroken('PhysicalFrom', from) || isBroken('PhysicalTo', to)
    ? { physicalFrom: 0, physicalTo: 1 }
    : { physicalFrom: from ?? 0, physicalTo: to ?? 1 };
}

function setsOf(
  element: XmlElement,
  last: number,
  raw: (element: XmlElement, key: string) => number | undefined,
): ChannelSet[] {
  const sets = childrenOf(element, 'ChannelSet')
    .map(one => ({
      name: attributeOf(one, 'Name') ?? '',
      physicalFrom: numberOf(one, 'PhysicalFrom'),
      physicalTo: numberOf(one, 'PhysicalTo'),
      first: raw(one, 'DMXFrom') ?? 0,
      slot: numberOf(one, 'WheelSlotIndex'),
    }))
    .sort((a, b) => a.first - b.first);
  // Sets without a name are there to end those before them.
  return sets
    .map((one, i) => ({
      ...one,
      last: Math.min(last, Math.max(one.first, (sets[i + 1]?.first ?? last + 1) - 1)),
    }))
    .filter(({ name, first }) => name !== '' && first <= last);
}
