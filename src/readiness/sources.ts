import type { SacnData, SacnDiscovery } from '../protocols/sacn/decode.js';

/** Somebody who sends levels, as heard on the lighting network. */
export interface Source {
  readonly protocol: 'sacn' | 'artnet';
  /** CID in hexadecimal; for Art-Net the address. */
  readonly identity: string;
  readonly name: string;
  readonly address: string;
  /** Universes (or Port-Addresses) heard, with the priority last heard (undefined for Art-Net). */
  readonly universes: Map<number, number | undefined>;
  /** Universes that it says it sends (E1.31 universe discovery). */
  readonly announced: Set<number>;
}

/** Whoever was heard, by protocol, identity and address. */
export type SourceBook = Map<string, Source>;

/** Bounds what forged packets can fill; far more than a network that works has. */
const MOST_SOURCES = 256;
const MOST_UNIVERSES = 4096;
/** START code of levels (E1.11 8.5.1). */
const NULL_START_CODE = 0;

export function noteSacn(book: SourceBook, packet: SacnData | SacnDiscovery, from: string): void {
  const identity = Buffer.from(packet.cid).toString('hex');
  const source = sourceOf(book, 'sacn', identity, packet.sourceName, from);
  if (source === undefined) return;
  if (packet.kind === 'discovery') {
    for (const universe of packet.universes) {
      if (source.announced.size < MOST_UNIVERSES) source.announced.add(universe);
    }
    return;
  }
  if (packet.preview || packet.startCode !== NULL_START_CODE) return;
  if (packet.terminated) source.universes.delete(packet.universe);
  else if (source.universes.size < MOST_UNIVERSES) {
    source.universes.set(packet.universe, packet.priority);
  }
}

export function noteArtDmx(book: SourceBook, portAddress: number, from: string): void {
  const source = sourceOf(book, 'artnet', from, from, from);
  if (source !== undefined && source.universes.size < MOST_UNIVERSES) {
    source.universes.set(portAddress, undefined);
  }
}

function sourceOf(
  book: SourceBook,
  protocol: Source['protocol'],
  identity: string,
  name: string,
  address: string,
): Source | undefined {
  const key = `${protocol} ${identity} ${address}`;
  const known = book.get(key);
  if (known !== undefined || book.size >= MOST_SOURCES) return known;
  const source = {
    protocol,
    identity,
    name,
    address,
    universes: new Map<number, number | undefined>(),
    announced: new Set<number>(),
  };
  book.set(key, source);
  return source;
}
