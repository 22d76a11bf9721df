import { repeatTransmission } from '../../protocols/transmission.js';
import { isMulticast } from '../../show/destinations.js';
import type { Line } from './line.js';
import type { Partner } from './partner.js';

/**
 * The interfaces on which this machine of a pair plays one part. A cable that is out on one lighting network is no
 * reason to give way on another.
 */
export class Side {
  constructor(
    /** Names of its interfaces; '' where it is all of them. */
    readonly name: string,
    private readonly lines: readonly Line[],
    /** The other machine, as heard here. */
    readonly partner: Partner,
  ) {
    for (const line of lines) line.heard.partner = partner;
  }

  /** Whether another machine could be heard: by multicast, or where both are among the receivers. */
  get canHear(): boolean {
    return this.lines.some(canHear);
  }

  /** Whether another machine's Art-Net could be heard: we are among the receivers ourselves. */
  get hearsArtnet(): boolean {
    return this.lines.some(
      ({ hearsUnicast, streams }) =>
        hearsUnicast && streams.some(({ plan }) => plan.protocol === 'artnet'),
    );
  }

  /** Whether every universe is listened to all the time. */
  set hearsAlways(always: boolean) {
    for (const { listener } of this.lines) listener?.listenAlways(always);
  }

  /** Art-Net has no priorities: the machine of a pair that is not wanted sends nothing. */
  get holdsArtnet(): boolean {
    return this.lines.some(line => line.holdsArtnet);
  }

  set holdsArtnet(holds: boolean) {
    for (const line of this.lines) line.holdsArtnet = holds;
  }

  /** What left last by Art-Net is what receivers have: light begins there again. */
  set staysOnArtnet(stays: boolean) {
    for (const line of this.lines) line.staysOnArtnet = stays;
  }

  /** Sends sACN with the show's priorities plus this; whole, and within 0 to 200 by the check of the show. */
  shiftPriority(by: number): void {
    for (const { streams } of this.lines) {
      for (const { plan, setPriority, transmission } of streams) {
        if (plan.protocol !== 'sacn') continue;
        setPriority?.(Math.max(0, plan.priority + by));
        repeatTransmission(transmission);
      }
    }
  }

  /** For how long nothing has left by one of its interfaces, seconds; what stood still has sent nothing either. */
  silentForS(nowS: number): number {
    let longest = 0;
    for (const { leftS } of this.lines) longest = Math.max(longest, nowS - leftS);
    return longest;
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
  partner: () => Partner,
): readonly Side[] {
  // Who is deaf on one network goes by what is heard on the others. On the loopback there is nobody else.
  const near = lines.filter(({ isLoopback }) => !isLoopback);
  const own = lines.filter(({ isLoopback }) => isLoopback);
  const one = near.length === 0 || near.some(line => !canHear(line));
  const groups = one
    ? [lines]
    : near.map((line, i) => (standby && i === 0 ? [line, ...own] : [line]));
  if (!one && !standby) groups.push(own);
  return groups
    .filter(group => group.length > 0)
    .map(group => {
      const name = one ? '' : group.map(line => line.name).join(', ');
      return new Side(name, group, partner());
    });
}

function canHear({ listener, hearsUnicast, streams }: Line): boolean {
  return hearsUnicast || (listener !== undefined && streams.some(({ plan }) => isMulticast(plan)));
}
