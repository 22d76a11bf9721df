import { encodePollReplies, type HeardPort } from '../../protocols/artnet/controller-reply.js';
import { decodeArtDmx, isPoll, isSync } from '../../protocols/artnet/incoming.js';
import {
  type ArtnetOutcome,
  type ArtnetReceiver,
  createArtnetReceiver,
  expireArtnetSources,
  type ReceivedPort,
  receiveArtDmx,
  receiveArtSync,
} from '../../protocols/artnet/receiver.js';
import { decodeSacn } from '../../protocols/sacn/decode.js';
import { DATA } from '../../protocols/sacn/layout.js';
import {
  createSacnReceiver,
  expireSacnSources,
  type ReceivedUniverse,
  receiveSacnAgain,
  receiveSacnData,
  receiveSacnSync,
  type SacnOutcome,
  type SacnReceiver,
  syncAddresses,
} from '../../protocols/sacn/receiver.js';
import type { DeskInputPlan } from '../../show/model/model.js';
import { sameBytes } from '../../stage/same-bytes.js';
import { findInterface, type InterfaceFinder } from '../lighting/interfaces.js';
import { PollAnswers } from '../lighting/poll-answers.js';
import { DeskDrops } from './drops.js';
import type { DeskEvent, DeskSource } from './events.js';
import { type DeskCounters, type HeardUniverse, NO_COUNTS } from './heard-universe.js';
import { InterfaceListener } from './interface-listener.js';
import { DeskNews } from './news.js';

export interface DeskOptions {
  /** Our own streams are no desk: known by CID and name, and by the addresses that we send Art-Net from. */
  readonly cid: () => Uint8Array;
  readonly ownNames: readonly string[];
  /** Whether a lighting socket has the protocol's port at this address; it passes on what arrives there. */
  hasPort(protocol: 'sacn' | 'artnet', address: string): boolean;
  /** Whether we send this Port-Address from that address. */
  sends(portAddress: number, address: string): boolean;
  /** The answer to a controller that polls. */
  readonly sourceName: string;
  onEvent(event: DeskEvent): void;
  /** Levels have come, or something is no longer heard. */
  onChange(): void;
  /** Monotonic seconds. */
  now(): number;
  random?(): number;
  readonly findInterface?: InterfaceFinder;
}

/** The universes of one protocol that are heard by one interface. */
interface Network {
  readonly listener: InterfaceListener;
  sacn: SacnReceiver;
  artnet: ArtnetReceiver;
  heard: readonly Heard[];
  /** The same by their numbers on the wire. */
  byNumber: ReadonlyMap<number, Heard>;
}

class Heard implements HeardUniverse {
  everHeard = false;
  /** The text for the leading sources, and the sources it was made for: needed with each packet. */
  #from = '';
  #leading: unknown;
  readonly counters: DeskCounters;

  constructor(
    public plan: DeskInputPlan,
    private readonly received: ReceivedUniverse | ReceivedPort,
  ) {
    this.counters = { ...NO_COUNTS };
  }

  get levels(): Uint8Array {
    return this.received.levels;
  }

  get changes(): number {
    return this.received.changes;
  }

  /** Levels may have been shown just now: by a packet of them, or by one of synchronization that they waited for. */
  note(): void {
    this.everHeard ||= this.isHeard;
  }

  get isHeard(): boolean {
    const { sources } = this.received;
    for (const source of sources) if (source.isShown) return true;
    return false;
  }

  get heardS(): number {
    let newestS = Number.NEGATIVE_INFINITY;
    for (const { heardS } of this.received.leading) newestS = Math.max(newestS, heardS);
    return newestS;
  }

  get from(): string {
    const { received } = this;
    if (received.leading === this.#leading) return this.#from;
    this.#leading = received.leading;
    const names =
      'priority' in received
        ? received.leading.map(({ cid }) => Buffer.from(cid).toString('hex'))
        : received.leading.map(({ address, physical }) => `${address}/${physical}`);
    this.#from = names.sort().join(' ');
    return this.#from;
  }

  get sources(): readonly DeskSource[] {
    const { received } = this;
    if ('priority' in received) {
      return received.sources.map(({ name, address, priority, isShown }) => {
        return { name, address, priority, leads: isShown && priority === received.priority };
      });
    }
    return received.sources.map(({ address, isShown }) => {
      return { name: address, address, priority: undefined, leads: isShown };
    });
  }
}

/** What is heard of the desk: each universe by the rules of its protocol for receivers. */
export class Desk {
  /** In the order of the show. */
  universes: readonly HeardUniverse[] = [];
  /** Packets that could not be read. */
  rejected = 0;
  #networks: ReadonlyMap<string, Network> = new Map();
  readonly #answers: PollAnswers<Network>;
  #news: DeskNews | undefined;
  readonly #drops: DeskDrops;

