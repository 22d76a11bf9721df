/** UDP port of Art-Net, 0x1936. */
export const ARTNET_PORT = 6454;
/** Port-Address: Net in 7 bits, Sub-Net in 4, Universe in 4. */
export const MAX_PORT_ADDRESS = 0x7fff;
export const MIN_SLOTS = 2;
export const MAX_SLOTS = 512;
/** Controllers poll every 2.5 to 3 s; nodes answer within 1 s. */
export const POLL_INTERVAL_S = 2.5;
/**
 * Art-Net lets a controller assume that a node is gone 3 s after a poll without an answer. One lost
 * datagram would then stop that node's light, so we wait for three polls (3 x 2.5 s) and the second
 * that the last answer may take.
 */
export const NODE_GONE_AFTER_S = 3 * POLL_INTERVAL_S + 1;

export interface ArtnetOutputOptions {
  /** 0 to 32767. */
  readonly portAddress: number;
  /** Even, 2 to 512. */
  readonly slotCount: number;
}
