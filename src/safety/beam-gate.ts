/**
 * Keeps lit beams out of the show's keep-outs: whatever the levels were to be, and whoever made them, a head that
 * points there in the packets sent is dark in them.
 */
export interface BeamGate {
  /** Indices among the channels of its fixture; zoom is -1 if it has none. */
  readonly pan: number;
  readonly tilt: number;
  readonly zoom: number;
  /** Channels that make it dark. */
  readonly lamps: readonly number[];
  /** Whether the beam touches a keep-out, by raw values; zoom is 0 if there is none. */
  readonly touches: (pan: number, tilt: number, zoom: number) => boolean;
  /** Time from the slots until the head has surely left, seconds; above 0. */
  readonly leavesInS: number;
}

/** How fast the fixture can follow a channel, raw steps a second; undefined: not known. */
interface GatedChannel {
  readonly motion?: { readonly speed: number } | undefined;
}

export interface GatedFixture<C extends GatedChannel> {
  readonly channels: readonly C[];
  readonly gate?: BeamGate | undefined;
}

/** A gate, with its channels as rows of the output limiter. */
export interface PlacedGate {
  readonly gate: BeamGate;
  readonly pan: number;
  readonly tilt: number;
  readonly zoom: number;
  readonly lamps: readonly number[];
  /** How fast the head goes, raw steps a second. */
  readonly panSpeed: number;
  readonly tiltSpeed: number;
  /** Where the head is by now if it moves as fast as it can, raw; NaN until known. */
  panIs: number;
  tiltIs: number;
  /** Time since it last touched, seconds. */
  clearForS: number;
  /** Whether it keeps the head dark in this beat although it was to be lit. */
  holds: boolean;
}

/** @param rowOf row of a channel */
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
 * If nothing is known of the time before: the head is at the present slots. A lit head was clear; a dark one may be
 * just fading out.
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

/** The same head in a new show: it is where it was, and has been clear for as long. The keep-outs may be new. */
export function goOnGate(placed: PlacedGate, { panIs, tiltIs, clearForS }: PlacedGate): void {
  Object.assign(placed, { panIs, tiltIs, clearForS });
}

/**
 * One beat of a gate: what is sent must be clear, and so must the head's place on the way there, now and in the next beat.
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

/** Towards a value by a step at most; at once if the place is not known. */
function stepped(from: number, to: number, most: number): number {
  if (Number.isNaN(from)) return to;
  return from + Math.max(-most, Math.min(most, to - from));
}
