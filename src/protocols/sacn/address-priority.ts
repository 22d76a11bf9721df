import { createDataPacket, type SacnDataPacket } from './data-packet.js';
import type { SacnUniverseOptions } from './options.js';

/**
 * Per-address priority, an extension that E1.31 does not have: a data packet with START code 0xDD of the ESTA register of
 * alternate START codes. Its slots are the priority of each slot of the levels, 1 to 200; 0: receivers take no notice of
 * the level of this source. It goes by the rules for levels that do not change (E1.31 6.6.2), before the first of them.
 */
export const ADDRESS_PRIORITY_START_CODE = 0xdd;

export function createAddressPriorityPacket(options: SacnUniverseOptions): SacnDataPacket {
  return createDataPacket(options, ADDRESS_PRIORITY_START_CODE);
}