  constructor(
    plans: readonly DeskInputPlan[],
    private options: DeskOptions,
  ) {
    this.#answers = new PollAnswers(options.random ?? Math.random, (network, to, repliesBefore) =>
      this.#answer(network, to, repliesBefore),
    );
    this.#drops = new DeskDrops(options.onEvent);
    this.hear(plans, options);
  }

  /**
   * Hears these from now on. A universe that is heard already, under whatever name, keeps its sources and levels, and
   * what was reported of it.
   */
  hear(plans: readonly DeskInputPlan[], names: Pick<DeskOptions, 'ownNames' | 'sourceName'>): void {
    this.options = { ...this.options, ...names };
    const groups = new Map<string, DeskInputPlan[]>();
    const find = this.options.findInterface ?? findInterface;
    for (const plan of plans) {
      // By its name or by its address it is one interface, and has one socket a port.
      const key = `${plan.protocol} ${find(plan.interface)?.address ?? plan.interface}`;
      groups.set(key, [...(groups.get(key) ?? []), plan]);
    }
    const before = this.#networks;
    const left = new Set(before.values());
    const networks = new Map<string, Network>();
    for (const [key, group] of groups) {
      const was = [before.get(key), ...left].find(one => {
        return (
          one !== undefined &&
          left.has(one) &&
          (one === before.get(key) || isSameInterface(one, group))
        );
      });
      if (was !== undefined) left.delete(was);
      networks.set(key, this.#network(group, was));
    }
    this.#networks = networks;
    for (const { listener } of left) listener.close();
    const all = [...networks.values()].flatMap(({ heard }) => heard);
    this.universes = plans.map(plan => all.find(one => one.plan === plan) as Heard);
    this.#news = new DeskNews(this.universes, this.options.onEvent, this.#news);
  }

  /** Once a beat. */
  tend(nowS: number): void {
    let isLost = false;
    for (const { listener, sacn, artnet, heard } of this.#networks.values()) {
      listener.tend(nowS);
      const before = countHeard(heard);
      expireSacnSources(sacn, nowS);
      expireArtnetSources(artnet, nowS);
      isLost ||= countHeard(heard) < before;
    }
    if (isLost) this.options.onChange();
    this.#answers.look(nowS);
    this.#news?.look(nowS);
    this.#drops.look(this.universes, nowS, this.rejected);
  }

  /** A packet that one of our lighting sockets received at the shared port. */
  take(protocol: 'sacn' | 'artnet', bytes: Buffer, from: string, address: string): void {
    for (const network of this.#networks.values()) {
      const { listener, heard } = network;
      if (heard[0]?.plan.protocol !== protocol || listener.interface?.address !== address) continue;
      if (protocol === 'sacn') this.#hearSacn(network, bytes, from);
      // The owner of the port answers polls as well.
      else if (!isPoll(bytes)) this.#hearArtnet(network, bytes, from);
    }
  }

  /** Answer to a poll at this address: the Port-Addresses that are heard there. */
  portsAt(address: string): readonly HeardPort[] {
    return [...this.#networks.values()].flatMap(network => {
      return network.listener.interface?.address === address ? portsOf(network) : [];
    });
  }

