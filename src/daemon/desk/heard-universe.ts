import { ARTNET_OUTCOMES, type ArtnetOutcome } from '../../protocols/artnet/receiver.js';
import { SACN_OUTCOMES, type SacnOutcome } from '../../protocols/sacn/receiver.js';
import type { DeskInputPlan } from '../../show/model/model.js';
import type { DeskSource } from './events.js';

/** What has come in by one input, and what was done with it. */
export type DeskCounters = Record<SacnOutcome | ArtnetOutcome, number>;

/** One universe of the desk, as it is now; a view that changes as packets come. */
export interface HeardUniverse {
  readonly plan: DeskInputPlan;
  /** 512 slots; what they were last while it is not heard. */
  readonly levels: Uint8Array;
  /** Counts changes of the levels. */
  readonly changes: number;
  readonly isHeard: boolean;
  /** It has been, since the start. */
  readonly everHeard: boolean;
  /** When the last packet of the leading sources came, monotonic seconds. */
  readonly heardS: number;
  readonly sources: readonly DeskSource[];
  /** The sources of the levels, as a text that differs for each set of sources; while it is not heard, the last ones. */
  readonly from: string;
  readonly counters: Readonly<DeskCounters>;
}

/** Before any packet. */
export const NO_COUNTS = Object.fromEntries(
  [...SACN_OUTCOMES, ...ARTNET_OUTCOMES].map(name => [name, 0]),
) as Readonly<DeskCounters>;
