import { ARTNET_PORT } from '../../protocols/artnet/options.js';
import { encodePoll } from '../../protocols/artnet/poll.js';
import { Errand } from './delivery.js';
import { broadcastOf } from './interfaces.js';
import type { Line } from './line.js';
import type { NodeWatch } from './node-watch.js';
import { resubscribe } from './streams.js';

/** To all nodes of a network, or to any of them. */
const POLL_PACKET = encodePoll();
const POLL = new Errand({ errand: 'ArtPoll' });

/** Asks the nodes of an interface who they are. */
export function pollNodes({ socket, streams, nodes }: Line, watch: NodeWatch, nowS: number): void {
  const where = socket.interface;
  if (!socket.polls || where === undefined) return;
  if (!where.loopback) socket.send(POLL_PACKET, ARTNET_PORT, where.broadcast, POLL);
  for (const { plan, onWire } of streams) {
    if (plan.protocol === 'artnet') watch.want(onWire, plan.name, nowS);
  }
  for (const [ip, output] of nodes) {
    // On the loopback interface a receiver may share our address.
    if (!where.loopback && ip === where.address) continue;
    watch.await(ip, output, nowS);
    // Behind a router no broadcast of ours arrives; on loopback only what the show names is asked.
    const hears = !where.loopback && broadcastOf(ip, where.netmask) === where.broadcast;
    if (!hears) socket.send(POLL_PACKET, ARTNET_PORT, ip, POLL);
  }
}

/** Sends to those that answer now. A node of another network is reached by the interface on which it was found. */
export function renewSubscribers(line: Line, watch: NodeWatch): void {
  line.nodesRevision = watch.revision;
  const where = line.socket.interface;
  if (where === undefined) return;
  const isNear = (ip: string) => broadcastOf(ip, where.netmask) === where.broadcast;
  const leftOut = new Set([where.broadcast]);
  // On the loopback interface a receiver may share our address.
  if (!where.loopback) leftOut.add(where.address);
  resubscribe(line.streams, leftOut, portAddress => watch.subscribers(portAddress).filter(isNear));
}

/** One beat of a line by which Art-Net is sent. */
export function proveArtnet(line: Line, nowS: number): void {
  const { socket, artnet, holdsArtnet, asks } = line;
  const streams = line.streams.filter(({ plan }) => plan.protocol === 'artnet');
  // Of what is out nothing is known of refusals.
  const isOut = socket.interface === undefined || !socket.hasCarrier || line.stuck;
  if (streams.length === 0 || isOut) return;
  if (!holdsArtnet) {
    artnet.sends(
      streams.some(({ delivery }) => !delivery.failed),
      nowS,
    );
    return;
  }
  if (!artnet.holds(nowS)) return;
  // Where nobody is to be polled the levels themselves have to try.
  if (!asks) artnet.note(true);
  else {
    const to = new Set(streams.flatMap(({ destinations }) => destinations));
    for (const ip of to) socket.send(POLL_PACKET, ARTNET_PORT, ip, artnet);
  }
}
