import { sameBytes } from '../../stage/same-bytes.js';
import { expireSources, type ReceivedSource, showWaiting } from '../received-source.js';
import type { SacnData, SacnSync } from './decode.js';
import { DATA } from './layout.js';
import { SLOTS_PER_UNIVERSE } from './options.js';
import { acceptsSequence } from './sequence.js';

/** Appendix A, E131_NETWORK_DATA_LOSS_TIMEOUT: of a source (section 6.7.1), and of its synchronization (11.1.2). */
export const DATA_LOSS_TIMEOUT_S = 2.5;
/** START code of levels (E1.11 8.5.1). */
const NULL_START_CODE = 0;
/**
 * Section 6.2.3 asks a receiver to say how many sources it can tell apart: so many on one universe. With more, those of the
 * lowest priority are left out.
 */
export const MOST_SOURCES = 4;
/** Synchronization addresses that are known at a time, each of one source. */
const MOST_SYNCS = 16;

/** What became of a packet. */
export const SACN_OUTCOMES = [
  'taken',
  /** Its levels wait for the synchronization packet (6.2.4.1). */
  'waits-for-sync',
  /** A universe that nobody asked for. */
  'other-universe',
  /** Section 6.7.2. */
  'late',
  /** Section 6.2.6: for visualizers, not for live output. */
  'preview',
  /** Per-address priority, text, RDM: none of ours. */
  'start-code',
  /** Section 6.2.6: the source ends here. */
  'terminated',
  /** See {@link MOST_SOURCES}. */
  'too-many-sources',
] as const;
export type SacnOutcome = (typeof SACN_OUTCOMES)[number];

export interface SacnSource extends ReceivedSource {
  readonly cid: Uint8Array;
  name: string;
  /** Where its last packet came from. */
  address: string;
  priority: number;
  /** Of its last data packet. */
  sequence: number;
  syncAddress: number;
  forceSync: boolean;
  heardS: number;
  /** All that stood before the levels of its last packet; see {@link receiveSacnAgain}. */
  head: Buffer | undefined;
}

export interface ReceivedUniverse {
  readonly universe: number;
  readonly sources: SacnSource[];
  /** What the sources say together, 512 slots; while there are none, what it was. */
  readonly levels: Uint8Array;
  /** Counts changes of `levels`. */
  changes: number;
  /** Of the sources that count; undefined while there are none. */
  priority: number | undefined;
  /** Whose levels `levels` are: of the highest priority; while there are none, whose they were. Another array for others. */
  leading: readonly SacnSource[];
}

interface SyncState {
  readonly cid: Uint8Array;
  readonly address: number;
  sequence: number;
  heardS: number;
}

export interface SacnReceiver {
  readonly universes: readonly ReceivedUniverse[];
  readonly byNumber: ReadonlyMap<number, ReceivedUniverse>;
  readonly syncs: SyncState[];
}

/** @param before whose universes, as far as they are the same, go on with what they have heard */
export function createSacnReceiver(
  universes: readonly number[],
  before?: SacnReceiver,
): SacnReceiver {
  const received = universes.map(
    (universe): ReceivedUniverse =>
      before?.byNumber.get(universe) ?? {
        universe,
        sources: [],
        levels: new Uint8Array(SLOTS_PER_UNIVERSE),
        changes: 0,
        priority: undefined,
        leading: [],
      },
  );
  const byNumber = new Map(received.map(one => [one.universe, one]));
  return { universes: received, byNumber, syncs: before?.syncs ?? [] };
}

/**
 * Takes one data packet by the rules of E1.31-2018 for receivers. Of the sources of a universe those with the highest
 * priority count (6.2.3); of several with the same priority, slot by slot the highest level.
 * @param bytes the packet itself, where others like it may come: see {@link receiveSacnAgain}
 */
