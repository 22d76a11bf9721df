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

/** A universe of the desk, as the supervisor hears it. */
export interface DeskLevels {
  /** Its place in the `desk` of the show. */
  readonly input: number;
  /** 512 slots; of a desk that is gone what they were last. */
  readonly levels: Uint8Array;
  /** false: it is gone. One that has never been heard isn't told of. */
  readonly heard: boolean;
  /** Whose levels they are, another text for each other set of sources; of a desk that is gone, whose they were. Missing: always the same. */
  readonly from?: string | undefined;
  /** No packet has come for so long that nobody holds an enable any more, whether it counts as heard or not. */
  readonly silent?: boolean | undefined;
}

export interface TickInputs {
  /** In the order of arrival. */
  readonly datagrams: readonly Datagram[];
  /** Unix time less monotonic time, seconds: places OSC time tags on our clock. */
  readonly unixOffsetS: number;
  /** What people want, in the order in which they said it; carried out by `step`, not by `absorb`. */
  readonly operator?: readonly OperatorAction[];
  /** Universes of the desk that have changed, come or gone since the last tick, in the order in which they did; none where none has. */
  readonly desk?: readonly DeskLevels[];
}
