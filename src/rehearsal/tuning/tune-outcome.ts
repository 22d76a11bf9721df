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
      /** Figures over the recording with this proposal and those before it. */
      readonly figures: Figures;
    }
  /** It may stay as it is. */
  | { readonly kind: 'kept'; readonly what: string; readonly why: string }
  /** The recording doesn't tell. */
  | { readonly kind: 'unknown'; readonly what: string; readonly why: string };

/** A proposal that has not been proved yet. */
export interface Step {
  readonly what: string;
  readonly now: string;
  readonly proposed: string;
  readonly why: string;
  readonly change: Change;
  /** What is tried next if this does harm. */
  readonly instead?: Step;
}

export function trackingChange(key: string, value: ChangeValue): Change {
  return { path: ['tracking', key], value };
}
