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
} from '../../protocols/sacn/receiver.js';
import type { DeskInputPlan } from '../../show/model.js';
import { findInterface, type InterfaceFinder } from '../lighting/interfaces.js';
import { PollAnswers } from '../lighting/poll-answers.js';
import { DeskDrops } from './drops.js';
import { DeskEar } from './ear.js';
import type { DeskEvent, DeskSource } from './events.js';
import { type DeskCounters, type HeardUniverse, NO_COUNTS } from './heard-universe.js';
import { DeskNews } from './news.js';

export interface DeskOptions {
  /** What is ours is no desk's: by CID and name, and by the addresses that we send Art-Net from. */
  readonly cid: () => Uint8Array;
  readonly ownNames: readonly string[];
  /** Whether a lighting socket has the port of the protocol at this address; it hands on what comes there. */
  hasPort(protocol: 'sacn' | 'artnet', address: string): boolean;
  /** Whether we send this Port-Address from that address. */
  sends(portAddress: number, address: string): boolean;
  /** What a controller that asks is told. */
  readonly sourceName: string;
  onEvent(event: DeskEvent): void;
  /** Levels have come, or something is heard no longer. */
  onChange(): void;
  /** Monotonic seconds. */
  now(): number;
  random?(): number;
  readonly findInterface?: InterfaceFinder;
}

/** The universes of one protocol that are heard by one interface. */
interface Network {
  readonly ear: DeskEar;
  readonly sacn: SacnReceiver;
  readonly artnet: ArtnetReceiver;
  readonly heard: readonly Heard[];
  /** The same by their numbers on the wire. */
  readonly byNumber: ReadonlyMap<number, Heard>;
}

class Heard implements HeardUniverse {
  everHeard = false;
  readonly counters: DeskCounters;

  constructor(
    public plan: DeskInputPlan,
    private readonly from: ReceivedUniverse | ReceivedPort,
  ) {
    this.counters = { ...NO_COUNTS };
  }

  get levels(): Uint8Array {
    return this.from.levels;
  }

  get changes(): number {
    return this.from.changes;
  }

  get isHeard(): boolean {
    const { sources } = this.from;
    for (const source of sources) if (source.isShown) return true;
    return false;
  }

  get sources(): readonly DeskSource[] {
    const { from } = this;
    if ('priority' in from) {
      return from.sources.map(({ name, address, priority, isShown }) => {
        return { name, address, priority, leads: isShown && priority === from.priority };
      });
    }
    return from.sources.map(({ address, isShown }) => {
      return { name: address, address, priority: undefined, leads: isShown };
    });
  }
}

/** What is heard of the desk: each universe by the rules of its protocol for receivers. */
export class Desk {
  /** In the order of the show. */
  readonly universes: readonly HeardUniverse[];
  /** Packets that could not be read. */
  rejected = 0;
  readonly #networks: readonly Network[];
  readonly #answers: PollAnswers<Network>;
  readonly #news: DeskNews;
  readonly #drops: DeskDrops;