  close(): void {
    for (const { listener } of this.#networks.values()) listener.close();
  }

  #network(plans: readonly DeskInputPlan[], before: Network | undefined): Network {
    const { protocol = 'sacn', interface: where = '' } = plans[0] ?? {};
    const universes = plans.map(plan => plan.universe);
    const sacn = createSacnReceiver(protocol === 'sacn' ? universes : [], before?.sacn);
    const artnet = createArtnetReceiver(protocol === 'artnet' ? universes : [], before?.artnet);
    const received = protocol === 'sacn' ? sacn.universes : artnet.ports;
    const known = new Set(before?.heard);
    const heard = plans.map((plan, i) => {
      const was = before?.byNumber.get(plan.universe);
      if (was === undefined || !known.delete(was))
        return new Heard(plan, received[i] as ReceivedUniverse);
      was.plan = plan;
      return was;
    });
    const byNumber = new Map(heard.map(one => [one.plan.universe, one]));
    if (before !== undefined) {
      before.listener.lookSoon();
      return Object.assign(before, { sacn, artnet, heard, byNumber });
    }
    const { onEvent, hasPort, findInterface } = this.options;
    const about = () => ({ interface: where, inputs: network.heard.map(({ plan }) => plan.name) });
    const network: Network = {
      sacn,
      artnet,
      heard,
      byNumber,
      listener: new InterfaceListener({
        protocol,
        interface: where,
        groups: () => [...network.byNumber.keys(), ...syncAddresses(network.sacn)],
        hasPort: address => hasPort(protocol, address),
        onPacket: (bytes, from) => {
          if (protocol === 'sacn') this.#hearSacn(network, bytes, from);
          else this.#hearArtnet(network, bytes, from);
        },
        onDeaf: reason =>
          onEvent(
            reason === undefined
              ? { kind: 'desk-listens', ...about() }
              : { kind: 'desk-deaf', ...about(), reason },
          ),
        onFlood: forS => onEvent({ kind: 'desk-flood', ...about(), forS }),
        find: findInterface,
      }),
    };
    return network;
  }

  #hearSacn({ sacn, heard, byNumber }: Network, bytes: Buffer, from: string): void {
    const again = receiveSacnAgain(sacn, bytes, from, this.options.now());
    if (again !== undefined) {
      this.#note(byNumber.get(bytes.readUInt16BE(DATA.universe)), again);
      return;
    }
    // Levels that nobody asked for, ours among them, are ignored.
    const isLong = bytes.length >= DATA.slots;
    if (isLong && !byNumber.has(bytes.readUInt16BE(DATA.universe))) return;
    const packet = decodeSacn(bytes);
    if (packet.kind === 'rejected') {
      this.rejected += 1;
      return;
    }
    if (packet.kind === 'discovery' || sameBytes(packet.cid, this.options.cid())) return;
    const nowS = this.options.now();
    if (packet.kind === 'sync') {
      receiveSacnSync(sacn, packet, nowS);
      for (const one of heard) one.note();
      this.options.onChange();
      return;
    }
    if (this.options.ownNames.includes(packet.sourceName)) return;
    const outcome = receiveSacnData(sacn, packet, from, nowS, bytes);
    this.#note(byNumber.get(packet.universe), outcome);
  }

  #hearArtnet(network: Network, bytes: Buffer, from: string): void {
    const { artnet, heard, byNumber } = network;
    const nowS = this.options.now();
    const dmx = decodeArtDmx(bytes);
    if (dmx === undefined) {
      if (isPoll(bytes)) {
        if (from !== network.listener.interface?.address) this.#answers.plan(network, from, nowS);
      } else if (isSync(bytes)) {
        receiveArtSync(artnet, from, nowS);
        for (const one of heard) one.note();
        this.options.onChange();
      }
      return;
    }
    if (this.options.sends(dmx.portAddress, from)) return;
    const outcome = receiveArtDmx(artnet, dmx, from, nowS);
    this.#note(byNumber.get(dmx.portAddress), outcome);
  }

  #note(heard: Heard | undefined, outcome: SacnOutcome | ArtnetOutcome): void {
    if (heard === undefined) return;
    heard.counters[outcome] += 1;
    if (outcome === 'taken') {
      heard.note();
      this.options.onChange();
    } else if (outcome === 'terminated') this.options.onChange();
  }

  #answer(network: Network, to: string, repliesBefore: number): void {
    const address = network.listener.interface?.address;
    if (address === undefined) return;
    const { sourceName: longName } = this.options;
    const reply = { ip: address, shortName: 'lampwright', longName, repliesBefore };
    for (const bytes of encodePollReplies(reply, portsOf(network)))
      network.listener.answer(bytes, to);
  }
}

/** Its address may have changed since. */
function isSameInterface({ heard }: Network, [first]: readonly DeskInputPlan[]): boolean {
  return heard.some(({ plan: { protocol, interface: on } }) => {
    return protocol === first?.protocol && on === first.interface;
  });
}

function portsOf({ heard }: Network): HeardPort[] {
  return heard.flatMap(({ plan, isHeard }) =>
    plan.protocol === 'artnet' ? [{ portAddress: plan.universe, isHeard }] : [],
  );
}

function countHeard(heard: readonly HeardUniverse[]): number {
  let count = 0;
  for (const { isHeard } of heard) if (isHeard) count += 1;
  return count;
}
