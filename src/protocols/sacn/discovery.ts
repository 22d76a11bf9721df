import { writeFlagsAndLength, writeHead, writeSourceName } from './head.js';
import {
  DISCOVERY,
  UNIVERSES_PER_PAGE,
  VECTOR_EXTENDED_DISCOVERY,
  VECTOR_ROOT_EXTENDED,
  VECTOR_UNIVERSE_LIST,
} from './layout.js';
import { MAX_UNIVERSE, MIN_UNIVERSE, type SacnSourceOptions } from './options.js';

/**
 * The universe discovery packets of a source, one for each 512 universes, sorted and each once
 * (section 8). A source must send all of them every 10 s (section 4.3); they change only with the patch.
 * With no universes there is one packet with an empty list. Throws RangeError on a universe out of range.
 */
export function encodeDiscovery(
  source: SacnSourceOptions,
  universes: readonly number[],
): readonly Buffer[] {
  for (const universe of universes) {
    if (!Number.isInteger(universe) || universe < MIN_UNIVERSE || universe > MAX_UNIVERSE) {
      throw new RangeError(
        `universe is a whole number from ${MIN_UNIVERSE} to ${MAX_UNIVERSE}, not ${universe}`,
      );
    }
  }
  const sorted = [...new Set(universes)].sort((a, b) => a - b);
  const pageCount = Math.max(1, Math.ceil(sorted.length / UNIVERSES_PER_PAGE));
  return Array.from({ length: pageCount }, (_, page) => {
    const from = page * UNIVERSES_PER_PAGE;
    return encodePage(source, sorted.slice(from, from + UNIVERSES_PER_PAGE), page, pageCount - 1);
  });
}

function encodePage(
  source: SacnSourceOptions,
  universes: readonly number[],
  page: number,
  lastPage: number,
): Buffer {
  const buffer = Buffer.alloc(DISCOVERY.universes + universes.length * 2);
  writeHead(buffer, VECTOR_ROOT_EXTENDED, VECTOR_EXTENDED_DISCOVERY, source.cid);
  writeSourceName(buffer, DISCOVERY.sourceName, source.sourceName);
  writeFlagsAndLength(buffer, DISCOVERY.listFlagsAndLength);
  buffer.writeUInt32BE(VECTOR_UNIVERSE_LIST, DISCOVERY.listVector);
  buffer[DISCOVERY.page] = page;
  buffer[DISCOVERY.lastPage] = lastPage;
  universes.forEach((universe, i) => {
    buffer.writeUInt16BE(universe, DISCOVERY.universes + i * 2);
  });
  return buffer;
}
