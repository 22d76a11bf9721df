import type { OperatorAction } from './operator-action.js';

/** A datagram as it came from a socket. */
export interface Datagram {
  /** Index of the input in the show. */
  readonly input: number;
  readonly bytes: Buffer;
  /** Monotonic seconds. */
  readonly arrivalS: number;
  /** Address of the sender, if the input carries orders: events say who gave them. */
  readonly from?: string | undefined;
  /** The sender of any datagram, if known: tells who sent what was dropped. It is not recorded. */
  readonly sender?: string | undefined;
  /** The port from which it came: tells apart two programs on one machine. It is not recorded. */
  readonly port?: number | undefined;
}

/** A universe of the desk, as the supervisor hears it. */
export interface DeskLevels {
  /** Its place in the `desk` of the show. */
  readonly input: number;
  /** 512 slots; the last ones, if the desk is gone. */
  readonly levels: Uint8Array;
  /** false: it is gone. A desk that has never been heard is not listed. */
  readonly heard: boolean;
  /** The sources of the levels, as a text that differs for each set of sources; the last ones, if the desk is gone. Missing: always the same. */
  readonly from?: string | undefined;
  /** No packet has come for so long that no enable counts as held any more, whether the desk still counts as heard or not. */
  readonly silent?: boolean | undefined;
}

export interface TickInputs {
  /** In the order of arrival. */
  readonly datagrams: readonly Datagram[];
  /** Unix time less monotonic time, seconds: places OSC time tags on our clock. */
  readonly unixOffsetS: number;
  /** What people ask, in order; carried out by `step`, not by `absorb`. */
  readonly operator?: readonly OperatorAction[];
  /** Universes of the desk that have changed, come or gone since the last tick, in that order. */
  readonly desk?: readonly DeskLevels[];
}
