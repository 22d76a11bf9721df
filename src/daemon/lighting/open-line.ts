import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import { encodeDiscovery } from '../../protocols/sacn/discovery.js';
import type { OutputPlan } from '../../show/model/model.js';
import { ArtnetProof } from './artnet-proof.js';
import { Errand } from './delivery.js';
import type { LightingEvent } from './events.js';
import type { Hearing, Listener } from './hearing.js';
import type { CarrierReader, InterfaceFinder, LightingInterface } from './interfaces.js';
import { LightingSocket, type SocketFactory } from './lighting-socket.js';
import type { Line } from './line.js';
import type { NodeWatch } from './node-watch.js';
import { Partner } from './partner.js';
import { type ListenerFactory, openListener, SacnListener } from './sacn-listener.js';
import { MOST_RECEIVERS, streamsOf } from './streams.js';
import { synchronizationsOf } from './synchronization.js';

export interface LineOptions {
  readonly cid: Uint8Array;
  readonly sourceName: string;
  onEvent(event: LightingEvent): void;
  /** What has come to a port that is ours, at an address of ours: a desk may have sent it. */
  onHeard?(protocol: 'sacn' | 'artnet', bytes: Buffer, from: string, address: string): void;
  /** Monotonic seconds. */
  now(): number;
  /** For tests: other sockets than those of this machine. */
  readonly socketFactory?: SocketFactory;
  readonly readCarrier?: CarrierReader;
  /** Whether an interface that was missing, and is there now, is ours to send by. Asked each second until it is. */
  admits?(where: LightingInterface): boolean;
  /** Without one, other sockets have no listener. */
  readonly listenerFactory?: ListenerFactory;
}

/** Who hears what comes back. */
export interface Listeners {
  readonly nodes: NodeWatch;
  readonly hearing: Hearing;
}

const REPLY = new Errand({ errand: 'ArtPollReply' });

/** Beats' worth of datagrams that a socket may have under way; see {@link LightingSocket}. */
const BEATS_UNDER_WAY = 4;
/** Room for discovery and polls beside the levels of a small show. */
const LEAST_UNDER_WAY = 64;

/**
 * All that leaves by one interface, and what comes back by it; the socket is not open yet.
 * @param plans outputs of this interface
 * @param lastSent of all universes: where the levels that have really left are kept
 */
export function lineOf(
  plans: readonly OutputPlan[],
  find: InterfaceFinder,
  lastSent: Uint8Array,
  listeners: Listeners,
  options: LineOptions,
): Line {
  const { cid, sourceName, onEvent, socketFactory } = options;
  const { nodes: watch, hearing } = listeners;
  const name = plans[0]?.interface ?? '';
  let socket: LightingSocket | undefined;
  const there = find(name);
  const loopback = there?.loopback === true;
  let known = there?.address;
  /** Of a network. It may have come, or changed, since; of a lost interface it is the last one. */
  function ours(): string | undefined {
    known = socket?.interface?.address ?? known;
    return loopback ? undefined : known;
  }
  /** Both machines of a pair are among the receivers, so that they hear each other. */
  const includesUs = ({ to }: OutputPlan) => {
    if (loopback || to === 'multicast') return false;
    const our = ours();
    return our === undefined ? to.length > 0 : to.some(ip => ip === our);
  };
  const nodes = new Map<string, string>();
  let asks = false;
  for (const plan of plans) {
    if (plan.protocol !== 'artnet' || !(plan.poll ?? !loopback)) continue;
    // By broadcast; on the loopback there is none, and only what is listed can be asked.
    asks ||= !loopback || plan.to.length > 0;
    for (const ip of plan.to) nodes.set(ip, plan.name);
  }
  const universes = plans
    .filter(plan => plan.protocol === 'sacn')
    .flatMap(plan => plan.universes.map(universe => universe.onWire));
  const streams = plans.flatMap(plan => streamsOf(plan, { cid, sourceName }, ours(), lastSent));
  const synchronizations = synchronizationsOf(cid, plans, streams, ours());
  const perBeat = streams.reduce(
    (sum, { plan, destinations, addressPriorities }) =>
      sum +
      (addressPriorities === undefined ? 1 : 2) *
        (plan.protocol === 'artnet' && asks ? MOST_RECEIVERS : destinations.length),
    0,
  );
  socket = new LightingSocket({
    interface: name,
    // A controller answers polls also where it asks nobody; on the loopback the port is a receiver's.
    polls: asks || (!loopback && plans.some(plan => plan.protocol === 'artnet')),
    mostUnderWay: Math.max(LEAST_UNDER_WAY, BEATS_UNDER_WAY * perBeat),
    onEvent,
    onMessage: (bytes, from) => {
      const nowS = options.now();
      watch.hear(bytes, from, nowS);
      hearing.artnet(listener, bytes, from, nowS);
      const { address } = listener;
      if (address !== undefined) options.onHeard?.('artnet', bytes, from, address);
    },
    socketFactory,
    findInterface: find,
    readCarrier: options.readCarrier,
  });
  const heard = { partner: new Partner(0) };
  const listener: Listener = {
    streams,
    get partner() {
      return heard.partner;
    },
    get address() {
      return socket.interface?.address;
    },
    get port() {
      return socket.port;
    },
    get holdsArtnet() {
      return line.holdsArtnet;
    },
    answer: (bytes, to) => socket.send(bytes, ARTNET_PORT, to, REPLY),
  };
  const line: Line = {
    name,
    socket,
    streams,
    synchronizations,
    get hearsUnicast() {
      return plans.some(includesUs);
    },
    listener: loopback
      ? undefined
      : listenerOf(name, plans, listener, includesUs, hearing, options),
    discovery: universes.length === 0 ? [] : encodeDiscovery({ cid, sourceName }, universes),
    nodes,
    asks,
    isLoopback: loopback,
    heard,
    holdsArtnet: false,
    artnet: new ArtnetProof(),
    staysOnArtnet: false,
    leftS: options.now(),
    discoveryDueS: Number.NEGATIVE_INFINITY,
    pollDueS: Number.NEGATIVE_INFINITY,
    reopened: 0,
    nodesRevision: 0,
    stuck: false,
    provenPackets: 0,
  };
  return line;
}

function listenerOf(
  name: string,
  plans: readonly OutputPlan[],
  listener: Listener,
  includesUs: (plan: OutputPlan) => boolean,
  hearing: Hearing,
  options: LineOptions,
): SacnListener | undefined {
  const { listenerFactory, socketFactory, onEvent } = options;
  const factory = listenerFactory ?? (socketFactory === undefined ? openListener : undefined);
  const universes = listener.streams
    .filter(({ plan }) => plan.protocol === 'sacn')
    .map(({ onWire }) => onWire);
  if (factory === undefined || universes.length === 0) return undefined;
  return new SacnListener({
    universes: [...new Set(universes)].sort((a, b) => a - b),
    unicast: () => plans.some(plan => plan.protocol === 'sacn' && includesUs(plan)),
    factory,
    onPacket: (bytes, from, port) => {
      hearing.sacn(listener, bytes, from, port, options.now());
      const { address } = listener;
      if (address !== undefined) options.onHeard?.('sacn', bytes, from, address);
    },
    onClosed: forS => onEvent({ kind: 'listener-closed', interface: name, forS }),
  });
}
