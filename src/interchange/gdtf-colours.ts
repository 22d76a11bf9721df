import { type Attribute, isEmitter, isFilter, type PhysicalUnit } from '../fixtures/attributes.js';
import type { ChannelFunction, ChannelSet } from './gdtf-channels.js';
import { attributeOf, childOf, childrenOf, type XmlElement } from './xml.js';

/** CIE 1931 xyY, as GDTF writes colours; Y in no unit that files agree on. */
export interface GdtfColour {
  readonly xy: [number, number];
  readonly luminance: number;
}

/** Levels with a name, and what they mean physically where the file says it. */
export type NamedLevels =
  | [number, number]
  | ({ levels: [number, number]; xy?: [number, number]; luminance?: number } & (
      | { range: [number, number]; unit: PhysicalUnit }
      | { range?: never; unit?: never }
    ));

/** The colours that a file states, by the names under which its channel functions refer to them. */
export interface GdtfColours {
  readonly emitters: ReadonlyMap<string, GdtfColour>;
  readonly filters: ReadonlyMap<string, GdtfColour>;
  /** Of the slots of each wheel, in order; undefined for one without a colour. */
  readonly wheels: ReadonlyMap<string, readonly (GdtfColour | undefined)[]>;
}

/** PhysicalDescriptions and Wheels of a FixtureType. */
export function coloursOf(type: XmlElement): GdtfColours {
  const described = childOf(type, 'PhysicalDescriptions');
  const named = (list: string, kind: string) =>
    new Map(
      childrenOf(childOf(described, list), kind).flatMap((one): [string, GdtfColour][] => {
        const colour = colourOf(one);
        return colour === undefined ? [] : [[attributeOf(one, 'Name') ?? '', colour]];
      }),
    );
  const filters = named('Filters', 'Filter');
  const wheels = childrenOf(childOf(type, 'Wheels'), 'Wheel').map(
    (wheel): [string, (GdtfColour | undefined)[]] => [
      attributeOf(wheel, 'Name') ?? '',
      childrenOf(wheel, 'Slot').map(
        slot => colourOf(slot) ?? filters.get(attributeOf(slot, 'Filter') ?? ''),
      ),
    ],
  );
  return { emitters: named('Emitters', 'Emitter'), filters, wheels: new Map(wheels) };
}

/** `0.3127,0.3290,100`; undefined for none, and for what is no colour of a light. */
function colourOf(element: XmlElement): GdtfColour | undefined {
  const parts = (attributeOf(element, 'Color') ?? '').split(',').map(part => Number(part.trim()));
  const [x, y, luminance] = parts;
  if (parts.length !== 3 || x === undefined || y === undefined || luminance === undefined) {
    return undefined;
  }
  const isColour = x >= 0 && x <= 0.8 && y >= 0.001 && y <= 0.9 && x + y <= 1;
  return isColour && Number.isFinite(luminance) ? { xy: [x, y], luminance } : undefined;
}

/** What the file states of the colours of a channel. */
export function statedColours(
  attribute: Attribute,
  main: ChannelFunction | undefined,
  { emitters, filters }: GdtfColours,
): { emitter?: GdtfColour; filter?: GdtfColour } {
  const emitter = emitters.get(main?.emitter ?? '');
  if (isEmitter(attribute) && emitter !== undefined && emitter.luminance > 0) return { emitter };
  const filter = filters.get(main?.filter ?? '');
  const isPerCent = filter !== undefined && filter.luminance > 0 && filter.luminance < 100;
  return isFilter(attribute) && isPerCent ? { filter } : {};
}

/** The levels of a place of a colour wheel, with its colour. */
export function colouredLevels(
  named: NamedLevels,
  { attribute, wheel }: ChannelFunction,
  { slot }: ChannelSet,
  { wheels }: GdtfColours,
): NamedLevels {
  // Slots are counted from 1.
  const colour = /^Color\d$/.test(attribute) ? wheels.get(wheel)?.[(slot ?? 0) - 1] : undefined;
  if (colour === undefined) return named;
  const { xy, luminance } = colour;
  const bright = luminance > 0 && luminance <= 100 ? { luminance } : {};
  return { ...(Array.isArray(named) ? { levels: named } : named), xy, ...bright };
}
