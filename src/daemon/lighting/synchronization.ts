import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import { encodeSync } from '../../protocols/artnet/sync.js';
import { SACN_PORT } from '../../protocols/sacn/options.js';
import { createSyncPacket } from '../../protocols/sacn/sync-packet.js';
import type { OutputPlan } from '../../show/model/model.js';
import { Errand } from './delivery.js';
import type { LightingSocket } from './lighting-socket.js';
import { destinationsOf, type Stream } from './streams.js';

/** What tells receivers that all levels of a beat are there. */
export interface Synchronization {
  /** Levels that wait for it have left in this beat. */
  isDue: boolean;
  /** Once a beat, after the levels; where it is not due nothing. */
  send(socket: LightingSocket): void;
  /** Our address has come, or is another. */
  readdress(ourAddress: string | undefined): void;
  leaveOut(address: string): void;
}

/**
 * A receiver that knows the packets of a process before this one discards up to 20 whose number is below (E1.31 6.7.2). Until
 * they are over, levels do not wait for them.
 */
const UNSYNCHRONISED = 20;

/** Of sACN: one packet for all outputs of an interface with this synchronization address. */
export class SacnSynchronization implements Synchronization {
  isDue = false;
  readonly #packet;
  readonly #errand = new Errand({ errand: 'E1.31 synchronization' });
  #destinations: readonly string[];
  #sent = 0;

  constructor(
    cid: Uint8Array,
    private readonly universe: number,
    private readonly plans: readonly OutputPlan[],
    private readonly streams: readonly Stream[],
    ourAddress: string | undefined,
  ) {
    this.#packet = createSyncPacket(cid, universe);
    this.#destinations = this.#all(ourAddress);
  }

  send(socket: LightingSocket): void {
    if (!this.isDue) return;
    this.isDue = false;
    this.#packet.advanceSequence();
    for (const to of this.#destinations) {
      socket.send(this.#packet.buffer, SACN_PORT, to, this.#errand);
    }
    if (this.#sent >= UNSYNCHRONISED) return;
    this.#sent += 1;
    if (this.#sent < UNSYNCHRONISED) return;
    for (const { setSyncAddress } of this.streams) setSyncAddress?.(this.universe);
  }

  readdress(ourAddress: string | undefined): void {
    this.#destinations = this.#all(ourAddress);
  }

  leaveOut(address: string): void {
    this.#destinations = this.#destinations.filter(ip => ip !== address);
  }

  #all(ourAddress: string | undefined): readonly string[] {
    return [
      ...new Set(this.plans.flatMap(plan => destinationsOf(plan, this.universe, ourAddress))),
    ];
  }
}

const ARTSYNC = encodeSync();

/** Of Art-Net: one for all that is sent by an interface. It is broadcast; on the loopback, which has none, it goes to those listed. */
export class ArtnetSynchronization implements Synchronization {
  isDue = false;
  readonly #errand = new Errand({ errand: 'ArtSync' });

  constructor(private readonly listed: readonly string[]) {}

  send(socket: LightingSocket): void {
    if (!this.isDue) return;
    this.isDue = false;
    const where = socket.interface;
    if (where === undefined) return;
    if (!where.loopback) socket.send(ARTSYNC, ARTNET_PORT, where.broadcast, this.#errand);
    else for (const to of this.listed) socket.send(ARTSYNC, ARTNET_PORT, to, this.#errand);
  }

  readdress(): void {
    // It goes to everybody.
  }

  leaveOut(): void {
    // The same.
  }
}

/** Those of an interface; streams that wait for one know it. */
export function synchronizationsOf(
  cid: Uint8Array,
  plans: readonly OutputPlan[],
  streams: readonly Stream[],
  ourAddress: string | undefined,
): Synchronization[] {
  const all: Synchronization[] = [];
  const waiting = (plan: OutputPlan) => streams.filter(stream => stream.plan === plan);
  const addresses = new Set(
    plans.flatMap(plan => (plan.protocol === 'sacn' ? (plan.sync ?? []) : [])),
  );
  for (const address of addresses) {
    const mine = plans.filter(plan => plan.protocol === 'sacn' && plan.sync === address);
    const theirs = mine.flatMap(waiting);
    const one = new SacnSynchronization(cid, address, mine, theirs, ourAddress);
    for (const stream of theirs) stream.synchronization = one;
    all.push(one);
  }
  const artnet = plans.filter(plan => plan.protocol === 'artnet' && plan.sync === true);
  if (artnet.length > 0) {
    const one = new ArtnetSynchronization([...new Set(artnet.flatMap(({ to }) => to))]);
    for (const stream of artnet.flatMap(waiting)) stream.synchronization = one;
    all.push(one);
  }
  return all;
}
