import type { OperatorAction } from './operator-action.js';

/** A datagram as it came out of a socket. */
export interface Datagram {
  /** Index of the input in the show. */
  readonly input: number;
  readonly bytes: Buffer;
  /** Monotonic seconds. */
  readonly arrivalS: number;
  /** Address of the sender, where the input carries orders: events say who gave them. */
  readonly from?: string | undefined;
  /** The same of any datagram, where it is known: who sent what is dropped. It is not recorded. */
  readonly sender?: string | undefined;
}

export interface TickInputs {
  /** In the order of arrival. */
  readonly datagrams: readonly Datagram[];
  /** Unix time less monotonic time, seconds: places OSC time tags on our clock. */
  readonly unixOffsetS: number;
  /** What people want, in the order in which they said it; carried out by `step`, not by `absorb`. */
  readonly operator?: readonly OperatorAction[];
}