  constructor(
    plans: readonly DeskInputPlan[],
    private readonly options: DeskOptions,
  ) {
    const groups = new Map<string, DeskInputPlan[]>();
    const find = options.findInterface ?? findInterface;
    for (const plan of plans) {
      // By its name or by its address it is one interface, and has one socket a port.
      const key = `${plan.protocol} ${find(plan.interface)?.address ?? plan.interface}`;
      groups.set(key, [...(groups.get(key) ?? []), plan]);
    }
    this.#networks = [...groups.values()].map(group => this.#network(group));
    const all = this.#networks.flatMap(({ heard }) => heard);
    this.universes = plans.map(plan => all.find(one => one.plan === plan) as Heard);
    this.#answers = new PollAnswers(options.random ?? Math.random, (network, to, repliesBefore) =>
      this.#answer(network, to, repliesBefore),
    );
    this.#news = new DeskNews(this.universes, options.onEvent);
    this.#drops = new DeskDrops(this.universes, options.onEvent);
  }

  /** Another show hears the same universes; what it does when one is gone may be another thing. */
  renew(plans: readonly DeskInputPlan[]): void {
    plans.forEach((plan, i) => {
      (this.universes[i] as Heard).plan = plan;
    });
  }

  /** Once a beat. */
  tend(nowS: number): void {
    let isLost = false;
    for (const { ear, sacn, artnet, heard } of this.#networks) {
      ear.tend(nowS);
      const before = countHeard(heard);
      expireSacnSources(sacn, nowS);
      expireArtnetSources(artnet, nowS);
      isLost ||= countHeard(heard) < before;
    }
    if (isLost) this.options.onChange();
    this.#answers.look(nowS);
    this.#news.look(nowS);
    this.#drops.look(nowS, this.rejected);
  }

  /** What a lighting socket of ours has got at a port that it has there. */
  take(protocol: 'sacn' | 'artnet', bytes: Buffer, from: string, address: string): void {
    for (const network of this.#networks) {
      const { ear, heard } = network;
      if (heard[0]?.plan.protocol !== protocol || ear.interface?.address !== address) continue;
      if (protocol === 'sacn') this.#hearSacn(network, bytes, from);
      // Whoever has the port answers polls as well.
      else if (!isPoll(bytes)) this.#hearArtnet(network, bytes, from);
    }
  }

  /** What whoever asks at this address is told: the Port-Addresses that are heard there. */
  portsAt(address: string): readonly HeardPort[] {
    return this.#networks.flatMap(network => {
      return network.ear.interface?.address === address ? portsOf(network) : [];
    });
  }

  close(): void {
    for (const { ear } of this.#networks) ear.close();
  }

  #network(plans: readonly DeskInputPlan[]): Network {
    const { protocol = 'sacn', interface: where = '' } = plans[0] ?? {};
    const universes = plans.map(plan => plan.universe);
    const inputs = plans.map(({ name }) => name);
    const sacn = createSacnReceiver(protocol === 'sacn' ? universes : []);
    const artnet = createArtnetReceiver(protocol === 'artnet' ? universes : []);
    const received = protocol === 'sacn' ? sacn.universes : artnet.ports;
    const heard = plans.map((plan, i) => new Heard(plan, received[i] as ReceivedUniverse));
    const { onEvent, hasPort, findInterface } = this.options;
    const about = { interface: where, inputs };
    const network: Network = {
      sacn,
      artnet,
      heard,
      byNumber: new Map(heard.map(one => [one.plan.universe, one])),
      ear: new DeskEar({
        protocol,
        interface: where,
        universes,
        hasPort: address => hasPort(protocol, address),
        onPacket: (bytes, from) => {
          if (protocol === 'sacn') this.#hearSacn(network, bytes, from);
          else this.#hearArtnet(network, bytes, from);
        },
        onDeaf: reason =>
          onEvent(
            reason === undefined
              ? { kind: 'desk-listens', ...about }
              : { kind: 'desk-deaf', ...about, reason },
          ),
        onFlood: forS => onEvent({ kind: 'desk-flood', ...about, forS }),
        find: findInterface,
      }),
    };
    return network;
  }

  #hearSacn({ sacn, byNumber }: Network, bytes: Buffer, from: string): void {
    const again = receiveSacnAgain(sacn, bytes, from, this.options.now());
    if (again !== undefined) {
      this.#note(byNumber.get(bytes.readUInt16BE(DATA.universe)), again);
      return;
    }
    // Of levels that nobody asked for, ours among them, nothing is looked at.
    const isLong = bytes.length >= DATA.slots;
    if (isLong && !byNumber.has(bytes.readUInt16BE(DATA.universe))) return;
    const packet = decodeSacn(bytes);
    if (packet.kind === 'rejected') {
      this.rejected += 1;
      return;
    }
    if (packet.kind === 'discovery' || isSame(packet.cid, this.options.cid())) return;
    const nowS = this.options.now();
    if (packet.kind === 'sync') {
      receiveSacnSync(sacn, packet, nowS);
      this.options.onChange();
      return;
    }
    if (this.options.ownNames.includes(packet.sourceName)) return;
    const outcome = receiveSacnData(sacn, packet, from, nowS, bytes);
    this.#note(byNumber.get(packet.universe), outcome);
  }

  #hearArtnet(network: Network, bytes: Buffer, from: string): void {
    const { artnet, byNumber } = network;
    const nowS = this.options.now();
    const dmx = decodeArtDmx(bytes);
    if (dmx === undefined) {
      if (isPoll(bytes)) {
        if (from !== network.ear.interface?.address) this.#answers.plan(network, from, nowS);
      } else if (isSync(bytes)) {
        receiveArtSync(artnet, from, nowS);
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
      heard.everHeard = true;
      this.options.onChange();
    } else if (outcome === 'terminated') this.options.onChange();
  }

  #answer(network: Network, to: string, repliesBefore: number): void {
    const address = network.ear.interface?.address;
    if (address === undefined) return;
    const { sourceName: longName } = this.options;
    const reply = { ip: address, shortName: 'lampwright', longName, repliesBefore };
    for (const bytes of encodePollReplies(reply, portsOf(network))) network.ear.answer(bytes, to);
  }
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

function isSame(a: Uint8Array, b: Uint8Array): boolean {
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false;
  return true;
}
