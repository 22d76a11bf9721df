import { unreachable } from '../stage/unreachable.js';

/**
 * The enable of a hazardous output is a dead man's handle: it holds only while it is repeated. Once the output
 * is dropped, it stays latched off until the enable is released and pressed again. So a strobe never comes
 * on by itself because a tracker came back while somebody's hand still lay on the button.
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

/** One that holds an enable. */
export interface Hand {
  /** Where it is, in words. */
  readonly by: string;
  /** When it repeated it last, monotonic seconds. */
  readonly heardS: number;
}

/** The enable of one class, as it comes in. Each hand that holds it is known by where it comes from. */
export interface Enable {
  /** When it was last repeated, monotonic seconds; NaN after it was released by all. */
  heardS: number;
  /** Those who hold it. */
  readonly hands: Map<string, Hand>;
  /** One of several hands has let go: it is off until the others have, too. */
  isDropped: boolean;
  /** Where the hand was that was not repeated in time, since the enable was released last; undefined: there was none. */
  goneFrom: string | undefined;
}

/** More are no hands; the one that was silent longest is taken for one that has let go. */
const MOST_HANDS = 16;

export function createEnable(): Enable {
  return { heardS: Number.NaN, hands: new Map(), isDropped: false, goneFrom: undefined };
}

/**
 * Whoever lets go drops it, also while others hold it, and also if the word comes from where nobody holds it: an
 * output that one wants off does not stay on, or come on again, by the hand of another.
 * @param by where it comes from, in words
 * @param hand tells it from others there: two pages of a panel behind one address
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
  // Put at the end: the first is the one that was silent longest.
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

/** Whether a hand is on it. One that is not repeated in time has let go. */
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
