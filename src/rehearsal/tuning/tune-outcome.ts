import type { Change, ChangeValue } from '../../editing/propose.js';
import type { Figures } from './tune-judge.js';

/** One thing that tuning looked at, and what it came to. */
export type Outcome =
  | {
      readonly kind: 'proposed';
      readonly what: string;
      readonly now: string;
      readonly proposed: string;
      readonly why: string;
      /** Over the recording, with this and the proposals before it. */
      readonly figures: Figures;
    }
  /** It may stay as it is. */
  | { readonly kind: 'kept'; readonly what: string; readonly why: string }
  /** The recording does not tell. */
  | { readonly kind: 'unknown'; readonly what: string; readonly why: string };

/** A proposal before it is proved. */
export interface Step {
  readonly what: string;
  readonly now: string;
  readonly proposed: string;
  readonly why: string;
  readonly change: Change;
  /** What is tried next where this does harm. */
  readonly instead?: Step;
}

export function trackingChange(key: string, value: ChangeValue): Change {
  return { path: ['tracking', key], value };
}
