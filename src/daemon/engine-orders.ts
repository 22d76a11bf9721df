import type { RecordOrders } from './recorder/orders.js';

/** File descriptor of the pipe to the supervisor. */
export const ENGINE_PIPE_FD = 3;

/** What the supervisor says first, as one line of JSON on the engine's standard input. */
export interface EngineOrders {
  readonly text: string;
  readonly file: string;
  readonly tickHz: number;
  /** Snapshots a second; 0 for none. */
  readonly snapshotHz: number;
  /** Report each tick's start and length, for measurements. */
  readonly traceTicks: boolean;
  /** Where to record; undefined: nowhere. */
  readonly record?: RecordOrders | undefined;
}
