import { clipped } from './archive.js';
import { dmxValue, rawIn } from './dmx-value.js';
import type { Remarks } from './outcome.js';
import { attributeOf, childOf, childrenOf, numberOf, type XmlElement } from './xml.js';

/** A named stretch of a channel function. */
export interface ChannelSet {
  readonly name: string;
  readonly first: number;
  readonly last: number;
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
  /** In the order of their levels, from 0 to the top without a gap. */
  readonly functions: readonly ChannelFunction[];
  /** The function that is on by default. */
  readonly initial: ChannelFunction | undefined;
}

/** The widest channel that a profile can have. */
const MOST_BYTES = 3;

/** The channels of a DMXMode. */
export function channelsOf(mode: XmlElement, where: string, remarks: Remarks): GdtfChannel[] {
  return childrenOf(childOf(mode, 'DMXChannels'), 'DMXChannel').flatMap((channel, index) => {
    const logical = childOf(channel, 'LogicalChannel');
    const attribute = attributeOf(logical, 'Attribute');
    const at = `${where}, channel ${index + 1}${attribute === undefined ? '' : ` (${clipped(attribute)})`}`;
    if (logical === undefined || attribute === undefined) {
      remarks.leftOut(at, 'it has no LogicalChannel with an Attribute');
      return [];
    }
    const offsets = offsetsOf(channel, at, remarks);
    return offsets === undefined
      ? []
      : [channelOf(channel, logical, attribute, offsets, at, remarks)];
  });
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
  offsets: readonly number[],
  at: string,
  remarks: Remarks,
): GdtfChannel {
  const bytes = Math.min(MOST_BYTES, Math.max(1, offsets.length));
  const most = 256 ** bytes - 1;
  const others = childrenOf(channel, 'LogicalChannel').length - 1;
  if (others > 0) {
    remarks.note(at, `it has ${others} more LogicalChannel; the first is taken`);
  }
  const elements = childrenOf(logical, 'ChannelFunction');
  const plain = elements.filter(one => attributeOf(one, 'ModeMaster') === undefined);
  // Where all depend on another channel, those that do so as the first does.
  const [first] = elements;
  const taken =
    plain.length > 0
      ? plain
      : elements.filter(one =>
          ['ModeMaster', 'ModeFrom', 'ModeTo'].every(
            key => attributeOf(one, key) === attributeOf(first, key),
          ),
        );
  if (taken.length < elements.length) {
    remarks.note(
      at,
      `${elements.length - taken.length} of its functions depend on another channel (ModeMaster) and are not used`,
    );
  }
  const raw = (text: string | undefined) => {
    const value = dmxValue(text);
    return value === undefined ? undefined : rawIn(value, bytes);
  };
  const starts = taken
    .map(element => ({ element, first: raw(attributeOf(element, 'DMXFrom')) ?? 0 }))
    .sort((a, b) => a.first - b.first);
  const functions = starts.map(({ element, first: from }, i): ChannelFunction => {
    const last = Math.max(from, (starts[i + 1]?.first ?? most + 1) - 1);
    return {
      name: attributeOf(element, 'Name') ?? '',
      attribute: attributeOf(element, 'Attribute') ?? attribute,
      first: from,
      last,
      physicalFrom: numberOf(element, 'PhysicalFrom') ?? 0,
      physicalTo: numberOf(element, 'PhysicalTo') ?? 1,
      realFadeS: Math.max(0, numberOf(element, 'RealFade') ?? 0),
      realAccelerationS: Math.max(0, numberOf(element, 'RealAcceleration') ?? 0),
      sets: setsOf(element, last, raw),
    };
  });
  const initialName = attributeOf(channel, 'InitialFunction')?.split('.').slice(2).join('.');
  const initialAt = starts.findIndex(
    ({ element }) => initialName !== undefined && attributeOf(element, 'Name') === initialName,
  );
  const initial = functions[Math.max(0, initialAt)];
  const initialElement = starts[Math.max(0, initialAt)]?.element;
  // Before 1.1 the default was the channel's.
  const defaultRaw =
    raw(attributeOf(initialElement, 'Default')) ?? raw(attributeOf(channel, 'Default')) ?? 0;
  const dmxBreak = attributeOf(channel, 'DMXBreak');
  return {
    where: at,
    geometry: attributeOf(channel, 'Geometry') ?? '',
    dmxBreak: dmxBreak === 'Overwrite' ? undefined : Number(dmxBreak ?? 1),
    offsets,
    attribute,
    snaps: ['Yes', 'On'].includes(attributeOf(logical, 'Snap') ?? ''),
    defaultRaw,
    highlightRaw: raw(attributeOf(channel, 'Highlight')),
    functions,
    initial,
  };
}

function setsOf(
  element: XmlElement,
  last: number,
  raw: (text: string | undefined) => number | undefined,
): ChannelSet[] {
  const sets = childrenOf(element, 'ChannelSet')
    .map(one => ({
      name: attributeOf(one, 'Name') ?? '',
      first: raw(attributeOf(one, 'DMXFrom')) ?? 0,
    }))
    .sort((a, b) => a.first - b.first);
  // Sets without a name are there to end those before them.
  return sets
    .map(({ name, first }, i) => ({
      name,
      first,
      last: Math.min(last, Math.max(first, (sets[i + 1]?.first ?? last + 1) - 1)),
    }))
    .filter(({ name, first }) => name !== '' && first <= last);
}
