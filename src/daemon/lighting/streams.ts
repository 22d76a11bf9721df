import { type ArtDmxPacket, createDmxPacket } from '../../protocols/artnet/dmx-packet.js';
import { DMX } from '../../protocols/artnet/layout.js';
import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import { createDataPacket, type SacnDataPacket } from '../../protocols/sacn/data-packet.js';
import { DATA } from '../../protocols/sacn/layout.js';
import { multicastGroup } from '../../protocols/sacn/multicast.js';
import { SACN_PORT, type SacnSourceOptions } from '../../protocols/sacn/options.js';
import {
  createTransmission,
  repeatTransmission,
  type Transmission,
} from '../../protocols/transmission.js';
import { type OutputPlan, SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { AddressPriorities } from './address-priorities.js';
import type { CatchUp } from './catch-up.js';
import { Delivery } from './delivery.js';

/** Receivers of one universe, listed or found; bounds what strangers' replies can have us send. */
export const MOST_RECEIVERS = 64;

/** One universe on its way to its receivers: its packet, and when it goes out. */
export interface Stream {
  readonly plan: OutputPlan;
  /** Number of the universe (or the Port-Address) in the protocol. */
  readonly onWire: number;
  /** Times sent, to however many destinations. */
  sent: number;
  /** Which of the show's universes it carries. */
  readonly index: number;
  readonly transmission: Transmission;
  readonly buffer: Buffer;
  readonly slots: Uint8Array;
  readonly port: number;
  /** Listed in the show, and for Art-Net the subscribers of now. */
  destinations: readonly string[];
  readonly delivery: Delivery;
  /** undefined: no other output sends this universe of the show. */
  catchUp: CatchUp | undefined;
  /** Receivers hold the levels for it; undefined: they take them at once. */
  synchronization: { isDue: boolean } | undefined;
  /** Which of the slots are ours is said on the wire. */
  readonly addressPriorities: AddressPriorities | undefined;
  advanceSequence(): void;
  setSequence(sequence: number): void;
  /** Where in `buffer` the number of the packet that was sent last is. */
  readonly sequenceAt: number;
  /** undefined: the protocol has no priorities. */
  readonly setPriority: SacnDataPacket['setPriority'] | undefined;
  /** undefined: the protocol has no way to end a stream. */
  readonly setTerminated: SacnDataPacket['setTerminated'] | undefined;
  readonly setSyncAddress: SacnDataPacket['setSyncAddress'] | undefined;
}

/** A stream as a successor sees it. */
export interface SentStream {
  readonly protocol: 'sacn' | 'artnet';
  readonly onWire: number;
  /** Of the interface that it leaves by. */
  readonly address: string;
  /** Where it goes. */
  readonly to: readonly string[];
  readonly sequence: number;
  /** Times sent, by this output. */
  readonly sent: number;
  /** Levels that have really left last, where other outputs send the same universe. */
  readonly left?: Uint8Array | undefined;
  /** These are, or may be, others than those of the show; undefined where no other output sends the universe. */
  readonly isApart?: boolean | undefined;
  /** It is cut off while others are not, or is on its way back. */
  readonly isOut?: boolean | undefined;
  /** It was out for so long that it has to bring its light back from there. */
  readonly hasToReturn?: boolean | undefined;
}

/**
 * @param ourAddress no packet goes to ourselves: a pair of machines lists both in one show
 * @param lastSent of all universes: where the levels that have really left are kept
 */
export function streamsOf(
  plan: OutputPlan,
  source: SacnSourceOptions,
  ourAddress: string | undefined,
  lastSent: Uint8Array,
): Stream[] {
  return plan.universes.map(({ index, onWire, ours }): Stream => {
    const last = lastSent.subarray(index * SLOTS_PER_UNIVERSE, (index + 1) * SLOTS_PER_UNIVERSE);
    const to = destinationsOf(plan, onWire, ourAddress);
    if (plan.protocol === 'artnet') {
      const packet = createDmxPacket({ portAddress: onWire, slotCount: SLOTS_PER_UNIVERSE });
      return streamOf(plan, onWire, index, packet, last, to);
    }
    const options = { ...source, universe: onWire, priority: plan.priority };
    const packet = createDataPacket(options);
    return streamOf(plan, onWire, index, packet, last, to, {
      ...packet,
      priorities: ours && new AddressPriorities(options, ours),
    });
  });
}

/**
 * Each of its fields by its name, and no getters: an object that is made by spreading others has a shape of its own for
 * V8, and all that is read of a stream, a beat and universe, would be looked up anew.
 * @param sacn what only sACN has
 */
function streamOf(
  plan: OutputPlan,
  onWire: number,
  index: number,
  { buffer, slots, advanceSequence, setSequence }: ArtDmxPacket | SacnDataPacket,
  last: Uint8Array,
  destinations: readonly string[],
  sacn?: SacnDataPacket & { readonly priorities: AddressPriorities | undefined },
): Stream {
  const priorities = sacn?.priorities;
  return {
    plan,
    onWire,
    sent: 0,
    index,
    transmission: createTransmission(),
    buffer,
    slots,
    port: sacn === undefined ? ARTNET_PORT : SACN_PORT,
    destinations,
    delivery: new Delivery(slots, last, { output: plan.name }),
    catchUp: undefined,
    synchronization: undefined,
    addressPriorities: priorities,
    advanceSequence,
    setSequence,
    sequenceAt: sacn === undefined ? DMX.sequence : DATA.sequence,
    setPriority:
      sacn &&
      (priority => {
        sacn.setPriority(priority);
        priorities?.setPriority(priority);
      }),
    setTerminated: sacn?.setTerminated,
    setSyncAddress: sacn?.setSyncAddress,
  };
}

/** Those that it lists, of one of its universes; no packet goes to ourselves. */
export function destinationsOf({ to }: OutputPlan, onWire: number, ourAddress?: string): string[] {
  const listed: readonly string[] = to === 'multicast' ? [to] : to;
  return listed
    .filter(ip => ip !== ourAddress)
    .map(one => (one === 'multicast' ? multicastGroup(onWire) : one));
}

/** Our address has come, or is another: of what the show lists all but that is sent to. */
export function readdress(streams: readonly Stream[], ourAddress: string | undefined): void {
  for (const stream of streams) {
    const { plan, onWire, destinations } = stream;
    const to = new Set(destinationsOf(plan, onWire, ourAddress));
    // Subscribers that were found stay until they are looked through.
    for (const ip of destinations) if (ip !== ourAddress) to.add(ip);
    stream.destinations = [...to];
  }
}

/**
 * Takes the broadcast address of a network, known once its interface is there, out of what is sent to.
 * @returns outputs that list it
 */
export function leaveOutBroadcast(streams: readonly Stream[], broadcast: string): string[] {
  const outputs = new Set<string>();
  for (const stream of streams) {
    if (!stream.destinations.includes(broadcast)) continue;
    stream.destinations = stream.destinations.filter(ip => ip !== broadcast);
    outputs.add(stream.plan.name);
  }
  return [...outputs];
}

/**
 * Art-Net 4: levels go to the nodes that say that they put the Port-Address out; and to those that the show
 * lists, as some never answer. New ones get the levels at once.
 * @param leftOut our own address, and that of the network as a whole
 * @param subscribers of a Port-Address, on the network of this interface
 */
export function resubscribe(
  streams: readonly Stream[],
  leftOut: ReadonlySet<string>,
  subscribers: (portAddress: number) => readonly string[],
): void {
  for (const stream of streams) {
    const { plan, onWire, transmission } = stream;
    if (plan.protocol !== 'artnet') continue;
    const to = new Set(plan.to);
    for (const ip of subscribers(onWire)) {
      if (to.size >= MOST_RECEIVERS) break;
      to.add(ip);
    }
    for (const ip of leftOut) to.delete(ip);
    const news = [...to].some(ip => !stream.destinations.includes(ip));
    stream.destinations = [...to];
    if (news) repeatTransmission(transmission);
  }
}
