/**
 * When one universe's packet goes out, for sACN and Art-Net alike. Called on every beat of the output
 * loop; the packet's slots hold the levels last sent, so comparing with them finds every change.
 */

/** DMX512's highest packet rate (E1.11: 44.1 Hz at 512 slots); E1.31 6.6.1 and Art-Net bind us to it. */
export const MAX_RATE_HZ = 44;
/** Of an output that says none, packets a second. */
export const DEFAULT_RATE_HZ = 40;
const MIN_INTERVAL_S = 1 / MAX_RATE_HZ;
/** Rounding in sums of seconds, far below a beat's own jitter. */
const ROUNDING_S = 1e-9;
/** E1.31 6.6.2: after a change the same levels go out three times more at the full rate. */
const REPEATS = 3;
/**
 * E1.31 6.6.2 (and Art-Net's advice): then every 800 to 1000 ms. The middle leaves 100 ms for the
 * beat on either side: up to four late beats of 25 ms do not break it.
 */
export const KEEP_ALIVE_S = 0.9;
const MIN_KEEP_ALIVE_S = 0.8;
/** E1.31 6.2.6: three packets with the stream-terminated bit. */
const TERMINATION_PACKETS = 3;

export interface TransmissionOptions {
  /** Packets a second while levels change; above {@link MAX_RATE_HZ} counts as that. */
  readonly rateHz: number;
  /** Time between two calls, seconds. A packet goes out on the beat nearest to its time. */
  readonly beatS: number;
}

/** Owned by the caller, updated in place. */
export interface Transmission {
  /** -Infinity before the first packet. */
  lastSentS: number;
  /** When the next packet is due while levels change or repeat. */
  dueS: number;
  repeatsLeft: number;
  /** Packets with the stream-terminated bit still to send; undefined while the stream lives. */
  terminationsLeft: number | undefined;
  /** It is to end, and the levels wanted then may have yet to leave: receivers hold what they had last. */
  lastLevelsDue: boolean;
}

/** 'terminate': send with the stream-terminated bit (Art-Net has none: don't send). */
export type TransmissionDecision = 'hold' | 'send' | 'terminate';

export function createTransmission(): Transmission {
  return {
    lastSentS: -Infinity,
    dueS: -Infinity,
    repeatsLeft: 0,
    terminationsLeft: undefined,
    lastLevelsDue: false,
  };
}

/** Something else than its levels has changed in the packet: it goes out at once, as after a change. */
export function repeatTransmission(state: Transmission): void {
  if (hasSent(state)) state.repeatsLeft = REPEATS;
}

/**
 * From now on {@link decideTransmission} ends the stream: a change that waited for the rate, three terminations (none if
 * it never began), then nothing.
 */
export function terminateTransmission(state: Transmission): void {
  if (state.terminationsLeft !== undefined) return;
  state.lastLevelsDue = hasSent(state);
  state.terminationsLeft = state.lastLevelsDue ? TERMINATION_PACKETS : 0;
}

/**
 * Decides whether to send on this beat. On 'send', `levels` have been copied into `sentSlots`, and the
 * caller takes the next sequence number and sends the packet. A change that has to wait for the rate
 * is found again on a later beat; none is lost.
 *
 * @param levels the levels wanted now
 * @param sentSlots the slots of the packet (same length): the levels last sent
 */
export function decideTransmission(
  state: Transmission,
  options: TransmissionOptions,
  levels: Uint8Array,
  sentSlots: Uint8Array,
  nowS: number,
): TransmissionDecision {
  const sinceLastS = nowS - state.lastSentS;
  if (sinceLastS < MIN_INTERVAL_S - ROUNDING_S) return 'hold';
  // Half a beat early is nearer to the due time than half a beat late.
  const halfBeatS = options.beatS / 2;
  const due = nowS + halfBeatS + ROUNDING_S >= state.dueS;

  if (state.terminationsLeft !== undefined) {
    if (state.terminationsLeft === 0 || !due) return 'hold';
    const isLate = state.lastLevelsDue && Buffer.compare(levels, sentSlots) !== 0;
    state.lastLevelsDue = false;
    if (isLate) {
      sentSlots.set(levels);
      advance(state, options, nowS);
      return 'send';
    }
    state.terminationsLeft--;
    advance(state, options, nowS);
    return 'terminate';
  }

  const keepAliveS = Math.max(KEEP_ALIVE_S - halfBeatS, MIN_KEEP_ALIVE_S);
  const keepAlive = sinceLastS + ROUNDING_S >= keepAliveS;
  if (!due && !keepAlive) return 'hold';
  if (!hasSent(state) || Buffer.compare(levels, sentSlots) !== 0) {
    sentSlots.set(levels);
    state.repeatsLeft = REPEATS;
  } else if (state.repeatsLeft > 0) {
    state.repeatsLeft--;
  } else if (!keepAlive) {
    return 'hold';
  }
  advance(state, options, nowS);
  return 'send';
}

function hasSent(state: Transmission): boolean {
  return state.lastSentS !== -Infinity;
}

/**
 * The next due time follows from this due time, not from now, so that beats that don't divide the rate
 * still give it on average. After a pause, or a beat lost, it starts anew from now: no catching up.
 */
function advance(state: Transmission, options: TransmissionOptions, nowS: number): void {
  const periodS = Math.max(1 / options.rateHz, MIN_INTERVAL_S);
  const followingS = state.dueS + periodS;
  state.dueS = followingS > nowS ? followingS : nowS + periodS;
  state.lastSentS = nowS;
}