export function receiveSacnData(
  receiver: SacnReceiver,
  packet: SacnData,
  address: string,
  nowS: number,
  bytes?: Buffer,
): SacnOutcome {
  const received = receiver.byNumber.get(packet.universe);
  if (received === undefined) return 'other-universe';
  const known = received.sources.find(({ cid }) => sameBytes(cid, packet.cid));
  if (known !== undefined) {
    if (!acceptsSequence(known.sequence, packet.sequence)) return 'late';
    // One count for all packets of data of a universe, whatever is in them.
    known.sequence = packet.sequence;
  }
  if (packet.terminated) {
    if (known !== undefined) remove(received, known);
    return 'terminated';
  }
  if (packet.preview) return 'preview';
  if (packet.startCode !== NULL_START_CODE) return 'start-code';
  const source = known ?? addSource(received, packet);
  if (source === undefined) return 'too-many-sources';
  source.name = packet.sourceName;
  source.address = address;
  source.priority = packet.priority;
  source.syncAddress = packet.syncAddress;
  source.forceSync = packet.forceSync;
  if (bytes !== undefined) {
    source.head ??= Buffer.alloc(DATA.slots);
    bytes.copy(source.head, 0, 0, DATA.slots);
  }
  source.heardS = nowS;
  const waits = isSynchronised(receiver, source, nowS);
  const into = waits ? source.waiting : source.slots;
  into.set(packet.slots);
  into.fill(0, packet.slots.length);
  return show(received, source, waits);
}

/**
 * Takes a packet that is in all but its number and its levels as the last one of its source: there is nothing to decode in it, and
 * nothing is allocated. Most packets of a desk are such.
 * @returns undefined: it is another one; see `decodeSacn` and {@link receiveSacnData}
 */
export function receiveSacnAgain(
  receiver: SacnReceiver,
  bytes: Buffer,
  address: string,
  nowS: number,
): SacnOutcome | undefined {
  if (bytes.length < DATA.slots) return undefined;
  const received = receiver.byNumber.get(bytes.readUInt16BE(DATA.universe));
  if (received === undefined) return undefined;
  for (const source of received.sources) {
    const { head } = source;
    // Its length is in the head, of both layers and of the levels.
    if (head === undefined || source.address !== address || !isLike(bytes, head)) continue;
    const sequence = bytes[DATA.sequence] as number;
    if (!acceptsSequence(source.sequence, sequence)) return 'late';
    source.sequence = sequence;
    source.heardS = nowS;
    const waits = isSynchronised(receiver, source, nowS);
    const into = waits ? source.waiting : source.slots;
    into.fill(0, bytes.copy(into, 0, DATA.slots));
    return show(received, source, waits);
  }
  return undefined;
}

function isLike(bytes: Buffer, head: Buffer): boolean {
  const { sequence, slots } = DATA;
  return (
    // What tells sources apart comes late in the head, and the lengths that the decoder has held against the packet's own, early.
    bytes.length === slots + bytes.readUInt16BE(DATA.propertyCount) - 1 &&
    bytes.compare(head, 0, sequence, 0, sequence) === 0 &&
    bytes.compare(head, sequence + 1, slots, sequence + 1, slots) === 0
  );
}

/** Its newest levels stand in `slots`, or in `waiting` where they wait. */
function show(received: ReceivedUniverse, source: SacnSource, waits: boolean): SacnOutcome {
  source.isWaiting = waits;
  if (!waits) source.isShown = true;
  merge(received);
  return waits ? 'waits-for-sync' : 'taken';
}

/** Takes a synchronization packet: what waits for it is shown at once, in all universes (6.2.4.1, 11.1). */
export function receiveSacnSync(receiver: SacnReceiver, packet: SacnSync, nowS: number): void {
  const { syncs, universes } = receiver;
  const isOf = ({ cid }: { readonly cid: Uint8Array }) => sameBytes(cid, packet.cid);
  // Of somebody whose levels nobody hears it means nothing, and would fill the list.
  const isAwaited = universes.some(({ sources }) =>
    sources.some(source => isOf(source) && source.syncAddress === packet.syncAddress),
  );
  if (!isAwaited) return;
  let sync = syncs.find(one => isOf(one) && one.address === packet.syncAddress);
  if (sync === undefined) {
    if (syncs.length >= MOST_SYNCS) return;
    const { sequence, syncAddress } = packet;
    sync = { cid: Uint8Array.from(packet.cid), address: syncAddress, sequence, heardS: nowS };
    syncs.push(sync);
  } else if (!acceptsSequence(sync.sequence, packet.sequence)) return;
  sync.sequence = packet.sequence;
  sync.heardS = nowS;
  for (const received of universes) {
    let isChanged = false;
    for (const source of received.sources) {
      if (source.syncAddress !== packet.syncAddress || !isOf(source)) continue;
      if (showWaiting(source)) isChanged = true;
    }
    if (isChanged) merge(received);
  }
}

