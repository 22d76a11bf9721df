import { createAddressPriorityPacket } from '../../protocols/sacn/address-priority.js';
import type { SacnUniverseOptions } from '../../protocols/sacn/options.js';
import { SACN_PORT } from '../../protocols/sacn/options.js';
import {
  createTransmission,
  decideTransmission,
  type Transmission,
  type TransmissionOptions,
} from '../../protocols/transmission.js';
import { SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { Errand } from './delivery.js';
import type { LightingSocket } from './lighting-socket.js';

/** The levels of the same universe. */
interface Levels {
  readonly destinations: readonly string[];
  readonly buffer: Uint8Array;
  /** Where in it the number of the packet is. */
  readonly sequenceAt: number;
  readonly transmission: Pick<Transmission, 'terminationsLeft'>;
  advanceSequence(): void;
}

/** Says of one universe which slots are ours, before its levels and then as levels that don't change. */
export class AddressPriorities {
  readonly #wanted = new Uint8Array(SLOTS_PER_UNIVERSE);
  readonly #packet;
  readonly #transmission = createTransmission();
  readonly #errand = new Errand({ errand: 'Per-address priority' });
  #priority: number;

  constructor(
    options: SacnUniverseOptions,
    private readonly ours: readonly (readonly [first: number, count: number])[],
  ) {
    this.#packet = createAddressPriorityPacket(options);
    this.#priority = options.priority;
    this.#fill();
  }

  /** After an outage it is new to those who listen. */
  beginAnew(): void {
    Object.assign(this.#transmission, createTransmission());
  }

  /** Of a machine of a pair it changes with who leads. */
  setPriority(priority: number): void {
    if (priority === this.#priority) return;
    this.#priority = priority;
    this.#packet.setPriority(priority);
    this.#fill();
  }

  /** On each beat, before the levels. One count for all packets of a universe. */
  send(levels: Levels, socket: LightingSocket, pacing: TransmissionOptions, nowS: number): void {
    if (levels.transmission.terminationsLeft !== undefined) return;
    const { buffer, slots } = this.#packet;
    if (decideTransmission(this.#transmission, pacing, this.#wanted, slots, nowS) === 'hold')
      return;
    levels.advanceSequence();
    this.#packet.setSequence(levels.buffer[levels.sequenceAt] ?? 0);
    for (const to of levels.destinations) socket.send(buffer, SACN_PORT, to, this.#errand);
  }

  #fill(): void {
    this.#wanted.fill(0);
    for (const [first, count] of this.ours) this.#wanted.fill(this.#priority, first, first + count);
  }
}
