import type { CueTarget, EnabledClass } from '../../protocols/osc/orders.js';

/** What a show hears from a desk, and what it does with it. */

/** A universe that is heard from a desk: its slots drive signals and orders, and it may be the ground of one of ours. */
export interface DeskInputPlan {
  readonly name: string;
  readonly protocol: 'sacn' | 'artnet';
  /** On the wire. */
  readonly universe: number;
  /** Address or name of the interface on which it is heard. */
  readonly interface: string;
  /** Its slots when the desk is gone: the last values, unknown, or this share of full (0 to 1). A ground is never unknown. */
  readonly gone: 'hold' | 'unknown' | number;
  /** Its slots with another value of `gone`, by signal; and whether a fixture on it falls back on the show's own safe values. */
  readonly goneApart: readonly {
    readonly signal: string;
    readonly gone: 'hold' | 'unknown' | number;
  }[];
  readonly leavesSafe: boolean;
  /** Index into the show's `universes` of the one that lies on it. */
  readonly ground: number | undefined;
  /** From what was heard last to the value of `gone`, and back, seconds. */
  readonly fadeS: number;
}

/** A slot of the desk that gives an order. */
export interface DeskOrderPlan {
  /** Index of its universe among those that are heard, and of the slot. */
  readonly desk: number;
  readonly slot: number;
  readonly does: DeskDoes;
}

export type DeskDoes =
  | { readonly kind: 'cue'; readonly to: CueTarget | 'number' }
  /** Performers by name; none means everybody. */
  | {
      readonly kind: 'stop' | 'off';
      readonly performers: readonly string[];
      /** It lasts while the slot is above one half. */
      readonly held: boolean;
    }
  | { readonly kind: 'resume' | 'on'; readonly performers: readonly string[] }
  | { readonly kind: 'enable'; readonly hazard: EnabledClass };

/**
 * What a channel takes from the desk's level at its slots. `desk`: it passes unchanged. `safe`: ours while the
 * tracking is trusted; the safe value is the desk's level. `scale`: ours scales the desk's. `ours`: nothing.
 */
export type GroundUse = 'ours' | 'desk' | 'safe' | 'scale';
