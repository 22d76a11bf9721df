import { repeatTransmission } from '../../protocols/transmission.js';
import { isMulticast } from '../../show/model/destinations.js';
import type { Line } from './line.js';
import { Partner } from './partner.js';

/** What the networks of a machine have in common. */
interface Networks {
  /** All but the loopback, where there is nobody else. */
  readonly near: readonly Line[];
  /** The other machine, as heard on any of them. */
  readonly partner: Partner;
  readonly standby: boolean;
  /** Time between two packets that are due, seconds. */
  readonly beatS: number;
}

/**
 * The interfaces on which this machine of a pair plays one part: a cable that is out on one lighting network is no
 * reason to give way on another. Where the other machine can't be heard it goes by what is heard on the others;
 * whether that is so may change with the address of an interface.
 */
export class Side {
  readonly #lines: readonly Line[];
  readonly #partner: Partner;

  constructor(
    /** Names of its interfaces. */
    readonly name: string,
    lines: readonly Line[],
    private readonly networks: Networks,
    universeCount: number,
  ) {
    this.#lines = lines;
    this.#partner = new Partner(universeCount, networks.partner);
    for (const line of lines) line.heard.partner = this.#partner;
  }

  /** The other machine, as heard here, or wherever it can be. */
  get partner(): Partner {
    return this.isDeaf ? this.networks.partner : this.#partner;
  }

  /** Whether another machine could be heard: by multicast, or where both are among the receivers. */
  get canHear(): boolean {
    return this.#hearing.some(canHear);
  }

  get beatS(): number {
    return this.networks.beatS;
  }

  /** It is heard on other networks only. */
  get isDeaf(): boolean {
    return this.canHear && !this.#lines.some(canHear);
  }

  /** Whether another machine's Art-Net could be heard: we are among the receivers ourselves. */
  get hearsArtnet(): boolean {
    return this.#hearing.some(
      ({ hearsUnicast, streams }) =>
        hearsUnicast && streams.some(({ plan }) => plan.protocol === 'artnet'),
    );
  }

  /** Whether what the other says now would be heard: a cable is in, and a socket well. */
  get hears(): boolean {
    return this.#decisive.some(
      ({ socket, stuck }) => socket.interface !== undefined && socket.hasCarrier && !stuck,
    );
  }

  /** The only protocol that is sent here; undefined: both are. */
  get onlyProtocol(): 'sacn' | 'artnet' | undefined {
    const all = this.#lines.flatMap(({ streams }) => streams.map(({ plan }) => plan.protocol));
    const [first] = all;
    return all.every(one => one === first) ? first : undefined;
  }

  /** Whether every universe is listened to all the time. */
  set hearsAlways(always: boolean) {
    for (const { listener } of this.#lines) listener?.listenAlways(always);
  }

  /** Art-Net has no priorities: the machine of a pair that is not wanted sends nothing. */
  get holdsArtnet(): boolean {
    return this.#lines.some(line => line.holdsArtnet);
  }

  set holdsArtnet(holds: boolean) {
    for (const line of this.#lines) line.holdsArtnet = holds;
  }

  /** The system refuses all Art-Net that is sent here, or did when it was last tried. */
  get artnetRefused(): boolean {
    return this.#lines.some(({ artnet }) => artnet.isRefused);
  }

  /** There is sACN here, which receivers arbitrate. */
  get sendsSacn(): boolean {
    return this.#lines.some(({ streams }) => streams.some(({ plan }) => plan.protocol === 'sacn'));
  }

  /** Of the show, by index, those that it sends. */
  get universes(): readonly number[] {
    return [...new Set(this.#lines.flatMap(({ streams }) => streams.map(({ index }) => index)))];
  }

  /** Of the show, by index, those that it sends by Art-Net and by nothing else. */
  get artnetUniverses(): readonly number[] {
    const streams = this.#lines.flatMap(line => line.streams);
    const bySacn = new Set(
      streams.filter(({ plan }) => plan.protocol === 'sacn').map(({ index }) => index),
    );
    return [...new Set(streams.map(({ index }) => index))].filter(index => !bySacn.has(index));
  }

  /** Interfaces by which it sends Art-Net. */
  get artnetInterfaces(): readonly string[] {
    return this.#lines
      .filter(({ streams }) => streams.some(({ plan }) => plan.protocol === 'artnet'))
      .map(({ name }) => name);
  }

  /** What left last by Art-Net is what receivers have: light begins there again. */
  set staysOnArtnet(stays: boolean) {
    for (const line of this.#lines) line.staysOnArtnet = stays;
  }

  /** Sends sACN with the show's priorities plus this; whole, and within 0 to 200 by the check of the show. */
  shiftPriority(by: number): void {
    for (const { streams } of this.#lines) {
      for (const { plan, setPriority, transmission } of streams) {
        if (plan.protocol !== 'sacn') continue;
        setPriority?.(Math.max(0, plan.priority + by));
        repeatTransmission(transmission);
      }
    }
  }

  /** For how long nothing has left, seconds, by any interface that counts; what stood still has sent nothing either. */
  silentForS(nowS: number): number {
    const lines = this.#decisive;
    return lines.length === 0 ? 0 : Math.min(...lines.map(({ leftS }) => nowS - leftS));
  }

  /** Those by which the other machine is heard. */
  get #hearing(): readonly Line[] {
    const own = this.#lines.filter(({ isLoopback }) => !isLoopback);
    return own.length === 0 || own.some(canHear) ? own : this.networks.near;
  }

  /**
   * Those that make out whether this part is out: of a standby, which takes the place of what it hears no more, the
   * ones by which it hears; of a main machine its own, as a standby may have taken its place there.
   */
  get #decisive(): readonly Line[] {
    if (this.networks.standby) return this.#hearing.filter(canHear);
    return this.#lines.filter(({ isLoopback }) => !isLoopback);
  }
}

/**
 * The parts go by network, as a cable may be out on one: a standby has to send Art-Net there, which has no priorities
 * that would let it send all the time.
 * @param standby the loopback, where the main machine is never heard, goes by the first network
 */
export function sidesOf(
  lines: readonly Line[],
  standby: boolean,
  { universeCount, beatS }: { readonly universeCount: number; readonly beatS: number },
): readonly Side[] {
  const near = lines.filter(({ isLoopback }) => !isLoopback);
  const own = lines.filter(({ isLoopback }) => isLoopback);
  const groups = near.map((line, i) => (standby && i === 0 ? [line, ...own] : [line]));
  if (!standby || near.length === 0) groups.push(own);
  const networks: Networks = { near, standby, beatS, partner: new Partner(universeCount) };
  return groups
    .filter(group => group.length > 0)
    .map(group => {
      const name = group.map(line => line.name).join(', ');
      return new Side(name, group, networks, universeCount);
    });
}

function canHear({ listener, hearsUnicast, streams }: Line): boolean {
  return hearsUnicast || (listener !== undefined && streams.some(({ plan }) => isMulticast(plan)));
}
