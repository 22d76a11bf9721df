import { OSC_REJECT_REASONS } from '../../protocols/osc/decode.js';
import { ORDER_REJECT_REASONS } from '../../protocols/osc/orders.js';
import { POSITION_REJECT_REASONS } from '../../protocols/osc/read-positions.js';
import { PSN_REJECT_REASONS } from '../../protocols/psn/decode.js';
import { PSN_POSITION_REJECT_REASONS } from '../../protocols/psn/position.js';

/** What the engine itself may have against a position, beside the codec's and the route's reasons. */
const ENGINE_REJECT_REASONS = [
  /** More than a kilometre from the origin: a unit or a broken sensor, not a stage. */
  'position-range',
  /** A charge that is no share of 1; the position that it came with counts. */
  'battery-range',
  /** It is not of this show: no performer wears it, nor is it a spare. */
  'unknown-tracker',
  /** An order for a performer whom the show does not have. */
  'unknown-performer',
  /** An order to go to a cue that the show does not have. */
  'unknown-cue',
  /** From the main machine, a mapping that this show does not have. */
  'unknown-mapping',
  /** An order to pin a head that chooses nobody, or to somebody on whom it can't be. */
  'pin-impossible',
  /** It may have waited for more than 3 s while the engine stood still. */
  'order-too-late',
  /** To be held for longer than MAX_HOLD_S: the clock of the sender is wrong. */
  'time-tag-too-late',
  /** More messages are held for their time tag than there is room for. */
  'too-many-held',
  /** The inbox was full; the oldest went. */
  'inbox-full',
  /** From an address that the input does not allow. */
  'sender-not-allowed',
] as const;

export const DROP_REASONS = [
  ...OSC_REJECT_REASONS,
  ...POSITION_REJECT_REASONS,
  ...PSN_REJECT_REASONS,
  ...PSN_POSITION_REJECT_REASONS,
  ...ORDER_REJECT_REASONS,
  ...ENGINE_REJECT_REASONS,
] as const;
export type DropReason = (typeof DROP_REASONS)[number];

/** Positions of one tracker that came from one sender to one input. */
export interface TrackerFeed {
  readonly tracker: string;
  /** Name of the input. */
  readonly input: string;
  /** Address; undefined where nobody knows, as in a replay. */
  readonly from: string | undefined;
  positions: number;
}

export interface Counters {
  datagrams: number;
  /** Positions that reached a track. */
  positions: number;
  /** Positions that a track did not believe, or had seen already. */
  gated: number;
  duplicates: number;
  outOfOrder: number;
  /** Taken late, at their own time. */
  replayed: number;
  /** Numbers for signals. */
  numbers: number;
  /** Positions of spare trackers, that nobody wears. */
  spares: number;
  /** Of a place or time that no stage has. */
  invalid: number;
  /** Messages that actions have sent, and those that were too many in a second. */
  actionsSent: number;
  actionsHeld: number;
  readonly drops: Record<DropReason, number>;
  /** What was last dropped for a reason, where it has an address or a name, as people write it. */
  readonly latest: Partial<Record<DropReason, string>>;
  /** From which address what was last dropped for a reason came, where it is known. */
  readonly latestFrom: Partial<Record<DropReason, string>>;
  /** Who sends the positions of each tracker of the show, and how many came. */
  readonly feeds: TrackerFeed[];
}

export function createCounters(): Counters {
  return {
    datagrams: 0,
    positions: 0,
    gated: 0,
    duplicates: 0,
    outOfOrder: 0,
    replayed: 0,
    numbers: 0,
    spares: 0,
    invalid: 0,
    actionsSent: 0,
    actionsHeld: 0,
    latest: {},
    latestFrom: {},
    feeds: [],
    drops: Object.fromEntries(DROP_REASONS.map(reason => [reason, 0])) as Record<
      DropReason,
      number
    >,
  };
}
