import { createSocket, type Socket } from 'node:dgram';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Datagram } from '../../engine/values/inputs.js';
import { decodeArtDmx } from '../../protocols/artnet/incoming.js';
import { ARTNET_PORT, POLL_INTERVAL_S } from '../../protocols/artnet/options.js';
import { encodePoll } from '../../protocols/artnet/poll.js';
import { decodePollReply } from '../../protocols/artnet/poll-reply.js';
import { decodeSacn } from '../../protocols/sacn/decode.js';
import { DISCOVERY_UNIVERSE, SACN_PORT } from '../../protocols/sacn/options.js';
import type { FeedFact, NetworkFacts, NodeFact } from '../../readiness/facts.js';
import { createFeedRecord, noteName, noteReport, noteSystem } from '../../readiness/feed.js';
import { numberTaker } from '../../readiness/numbers.js';
import { noteArtDmx, noteSacn, type SourceBook } from '../../readiness/sources.js';
import type { OutputPlan, Show } from '../../show/model/model.js';
import { PositionListener } from '../engine/position-listener.js';
import { findInterface, interfacesDown, type LightingInterface } from '../lighting/interfaces.js';
import { openListener, SacnListener } from '../lighting/sacn-listener.js';
import { monotonicS } from '../machine/clock.js';
import { dropSocket } from '../machine/drop-socket.js';
import { readInterfaces, readRoutes } from './machine.js';

/** How often the listener are tended. */
const TEND_MS = 200;
const MOST_NODES = 1024;

interface Listening {
  readonly show: Show;
  readonly sources: SourceBook;
  readonly nodes: Map<string, NodeFact>;
  readonly polled: string[];
  readonly deaf: string[];
  readonly sockets: Socket[];
}

/**
 * Listens to both networks of a show, without running it, and asks Art-Net nodes who they are.
 * Multicast is heard beside whoever else listens; a port that only one program can have is left to
 * the one that has it, and `deaf` says so.
 * @param keep gets each datagram of the tracking feed as it came
 * @param ended it ends early when this says so
 */
export async function listen(
  show: Show,
  seconds: number,
  keep: (datagram: Datagram) => void = () => undefined,
  ended: { readonly aborted: boolean } = { aborted: false },
): Promise<NetworkFacts> {
  const listening: Listening = {
    show,
    sources: new Map(),
    nodes: new Map(),
    polled: [],
    deaf: [],
    sockets: [],
  };
  const feeds = await Promise.all(
    // Orders are heard when they are given, not before.
    show.inputs.flatMap((input, index) =>
      input.carries === 'positions' ? [openFeed(show, input, index, keep)] : [],
    ),
  );
  const listener = await openLighting(listening);
  const beganS = monotonicS();
  const endS = beganS + seconds;
  try {
    for (let nowS = beganS; nowS < endS && !ended.aborted; nowS = monotonicS()) {
      for (const tend of listener) tend(nowS);
      await sleep(Math.min(TEND_MS, 1e3 * Math.max(0, endS - nowS)));
    }
  } finally {
    for (const socket of listening.sockets) dropSocket(socket);
    for (const { end } of feeds) end();
  }
  return {
    seconds: ended.aborted ? Math.round(monotonicS() - beganS) : seconds,
    interfaces: readInterfaces(),
    down: interfacesDown(),
    routes: readRoutes(),
    sources: listening.sources,
    nodes: [...listening.nodes.values()],
    polled: listening.polled,
    feeds: feeds.map(({ fact }) => fact()),
    deaf: listening.deaf,
  };
}

async function openFeed(
  show: Show,
  input: Show['inputs'][number],
  index: number,
  keep: (datagram: Datagram) => void,
): Promise<{
  fact(): FeedFact;
  end(): void;
}> {
  const record = createFeedRecord();
  const listener = new PositionListener(
    input,
    report => noteReport(record, report),
    (bytes, arrivalS) => keep({ input: index, bytes, arrivalS }),
    {
      system: name => noteSystem(record, name),
      tracker: (tracker, name) => noteName(record, tracker, name),
      number: numberTaker(show, index, record),
    },
  );
  const problem = await listener.open();
  return {
    end: () => {
      record.endedS = monotonicS();
      listener.close();
    },
    fact: () => ({
      input: input.name,
      problem,
      datagrams: listener.datagrams,
      rejected: listener.rejected,
      record,
    }),
  };
}

type Tend = (nowS: number) => void;

