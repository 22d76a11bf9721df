import { DISCOVERY_UNIVERSE, MAX_UNIVERSE, MIN_UNIVERSE } from './options.js';

/** The IPv4 group of a universe (Table 9-10), also of the discovery universe. Throws RangeError on another. */
export function multicastGroup(universe: number): string {
  const valid = Number.isInteger(universe) && universe >= MIN_UNIVERSE && universe <= MAX_UNIVERSE;
  if (!valid && universe !== DISCOVERY_UNIVERSE) {
    throw new RangeError(
      `universe is a whole number from ${MIN_UNIVERSE} to ${MAX_UNIVERSE}, not ${universe}`,
    );
  }
  return `239.255.${universe >> 8}.${universe & 0xff}`;
}
