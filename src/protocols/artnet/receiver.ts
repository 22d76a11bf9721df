import { expireSources, type ReceivedSource, showWaiting } from '../received-source.js';
import type { ArtDmx } from './incoming.js';
import { MAX_SLOTS } from './options.js';

/** Art-Net 4, data merging: a source that fails is held for so long. */
export const SOURCE_LOSS_TIMEOUT_S = 10;
/** Art-Net 4, ArtSync: without one for so long a node is not synchronised any more. */
export const SYNC_TIMEOUT_S = 4;
/** Art-Net 4, data merging: a third source is ignored. */
const MOST_SOURCES = 2;
/** Further behind than this the source has started anew; the spec gives no number, that of E1.31 6.7.2 is taken. */
const LATE_WINDOW = 20;

/** What became of a packet. */
export const ARTNET_OUTCOMES = [
  'taken',
  /** Its levels wait for ArtSync. */
  'waits-for-sync',
  /** A Port-Address that nobody asked for. */
  'other-port',
  'late',
  'third-source',
] as const;
export type ArtnetOutcome = (typeof ARTNET_OUTCOMES)[number];

export interface ArtnetSource extends ReceivedSource {
  readonly address: string;
  readonly physical: number;
  sequence: number;
  heardS: number;
}

export interface ReceivedPort {
  readonly portAddress: number;
  readonly sources: ArtnetSource[];
  /** What the sources say together, 512 slots; while there are none, what it was. */
  readonly levels: Uint8Array;
  /** Counts changes of `levels`. */
  changes: number;
  /** Whose levels `levels` are; while there is no source, whose they were. Another array for others. */
  leading: readonly ArtnetSource[];
}

export interface ArtnetReceiver {
  readonly ports: readonly ReceivedPort[];
  /** Of the last ArtSync that was taken, monotonic seconds; -Infinity before. */
  syncedS: number;
  /** Who sent the last ArtDmx: the only one whose ArtSync counts. */
  lastAddress: string | undefined;
}

/** @param before whose ports, as far as they are the same, go on with what they have heard */
export function createArtnetReceiver(
  portAddresses: readonly number[],
  before?: ArtnetReceiver,
): ArtnetReceiver {
  const ports = portAddresses.map((portAddress): ReceivedPort => {
    const was = before?.ports.find(one => one.portAddress === portAddress);
    return (
      was ?? {
        portAddress,
        sources: [],
        levels: new Uint8Array(MAX_SLOTS),
        changes: 0,
        leading: [],
      }
    );
  });
  return {
    ports,
    syncedS: before?.syncedS ?? Number.NEGATIVE_INFINITY,
    lastAddress: before?.lastAddress,
  };
}

/**
 * Takes one ArtDmx as a node does (Art-Net 4): two sources of a port, told apart by address and Physical, are merged slot by
 * slot to the highest level; a third is ignored.
 */
export function receiveArtDmx(
  receiver: ArtnetReceiver,
  packet: ArtDmx,
  address: string,
  nowS: number,
): ArtnetOutcome {
  const port = receiver.ports.find(({ portAddress }) => portAddress === packet.portAddress);
  if (port === undefined) return 'other-port';
  const { physical, sequence } = packet;
  let source = port.sources.find(one => one.address === address && one.physical === physical);
  if (source === undefined) {
    if (port.sources.length >= MOST_SOURCES) return 'third-source';
    source = {
      address,
      physical,
      sequence,
      heardS: nowS,
      slots: new Uint8Array(MAX_SLOTS),
      waiting: new Uint8Array(MAX_SLOTS),
      isWaiting: false,
      isShown: false,
    };
    port.sources.push(source);
  } else if (isLate(source.sequence, sequence)) return 'late';
  source.sequence = sequence;
  source.heardS = nowS;
  receiver.lastAddress = address;
  // A node that merges does not synchronise: two controllers can't agree on the moment.
  const waits = nowS - receiver.syncedS <= SYNC_TIMEOUT_S && port.sources.length < MOST_SOURCES;
  const into = waits ? source.waiting : source.slots;
  into.set(packet.slots);
  into.fill(0, packet.slots.length);
  source.isWaiting = waits;
  if (!waits) source.isShown = true;
  merge(port);
  return waits ? 'waits-for-sync' : 'taken';
}

/** Takes an ArtSync: what waits for it is shown at once, in all ports. */
export function receiveArtSync(receiver: ArtnetReceiver, address: string, nowS: number): void {
  if (address !== receiver.lastAddress) return;
  receiver.syncedS = nowS;
  for (const port of receiver.ports) {
    let isChanged = false;
    for (const source of port.sources) {
      if (showWaiting(source)) isChanged = true;
    }
    if (isChanged) merge(port);
  }
}

/** Lets go of sources that have been silent for {@link SOURCE_LOSS_TIMEOUT_S}; once a beat. */
export function expireArtnetSources({ ports }: ArtnetReceiver, nowS: number): void {
  for (const port of ports) {
    if (expireSources(port.sources, nowS, SOURCE_LOSS_TIMEOUT_S)) merge(port);
  }
}

/** 0: its sender does not count. */
function isLate(last: number, next: number): boolean {
  if (last === 0 || next === 0) return false;
  const difference = ((next - last) << 24) >> 24;
  return difference > -LATE_WINDOW && difference <= 0;
}

function merge(port: ReceivedPort): void {
  const { sources, levels } = port;
  const shown = sources.some(({ isShown }) => isShown);
  if (!shown) return;
  lead(port);
  let isChanged = false;
  for (let slot = 0; slot < MAX_SLOTS; slot++) {
    let level = 0;
    for (const source of sources) {
      if (source.isShown) level = Math.max(level, source.slots[slot] as number);
    }
    if (levels[slot] === level) continue;
    levels[slot] = level;
    isChanged = true;
  }
  if (isChanged) port.changes += 1;
}

/** Allocates nothing while the same sources count as before. */
function lead(port: ReceivedPort): void {
  const { leading, sources } = port;
  let shown = 0;
  let known = 0;
  for (const source of sources) {
    if (!source.isShown) continue;
    shown += 1;
    if (source === leading[known]) known += 1;
  }
  if (known !== shown || shown !== leading.length) {
    port.leading = sources.filter(({ isShown }) => isShown);
  }
}