async function openLighting(listening: Listening): Promise<Tend[]> {
  const { outputs: all, desk } = listening.show;
  const tends: Tend[] = [];
  for (const wanted of new Set([...all, ...desk].map(one => one.interface))) {
    const outputs = all.filter(one => one.interface === wanted);
    const inputs = desk.filter(one => one.interface === wanted);
    const where = findInterface(wanted);
    // That it is missing is found by looking at the interfaces.
    if (where === undefined) continue;
    const sacn = [
      ...outputs.flatMap(one =>
        one.protocol === 'sacn' ? one.universes.map(({ onWire }) => onWire) : [],
      ),
      ...inputs.flatMap(one => (one.protocol === 'sacn' ? [one.universe] : [])),
    ];
    if (sacn.length > 0) tends.push(await openSacn(listening, sacn, where));
    const polls = outputs.some(one => one.protocol === 'artnet' && (one.poll ?? !where.loopback));
    const hears = inputs.some(one => one.protocol === 'artnet');
    // A desk is only listened to: who asks is told who asked, and might send to us what is for the show.
    if (polls) tends.push(await openArtnet(listening, outputs, wanted, where));
    else if (hears) await openArtnet(listening, [], undefined, where);
  }
  return tends;
}

async function openSacn(
  { sources, sockets, deaf }: Listening,
  universes: readonly number[],
  where: LightingInterface,
): Promise<Tend> {
  const hear = (bytes: Buffer, from: string) => {
    const packet = decodeSacn(bytes);
    if (packet.kind === 'data' || packet.kind === 'discovery') noteSacn(sources, packet, from);
  };
  const listener = new SacnListener({
    universes: [...new Set(universes), DISCOVERY_UNIVERSE].sort((a, b) => a - b),
    unicast: () => false,
    factory: () => {
      const socket = openListener();
      sockets.push(socket);
      return socket;
    },
    onPacket: hear,
    onClosed: () => {
      deaf.push(`more sACN came on ${where.name} than can be looked at; some was left out.`);
    },
  });
  listener.listenAlways(true);
  // What is sent to our address goes to one program only: not taken away from one that has it.
  const unicast = createSocket('udp4');
  const problem = await bind(unicast, where.address, SACN_PORT);
  if (problem === undefined) {
    sockets.push(unicast);
    unicast.on('message', (bytes, from) => hear(bytes, from.address));
  } else {
    dropSocket(unicast);
    deaf.push(
      `sACN sent straight to ${where.address} is not heard: another program on this machine has port ${SACN_PORT}.`,
    );
  }
  return nowS => listener.tend(where, nowS);
}

async function openArtnet(
  { nodes, sources, sockets, deaf, polled }: Listening,
  outputs: readonly OutputPlan[],
  wanted: string | undefined,
  where: LightingInterface,
): Promise<Tend> {
  const hear = (bytes: Buffer, from: string) => {
    const reply = decodePollReply(bytes);
    if (reply.kind === 'poll-reply') {
      if (nodes.size < MOST_NODES) {
        const { shortName: name, outputs: puts, bindIndex } = reply;
        nodes.set(`${from}#${bindIndex}`, { ip: from, name, outputs: puts });
      }
      return;
    }
    const dmx = decodeArtDmx(bytes);
    if (dmx !== undefined) noteArtDmx(sources, dmx.portAddress, from);
  };
  const socket = createSocket('udp4');
  const problem = await bind(socket, where.address, ARTNET_PORT);
  if (problem !== undefined) {
    dropSocket(socket);
    deaf.push(
      `Art-Net on ${where.name} is not heard, and nodes are not asked: another program on this machine (the show itself?) has port ${ARTNET_PORT}.`,
    );
    return () => undefined;
  }
  sockets.push(socket);
  socket.setBroadcast(true);
  socket.on('message', (bytes, from) => hear(bytes, from.address));
  // On Linux what is sent to everybody comes only to a socket bound to that address.
  const all = createSocket({ type: 'udp4', reuseAddr: true });
  if ((await bind(all, where.broadcast, ARTNET_PORT)) === undefined) {
    sockets.push(all);
    all.on('message', (bytes, from) => {
      if (from.address !== where.address) hear(bytes, from.address);
    });
  } else dropSocket(all);
  if (wanted === undefined) return () => undefined;
  polled.push(wanted);
  const poll = encodePoll();
  const named = outputs.flatMap(one => (one.protocol === 'artnet' ? one.to : []));
  const targets = [...new Set([...named, ...(where.loopback ? [] : [where.broadcast])])];
  let dueS = Number.NEGATIVE_INFINITY;
  return nowS => {
    if (nowS < dueS) return;
    dueS = nowS + POLL_INTERVAL_S;
    // A node that can't be reached shows by not answering.
    for (const target of targets) socket.send(poll, ARTNET_PORT, target, () => undefined);
  };
}

/** @returns the code of the error, or undefined */
function bind(socket: Socket, address: string, port: number): Promise<string | undefined> {
  return new Promise(resolve => {
    const failed = (error: NodeJS.ErrnoException) => resolve(error.code ?? error.message);
    socket.once('error', failed);
    socket.bind({ address, port }, () => {
      socket.off('error', failed);
      socket.on('error', () => undefined);
      resolve(undefined);
    });
  });
}
