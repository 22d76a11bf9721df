import type { OperatorAction } from '../../engine/values/operator-action.js';
import type { RecordOrders } from '../recorder/orders.js';

/** File descriptor of the pipe to the supervisor. */
export const ENGINE_PIPE_FD = 3;

/** A show as it crosses the pipe. */
export interface ShowOnPipe {
  /** Where it was read from, for the record. */
  readonly text: string;
  readonly file: string;
  /** What was read: base64 of each part of `packShow`. */
  readonly packed: readonly string[];
}

/** What the supervisor says first, as one line of JSON on the engine's standard input. */
export interface EngineOrders extends ShowOnPipe {
  readonly tickHz: number;
  /** Snapshots a second; 0 for none. */
  readonly snapshotHz: number;
  /** Report each tick's start and length, for measurements. */
  readonly traceTicks: boolean;
  /** Where to record; undefined: nowhere. */
  readonly record?: RecordOrders | undefined;
}

/** What an engine begins with. */
export interface Begin {
  /** What people ordered from the previous engine. */
  readonly restored: readonly OperatorAction[];
  /** Places in the show of the inputs that the supervisor hears for it; it opens the others itself. */
  readonly heldInputs: readonly number[];
}

/**
 * The first line, as it crosses the pipe. 'later': another engine runs and has the ports; this one is to say when all
 * else is ready, and to wait for a line with `go`.
 */
export type FirstOrders = EngineOrders & {
  readonly restored: Begin['restored'] | 'later';
  readonly heldInputs: Begin['heldInputs'];
};

/** What the inputs of the supervisor have heard. */
export interface OrdersOnPipe {
  /** The place of the input in the show, the datagram in base64, when it arrived (monotonic seconds), and from where. */
  readonly datagrams: readonly (readonly [
    input: number,
    bytes: string,
    arrivalS: number,
    from: string,
  ])[];
  /** Datagrams dropped for lack of room. */
  readonly dropped: number;
  /** Orders that no engine took: `KeptStops` has told of them. */
  readonly lost: number;
  /** Datagrams that the kernel dropped at the sockets of the supervisor, by socket in words. */
  readonly overflowed: Readonly<Record<string, number>>;
  /** Datagrams of senders that the input does not allow, and who the last of them was. */
  readonly refused: number;
  readonly refusedFrom: string | undefined;
}

/** A universe of the desk as it crosses the pipe: its place in the show, whether it is heard, its levels in base64, whose they are, and whether that is silent. */
export type DeskOnPipe = readonly [
  input: number,
  heard: boolean,
  levels: string,
  from: string,
  silent: boolean,
];

/** Each further line: orders, another show to go on with, or to drop that show; desk levels, or the rate of snapshots. */
export type LaterOrders =
  | { readonly operator: readonly OperatorAction[] }
  /** To one that waits since `later`: begin. */
  | { readonly go: Begin }
  | { readonly orders: OrdersOnPipe }
  /** With the same patch, outputs and inputs as the one that runs. */
  | { readonly show: ShowOnPipe }
  | { readonly keepShow: true }
  | { readonly desk: readonly DeskOnPipe[] }
  | Pick<EngineOrders, 'snapshotHz'>;
