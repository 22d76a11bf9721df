import type { DeskInputPlan } from '../../show/model/model.js';

/** Who sends a universe of the desk. */
export interface DeskSource {
  /** As it calls itself; of Art-Net its address. */
  readonly name: string;
  readonly address: string;
  /** E1.31 priority; Art-Net has none. */
  readonly priority: number | undefined;
  /** Its levels count. */
  readonly leads: boolean;
}

/** What happens to the levels of a desk that is gone; recordings of earlier versions have only the universe as a whole. */
export type WhenGone = Pick<DeskInputPlan, 'gone'> &
  Partial<Pick<DeskInputPlan, 'goneApart' | 'leavesSafe'>>;

/** What people want to know of the desk. */
export type DeskEvent =
  /** Levels come. */
  | {
      readonly kind: 'desk-heard';
      readonly input: string;
      readonly sources: readonly DeskSource[];
      /** It was gone for so long, seconds; undefined: it is heard for the first time. */
      readonly afterS?: number | undefined;
    }
  /** And no longer. */
  | ({
      readonly kind: 'desk-gone';
      readonly input: string;
      readonly last: DeskSource | undefined;
      /** It said so itself: E1.31's Stream_Terminated. */
      readonly ended: boolean;
    } & WhenGone)
  /** Nothing has come since the start. */
  | { readonly kind: 'desk-silent'; readonly input: string }
  /** Others than before: a second desk, or one fewer. */
  | {
      readonly kind: 'desk-sources';
      readonly input: string;
      readonly sources: readonly DeskSource[];
    }
  /** Packets not used since the last report, by reason; once a minute at most. */
  | { readonly kind: 'desk-dropped'; readonly drops: Readonly<Record<string, number>> }
  /** Nothing can be heard by this interface. */
  | {
      readonly kind: 'desk-deaf';
      readonly interface: string;
      readonly inputs: readonly string[];
      readonly reason: string;
    }
  | {
      readonly kind: 'desk-listens';
      readonly interface: string;
      readonly inputs: readonly string[];
    }
  /** More came than any honest sender sends. */
  | {
      readonly kind: 'desk-flood';
      readonly interface: string;
      readonly inputs: readonly string[];
      readonly forS: number;
    };
