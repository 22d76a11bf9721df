import { OSC_REJECT_REASONS } from '../../protocols/osc/decode.js';
import { ORDER_REJECT_REASONS } from '../../protocols/osc/orders.js';
import { POSITION_REJECT_REASONS } from '../../protocols/osc/read-positions.js';
import { PSN_REJECT_REASONS } from '../../protocols/psn/decode.js';
import { PSN_POSITION_REJECT_REASONS } from '../../protocols/psn/position.js';

/** The engine's own reasons to drop something, besides those of the codec and the route. */
const ENGINE_REJECT_REASONS = [
  /** More than a kilometre from the origin: a unit or a broken sensor, not a stage. */
  'position-range',
  /** A charge outside 0..1; the position that it came with counts. */
  'battery-range',
  /** A tracker that is not in this show: no performer wears it, nor is it a spare. */
  'unknown-tracker',
  /** An order for a performer who is not in the show. */
  'unknown-performer',
  /** An order to enable a class of hazard that the show has nothing of. */
  'unknown-hazard',
  /** An order to go to a cue that is not in the show. */
  'unknown-cue',
  /** From the main machine, a mapping that is not in this show. */
  'unknown-mapping',
  /** An order to pin a head that chooses nobody, or to somebody on whom it can't be. */
  'pin-impossible',
  /** It may have waited more than 3 s while the engine stood still. */
  'order-too-late',
  /** No engine was there that took it, or it ended before it answered. */
  'order-lost',
  /** Its time tag is further ahead than MAX_HOLD_S: the sender's clock is wrong. */
  'time-tag-too-late',
  /** There is no room for more messages held for their time tag. */
  'too-many-held',
  /** The inbox was full; the oldest went. */
  'inbox-full',
  /** The kernel had no room left for it in the receive buffer of a socket: nobody has read it. */
  'socket-full',
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
  /** Address; undefined if not known, as in a replay. */
  readonly from: string | undefined;
  positions: number;
  /** The ports heard last, the latest first; missing where none is known. */
  ports?: { port: number; positions: number }[];
  /** How often another port gave another place than the one before, farther away than anybody runs. */
  apart?: number;
}

export interface Counters {
  datagrams: number;
  /** Positions that reached a track. */
  positions: number;
  /** Positions that a track rejected, or had already seen. */
  gated: number;
  duplicates: number;
  outOfOrder: number;
  /** Taken late, at their own time. */
  replayed: number;
  /** Numbers for signals. */
  numbers: number;
  /** Positions of spare trackers, that nobody wears. */
  spares: number;
  /** Positions with a place or time that no stage has. */
  invalid: number;
  /** Stops and resumes of a flood that were carried out, and are not reported one by one. */
  ordersMerged: number;
  /** Messages that actions have sent, and those dropped as too many in a second. */
  actionsSent: number;
  actionsHeld: number;
  readonly drops: Record<DropReason, number>;
  /** What was last dropped for each reason, if it has an address or a name, as people write it. */
  readonly latest: Partial<Record<DropReason, string>>;
  /** The address that the last drop for each reason came from, if known. */
  readonly latestFrom: Partial<Record<DropReason, string>>;
  /** Of `socket-full`, at which sockets, in words, and how many. */
  readonly fullSockets: Record<string, number>;
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
    ordersMerged: 0,
    actionsSent: 0,
    actionsHeld: 0,
    latest: {},
    latestFrom: {},
    fullSockets: {},
    feeds: [],
    drops: Object.fromEntries(DROP_REASONS.map(reason => [reason, 0])) as Record<
      DropReason,
      number
    >,
  };
}
