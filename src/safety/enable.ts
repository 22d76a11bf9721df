import { unreachable } from '../stage/unreachable.js';

/**
 * The enable of a hazardous output is a dead man's handle: it holds only while it is repeated. Once the output has
 * gone off, it stays latched off until the enable is released and pressed again. So a strobe never comes on by itself
 * because a tracker came back while somebody still held the button.
 *
 *   off ──held, all well──▶ on ──released──▶ off
 *    │                       │
 *    └─held, not well─▶ latched off ◀─not well─┘      latched off ──released──▶ off
 */
export const GATE_STATES = ['off', 'on', 'latched-off'] as const;
export type GateState = (typeof GATE_STATES)[number];

/**
 * @param held the enable of the class has been repeated in time
 * @param well tracking is there for this output, and nobody has stopped it
 */
export function nextGate(gate: GateState, held: boolean, well: boolean): GateState {
  if (!held) return 'off';
  switch (gate) {
    case 'off':
    case 'on':
      return well ? 'on' : 'latched-off';
    case 'latched-off':
      return 'latched-off';
    default:
      return unreachable(gate);
  }
}

/** Somebody who holds an enable. */
export interface Hand {
  /** Where they are, in words. */
  readonly by: string;
  /** When they last repeated it, monotonic seconds. */
  readonly heardS: number;
}

/** The enable of one class, as it comes in. Each hold is known by where it comes from. */
export interface Enable {
  /** When it was last repeated, monotonic seconds; NaN once everybody has released it. */
  heardS: number;
  /** Those who hold it. */
  readonly hands: Map<string, Hand>;
  /** One of several has let go: it is off until the others let go too. */
  isDropped: boolean;
  /** Who did not repeat it in time since it was last released; undefined: nobody. */
  goneFrom: string | undefined;
}

/** Most holds at once; beyond that, the one silent longest counts as released. */
const MOST_HANDS = 16;

export function createEnable(): Enable {
  return { heardS: Number.NaN, hands: new Map(), isDropped: false, goneFrom: undefined };
}

/**
 * Anybody's release drops it, even while others hold it, and even if it comes from somebody who does not hold it: an
 * output that one person wants off must not stay on, or come on again, because another still holds it.
 * @param by where it comes from, in words
 * @param hand tells apart holds from one place, such as two pages of a panel behind one address
 */
export function hearEnable(
  enable: Enable,
  held: boolean,
  nowS: number,
  by: string,
  hand = by,
): void {
  const { hands } = enable;
  if (!held) {
    hands.delete(hand);
    enable.goneFrom = undefined;
    enable.isDropped = hands.size > 0;
    enable.heardS = Number.NaN;
    return;
  }
  if (hands.size === 0) {
    enable.isDropped = false;
    enable.goneFrom = undefined;
  }
  // Moved to the end: the first has been silent longest.
  hands.delete(hand);
  hands.set(hand, { by, heardS: nowS });
  enable.heardS = nowS;
  if (hands.size <= MOST_HANDS) return;
  for (const oldest of hands.keys()) {
    hands.delete(oldest);
    break;
  }
  enable.isDropped = true;
}

/** Whether anybody holds it. A hold that is not repeated in time counts as released. */
export function isHeld(enable: Enable, nowS: number, timeoutS: number): boolean {
  const { hands } = enable;
  for (const [hand, { by, heardS }] of hands) {
    if (nowS - heardS <= timeoutS) continue;
    hands.delete(hand);
    enable.goneFrom = by;
    enable.isDropped = true;
  }
  if (hands.size === 0) enable.isDropped = false;
  return hands.size > 0;
}
