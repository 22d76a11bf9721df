import { createSocket, type Socket } from 'node:dgram';
import type { EngineEvent } from '../engine/events.js';
import { encodePacket } from '../protocols/osc/encode.js';
import type { OscArgument } from '../protocols/osc/library.js';
import type { ReceiverPlan } from '../show/model.js';
import { messageOf } from '../stage/message-of.js';
import { findInterface, type InterfaceFinder } from './lighting/interfaces.js';

type Action = Extract<EngineEvent, { kind: 'action' }>;

/** A socket at one address of this machine, and the receivers to whom something is on its way. */
interface Line {
  readonly socket: Socket;
  readonly waiting: Set<string>;
}

/** Sends the messages of actions. Nothing waits for it, and nothing fails for it. */
export class ActionSender {
  readonly #lines = new Map<string, Line>();
  /** By receiver, what keeps it from being told. */
  readonly #faults = new Map<string, string>();

  /** @param onFault told when a receiver can't be sent to, and (undefined) when it can again */
  constructor(
    private readonly onFault: (receiver: string, fault: string | undefined) => void,
    private readonly find: InterfaceFinder = findInterface,
  ) {}

  /**
   * @param leads a standby sees the same, and says nothing until it stands in
   * @returns whether it was this machine's to send
   */
  send(
    { receiver: name, address, args }: Action,
    receivers: readonly ReceiverPlan[],
    leads: boolean,
  ): boolean {
    const receiver = receivers.find(one => one.name === name);
    if (!leads || receiver === undefined) return leads;
    const from = this.find(receiver.interface);
    if (from === undefined) {
      this.#tell(name, `this machine has no interface ${receiver.interface}`);
      return true;
    }
    const datagram = encodePacket({ address, args: args.map(argumentOf) });
    const { socket, waiting } = this.#lineAt(from.address);
    waiting.add(name);
    socket.send(datagram, receiver.port, receiver.address, error => {
      waiting.delete(name);
      this.#tell(name, error === null ? undefined : messageOf(error));
      if (error !== null) this.#drop(from.address, socket);
    });
    return true;
  }

  end(): void {
    for (const [address, { socket }] of this.#lines) this.#drop(address, socket);
  }

  #lineAt(address: string): Line {
    const there = this.#lines.get(address);
    if (there !== undefined) return there;
    const socket = createSocket('udp4');
    const waiting = new Set<string>();
    // A send that fails says so itself; one that waits for an address that is gone is never called back.
    socket.on('error', error => {
      for (const name of waiting) this.#tell(name, messageOf(error));
      this.#drop(address, socket);
    });
    socket.bind({ address, exclusive: true });
    socket.unref();
    const line = { socket, waiting };
    this.#lines.set(address, line);
    return line;
  }

  #drop(address: string, socket: Socket): void {
    if (this.#lines.get(address)?.socket !== socket) return;
    this.#lines.delete(address);
    socket.close();
  }

  #tell(receiver: string, fault: string | undefined): void {
    if (this.#faults.get(receiver) === fault) return;
    if (fault === undefined) this.#faults.delete(receiver);
    else this.#faults.set(receiver, fault);
    this.onFault(receiver, fault);
  }
}

/** Whole numbers as int32, others as float32 (OSC 1.0). */
function argumentOf(value: number | string | boolean): OscArgument {
  if (value === true) return { type: 'T', value };
  if (value === false) return { type: 'F', value };
  if (typeof value === 'string') return { type: 's', value };
  return { type: Number.isInteger(value) ? 'i' : 'f', value };
}