/** Lets go of sources that have been silent for {@link DATA_LOSS_TIMEOUT_S}; once a beat. */
export function expireSacnSources(receiver: SacnReceiver, nowS: number): void {
  const { universes, syncs } = receiver;
  for (const received of universes) {
    if (expireSources(received.sources, nowS, DATA_LOSS_TIMEOUT_S)) merge(received);
  }
  for (let i = syncs.length - 1; i >= 0; i--) {
    const sync = syncs[i] as SyncState;
    const isUsed = universes.some(({ sources }) =>
      sources.some(
        ({ cid, syncAddress }) => syncAddress === sync.address && sameBytes(cid, sync.cid),
      ),
    );
    if (!isUsed) syncs.splice(i, 1);
  }
}

/** Those whose levels count: of the highest priority. */
export function leadingSources({ sources, priority }: ReceivedUniverse): readonly SacnSource[] {
  return sources.filter(source => source.isShown && source.priority === priority);
}

/** Where the synchronization packets of those that are heard come: the groups to join for them. */
export function syncAddresses({ universes }: SacnReceiver): number[] {
  const addresses = new Set<number>();
  for (const { sources } of universes) {
    for (const { syncAddress } of sources) {
      if (syncAddress > 0 && addresses.size < MOST_SYNCS) addresses.add(syncAddress);
    }
  }
  return [...addresses];
}

/** Whether new levels of a source have to wait for its synchronization packet. */
function isSynchronised({ syncs }: SacnReceiver, source: SacnSource, nowS: number): boolean {
  if (source.syncAddress === 0) return false;
  const sync = syncs.find(
    one => one.address === source.syncAddress && sameBytes(one.cid, source.cid),
  );
  // Before the first one nothing is known to be synchronised (11.1.1).
  if (sync === undefined) return false;
  // Lost: Force_Synchronization says whether to go on without (6.2.6, 11.1.2).
  return nowS - sync.heardS <= DATA_LOSS_TIMEOUT_S || !source.forceSync;
}

function addSource(received: ReceivedUniverse, packet: SacnData): SacnSource | undefined {
  const { sources } = received;
  if (sources.length >= MOST_SOURCES) {
    let lowest = sources[0] as SacnSource;
    for (const source of sources) if (source.priority < lowest.priority) lowest = source;
    if (lowest.priority >= packet.priority) return undefined;
    remove(received, lowest);
  }
  const { sourceName: name, priority, sequence, syncAddress, forceSync } = packet;
  const source: SacnSource = {
    cid: Uint8Array.from(packet.cid),
    name,
    address: '',
    priority,
    sequence,
    syncAddress,
    forceSync,
    heardS: 0,
    slots: new Uint8Array(SLOTS_PER_UNIVERSE),
    waiting: new Uint8Array(SLOTS_PER_UNIVERSE),
    isWaiting: false,
    isShown: false,
    head: undefined,
  };
  sources.push(source);
  return source;
}

function remove(received: ReceivedUniverse, source: SacnSource): void {
  received.sources.splice(received.sources.indexOf(source), 1);
  merge(received);
}

function merge(received: ReceivedUniverse): void {
  const { sources, levels } = received;
  let highest = -1;
  let count = 0;
  let only: SacnSource | undefined;
  for (const source of sources) {
    if (!source.isShown || source.priority < highest) continue;
    count = source.priority > highest ? 1 : count + 1;
    highest = source.priority;
    only = source;
  }
  received.priority = highest < 0 ? undefined : highest;
  if (only === undefined) return;
  lead(received, count);
  if (count === 1) {
    if (Buffer.compare(levels, only.slots) === 0) return;
    levels.set(only.slots);
    received.changes += 1;
    return;
  }
  let isChanged = false;
  for (let slot = 0; slot < SLOTS_PER_UNIVERSE; slot++) {
    let level = only.slots[slot] as number;
    for (const source of sources) {
      if (!source.isShown || source.priority !== highest) continue;
      const other = source.slots[slot] as number;
      if (other > level) level = other;
    }
    if (levels[slot] === level) continue;
    levels[slot] = level;
    isChanged = true;
  }
  if (isChanged) received.changes += 1;
}

/** Allocates nothing while the same sources count as before. */
function lead(received: ReceivedUniverse, count: number): void {
  const { leading, sources, priority } = received;
  let known = 0;
  for (const source of sources) {
    if (source.isShown && source.priority === priority && source === leading[known]) known += 1;
  }
  if (known !== count || count !== leading.length) received.leading = leadingSources(received);
}
