/** UDP port of Art-Net, 0x1936. */
export const ARTNET_PORT = 6454;
/** Port-Address: Net in 7 bits, Sub-Net in 4, Universe in 4. */
export const MAX_PORT_ADDRESS = 0x7fff;
export const MIN_SLOTS = 2;
export const MAX_SLOTS = 512;
/** Controllers poll every 2.5 to 3 s; nodes answer within 1 s. */
export const POLL_INTERVAL_S = 2.5;
/** A node answers within this, at a moment by chance, so that a network of them does not all at once. */
export const MOST_ANSWER_S = 1;
/** Art-Net 4: a node that has not answered a poll for so long is gone. */
const UNANSWERED_S = 3;
/**
 * Since its last answer: the poll after that comes {@link POLL_INTERVAL_S} later at most. Where one answer is lost, the
 * next one mostly still comes in time (a node that answers at once: after 5 s).
 */
export const NODE_GONE_AFTER_S = POLL_INTERVAL_S + UNANSWERED_S;
/** It takes three polls, with the time of the last answer, before a node is told that never answered. */
export const NODE_SILENT_AFTER_S = 3 * POLL_INTERVAL_S + MOST_ANSWER_S;

export interface ArtnetOutputOptions {
  /** 0 to 32767. */
  readonly portAddress: number;
  /** Even, 2 to 512. */
  readonly slotCount: number;
}
