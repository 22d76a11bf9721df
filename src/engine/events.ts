import type { EnabledClass } from '../protocols/osc/orders.js';
import type { GateState } from '../safety/enable.js';
import type { Phase } from '../safety/watchdog.js';
import type { Condition } from '../safety/watchdog-table.js';
import type { OperatorAction, OperatorCause } from './operator.js';

/** What happened in a tick that people want to know of, now or afterwards. */
export type EngineEvent =
  | {
      readonly kind: 'performer';
      readonly performer: string;
      readonly from: Phase;
      readonly to: Phase;
      readonly cause: Condition | undefined;
      /** Since the performer was last heard, seconds. */
      readonly silentForS: number;
      readonly confidence: number;
    }
  | { readonly kind: 'feed'; readonly silent: boolean; readonly performers: readonly string[] }
  | {
      readonly kind: 'zone';
      readonly performer: string;
      readonly zone: string;
      readonly inside: boolean;
    }
  | {
      readonly kind: 'tracker';
      readonly tracker: string;
      readonly performer: string;
      readonly change: 'assigned' | 'unassigned';
      readonly cause: OperatorCause;
    }
  | {
      readonly kind: 'operator-refused';
      readonly action: OperatorAction;
      /** In a technician's words. */
      readonly reason: string;
    }
  | ({ readonly kind: 'stopped' } & StopNews)
  | ({ readonly kind: 'resumed' } & StopNews)
  /** The engine stood still for so long that the supervisor has taken the light. */
  | { readonly kind: 'stalled'; readonly stalledS: number }
  /** The desk is heard no longer, or again. */
  | { readonly kind: 'desk'; readonly lost: boolean; readonly required: boolean }
  /** A hazardous output was enabled, let go, or fell off. */
  | {
      readonly kind: 'enable';
      readonly fixture: string;
      readonly hazard: EnabledClass;
      readonly gate: GateState;
    }
  /** Pan has come to the end of its range: the head goes dark, turns back, and comes up again. */
  | {
      readonly kind: 'turn';
      readonly fixture: string;
      readonly performer: string;
      /** Where pan would have had to go, degrees. */
      readonly panDeg: number;
    }
  | {
      readonly kind: 'reach';
      readonly fixture: string;
      readonly reachable: boolean;
      /** By how much the beam misses the point, degrees. */
      readonly missedByDeg: number;
    };

interface StopNews {
  /** Those for whom it is new. */
  readonly performers: readonly string[];
  readonly everybody: boolean;
  readonly cause: OperatorCause;
}
