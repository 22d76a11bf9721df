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

/** The enable of one class, as it comes in. */
export interface Enable {
  /** When it was last repeated, monotonic seconds; NaN after it was released. */
  heardS: number;
}

export function createEnable(): Enable {
  return { heardS: Number.NaN };
}

export function hearEnable(enable: Enable, held: boolean, nowS: number): void {
  enable.heardS = held ? nowS : Number.NaN;
}

/** Written so that NaN is never held. */
export function isHeld(enable: Readonly<Enable>, nowS: number, timeoutS: number): boolean {
  return nowS - enable.heardS <= timeoutS;
}
