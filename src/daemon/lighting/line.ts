import { createTransmission } from '../../protocols/transmission.js';
import { GOES_BACK, LEAVES, STAYS } from '../../safety/output-limiter.js';
import type { ArtnetProof } from './artnet-proof.js';
import type { LightingSocket } from './lighting-socket.js';
import type { Partner } from './partner.js';
import type { SacnListener } from './sacn-listener.js';
import { readdress, type Stream } from './streams.js';
import type { Synchronization } from './synchronization.js';

/** All that leaves by one interface. */
export interface Line {
  readonly name: string;
  readonly socket: LightingSocket;
  readonly streams: readonly Stream[];
  readonly synchronizations: readonly Synchronization[];
  /** Universe Discovery of this interface's sACN universes. */
  readonly discovery: readonly Buffer[];
  /** Art-Net destinations, with the output that sends to each. */
  readonly nodes: ReadonlyMap<string, string>;
  /** Nodes are asked who they are: by broadcast, also where the show lists none but ourselves. */
  readonly asks: boolean;
  /** We are among the receivers ourselves, as both machines of a pair are; or may be, while our address is not known. */
  readonly hearsUnicast: boolean;
  /** undefined on the loopback, where there is nobody else to hear. */
  readonly listener: SacnListener | undefined;
  discoveryDueS: number;
  pollDueS: number;
  reopened: number;
  /** Of the node table, when the subscribers were last taken from it. */
  nodesRevision: number;
  /** The socket had not taken all of the beats before when this one began: nothing of this one is sent. */
  stuck: boolean;
  readonly isLoopback: boolean;
  /** Who the other machine of a pair is here. */
  readonly heard: { partner: Partner };
  /** Art-Net has no priorities: the machine of a pair that is not wanted sends nothing. */
  holdsArtnet: boolean;
  /** Whether it would pass. */
  readonly artnet: ArtnetProof;
  /** It does so after an outage, to hear who is there: receivers have what it sent last. */
  staysOnArtnet: boolean;
  /** The last beat, monotonic seconds, of which something could leave. */
  leftS: number;
  /** Datagrams taken by the system when it was last asked whether this interface sends. */
  provenPackets: number;
}

/**
 * Whether what is sent now gets as far as the cable.
 * @param standby it has to hear: that what it sends is refused makes it no deafer
 */
export function isLeaving(
  { socket, stuck, streams, holdsArtnet, staysOnArtnet }: Line,
  standby: boolean,
): boolean {
  if (socket.interface === undefined || !socket.hasCarrier || stuck) return false;
  if (standby) return true;
  // Receivers arbitrate sACN: a firewall may stop it, and let Art-Net pass.
  let sacn = 0;
  let leaving = 0;
  let leavingSacn = 0;
  for (const { plan, delivery } of streams) {
    // Of what another machine sends in our place nothing more is heard: it was refused before, and that must not
    // hold it back for ever.
    const isHeld = holdsArtnet && !staysOnArtnet && plan.protocol === 'artnet';
    const leaves = delivery.failed && !isHeld ? 0 : 1;
    leaving += leaves;
    if (plan.protocol !== 'sacn') continue;
    sacn += 1;
    leavingSacn += leaves;
  }
  return streams.length === 0 || (sacn > 0 ? leavingSacn : leaving) > 0;
}

/**
 * Whether what a stream sends in this beat leaves; see `CutOff`.
 * @param stuck its socket had not taken all of the beats before when this one began
 */
export function wayOf(
  { socket, staysOnArtnet }: Line,
  { plan, delivery: { failed, known } }: Stream,
  stuck: boolean,
): number {
  if (staysOnArtnet && plan.protocol === 'artnet') return STAYS;
  if (socket.interface !== undefined && socket.hasCarrier && !stuck && !failed) return LEAVES;
  // What is stuck leaves as it is.
  return failed && known ? GOES_BACK : STAYS;
}

/** After an interface was lost, all that leaves by it is new to those who listen. */
export function beginAnew(line: Line): void {
  line.reopened = line.socket.counters.reopened;
  line.discoveryDueS = Number.NEGATIVE_INFINITY;
  line.pollDueS = Number.NEGATIVE_INFINITY;
  line.nodesRevision = -1;
  for (const { transmission, addressPriorities } of line.streams) {
    Object.assign(transmission, createTransmission());
    addressPriorities?.beginAnew();
  }
}

/** Our address has come, or is another. */
export function readdressLine({ streams, synchronizations }: Line, ourAddress: string): void {
  readdress(streams, ourAddress);
  for (const one of synchronizations) one.readdress(ourAddress);
}

/** After the levels of a beat. */
export function synchronize({ synchronizations, socket }: Line): void {
  for (const one of synchronizations) one.send(socket);
}

/**
 * A beat while the socket is stuck. What is under way leaves as it is: the bytes of a packet are written over
 * in a later beat, and those levels may be far from what the receivers have. Counted as if all had changed.
 */
export function skipBeat({ socket, streams, holdsArtnet }: Line): void {
  for (const { plan, destinations, delivery } of streams) {
    if (!holdsArtnet || plan.protocol !== 'artnet') socket.skip(destinations.length, delivery.of);
  }
}

/** From this due time, not from now, so that late beats don't add up; after a pause, from now. */
export function nextDueS(dueS: number, periodS: number, nowS: number): number {
  const followingS = dueS + periodS;
  return followingS > nowS ? followingS : nowS + periodS;
}
