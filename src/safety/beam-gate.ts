/**
 * Keeps a lit beam out of the parts of the room that the show says: whatever the levels were to be, and whoever made them, a head that is
 * pointed there in what leaves is dark in it.
 */
export interface BeamGate {
  /** Among the channels of its fixture; zoom is -1 where there is none. */
  readonly pan: number;
  readonly tilt: number;
  readonly zoom: number;
  /** Those that make it dark. */
  readonly lamps: readonly number[];
  /** Whether the beam touches, by raw values; zoom is 0 where there is none. */
  readonly touches: (pan: number, tilt: number, zoom: number) => boolean;
  /** From its slots until the head has surely left, seconds; above 0. */
  readonly leavesInS: number;
}

/** Of a channel: how fast its fixture can follow, raw steps a second; undefined: nothing is known. */
interface GatedChannel {
  readonly motion?: { readonly speed: number } | undefined;
}

export interface GatedFixture<C extends GatedChannel> {
  readonly channels: readonly C[];
  readonly gate?: BeamGate | undefined;
}

/** A gate in the rows of what leaves. */
export interface PlacedGate {
  readonly gate: BeamGate;
  readonly pan: number;
  readonly tilt: number;
  readonly zoom: number;
  readonly lamps: readonly number[];
  /** How fast the head goes, raw steps a second. */
  readonly panSpeed: number;
  readonly tiltSpeed: number;
  /** Where it is by now if it goes no faster than it can, raw; NaN until it is known. */
  panIs: number;
  tiltIs: number;
  /** Since it last touched, seconds. */
  clearForS: number;
  /** Whether it keeps a head dark in this beat that was to be lit. */
  holds: boolean;
}

/** @param rowOf place of a channel in the rows */
export function placeGates<C extends GatedChannel>(
  fixtures: readonly GatedFixture<C>[],
  rowOf: (channel: C) => number,
): PlacedGate[] {
  return fixtures.flatMap(({ channels, gate }): PlacedGate[] => {
    if (gate === undefined) return [];
    const row = (index: number) => (index < 0 ? -1 : rowOf(channels[index] as C));
    const { pan, tilt, zoom, lamps } = gate;
    const speedOf = (index: number) => channels[index]?.motion?.speed ?? Number.POSITIVE_INFINITY;
    return [
      {
        gate,
        pan: row(pan),
        tilt: row(tilt),
        zoom: row(zoom),
        lamps: lamps.map(row),
        panSpeed: speedOf(pan),
        tiltSpeed: speedOf(tilt),
        panIs: Number.NaN,
        tiltIs: Number.NaN,
        clearForS: Number.POSITIVE_INFINITY,
        holds: false,
      },
    ];
  });
}

/**
 * Where nobody knows what was before: at the slots of now. A head that is lit was clear; one that is dark may be on its
 * way out just now.
 */
export function beginGate(
  placed: PlacedGate,
  at: ArrayLike<number>,
  dark: ArrayLike<number>,
): void {
  placed.panIs = at[placed.pan] as number;
  placed.tiltIs = at[placed.tilt] as number;
  const isDark = placed.lamps.every(c => at[c] === dark[c]);
  placed.clearForS = isDark ? 0 : Number.POSITIVE_INFINITY;
}

/** The same head under another show: it is where it was, and was clear for as long. What it may not touch may be new. */
export function goOnGate(placed: PlacedGate, { panIs, tiltIs, clearForS }: PlacedGate): void {
  Object.assign(placed, { panIs, tiltIs, clearForS });
}

/**
 * One beat of a gate: what is sent must be clear, and where the head is on its way there, now and in the next beat.
 * @returns whether its head may be lit
 */
export function isClear(
  placed: PlacedGate,
  pan: number,
  tilt: number,
  zoom: number,
  beatS: number,
): boolean {
  const { gate, panSpeed, tiltSpeed } = placed;
  placed.panIs = stepped(placed.panIs, pan, panSpeed * beatS);
  placed.tiltIs = stepped(placed.tiltIs, tilt, tiltSpeed * beatS);
  const { panIs, tiltIs } = placed;
  let touches = gate.touches(pan, tilt, zoom);
  if (!touches && (panIs !== pan || tiltIs !== tilt)) {
    const nextPan = stepped(panIs, pan, panSpeed * beatS);
    const nextTilt = stepped(tiltIs, tilt, tiltSpeed * beatS);
    touches = gate.touches(panIs, tiltIs, zoom) || gate.touches(nextPan, nextTilt, zoom);
  }
  placed.clearForS = touches ? 0 : placed.clearForS + beatS;
  return placed.clearForS >= gate.leavesInS;
}

/** Towards a value by so much at most; there at once from nowhere. */
function stepped(from: number, to: number, most: number): number {
  if (Number.isNaN(from)) return to;
  return from + Math.max(-most, Math.min(most, to - from));
}
