/** UDP port of E1.31 (section 9.3.1 and Appendix A, ACN_SDT_MULTICAST_PORT). */
export const SACN_PORT = 5568;
/** Section 6.2.7: 0 and 64000 to 65535 are reserved, but for the one of universe discovery. */
export const MIN_UNIVERSE = 1;
export const MAX_UNIVERSE = 63_999;
/** Appendix A, E131_DISCOVERY_UNIVERSE. */
export const DISCOVERY_UNIVERSE = 64_214;
/** Appendix A, E131_UNIVERSE_DISCOVERY_INTERVAL. */
export const DISCOVERY_INTERVAL_S = 10;
/** Section 6.2.3. */
export const MAX_PRIORITY = 200;
export const DEFAULT_PRIORITY = 100;
export const SLOTS_PER_UNIVERSE = 512;
export const CID_BYTES = 16;

/** Who sends: the same in every packet of a source. */
export interface SacnSourceOptions {
  /** Component identifier, a UUID of 16 bytes that stays the same for the life of the machine (section 5.6). */
  readonly cid: Uint8Array;
  /** Any text; what fits in 63 bytes of UTF-8 is sent. */
  readonly sourceName: string;
}

export interface SacnUniverseOptions extends SacnSourceOptions {
  /** 1 to 63999. */
  readonly universe: number;
  /** 0 to 200; the highest wins (section 6.2.3). */
  readonly priority: number;
}
