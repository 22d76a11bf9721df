import { createSocket, type Socket } from 'node:dgram';
import { encodePacket } from '../../protocols/osc/encode.js';
import type { OscArgument } from '../../protocols/osc/library.js';
import {
  MAIN,
  type MachineState,
  ORDER_ADDRESSES,
  performersToArgs,
  type Teller,
  type ToldPerformer,
} from '../../protocols/osc/orders.js';
import type { Show } from '../../show/model/model.js';

const EVERY_MS = 1000;
/** Address, type tags, who tells, and whether everybody is stopped: 24 + 4 + 8 + 4, and up to 4 to fill the tags up. */
const HEAD_BYTES = 44;
/** Beside the name: up to 4 to end it, three type tags, whether stopped (4), where ("leaving": 8). */
const EACH_BYTES = 19;

interface Receiver {
  readonly port: number;
  readonly host: string;
  /** It takes no longer datagram. */
  readonly mostBytes: number;
}

/** Which machine of two takes the orders. */
type Where = 'main' | 'standby';

/** What is to be told to the other machine. */
export interface Repeated {
  readonly show: Show;
  /** `main`: it hears who is stopped or off stage; nothing else. */
  readonly to: Where;
  /** The stop of everybody holds. */
  readonly everybodyStopped: boolean;
  readonly performers: readonly ToldPerformer[];
  /** undefined: its light is not live, and the present state may not be what is wanted. */
  readonly live: RepeatedLive | undefined;
}

interface RepeatedLive {
  /** Index of the cue that is on. */
  readonly cue: number;
  /** By head, on whom it is by order. */
  readonly pins: Readonly<Record<string, string>>;
  /** By title, mappings that are off. */
  readonly mappingsOff: readonly string[];
}

/** Of this machine, for the other one. */
export interface Running extends Pick<Repeated, 'show' | 'to'> {
  readonly state: Exclude<MachineState, 'ends'>;
}

/**
 * Tells the standby machine once a second, at its operator's port, who is stopped or off stage, which cue is on, which
 * mappings are off, and which heads are pinned to whom: it may have missed an order, or have begun later. A standby that
 * has the light tells the main machine whom it has stopped itself, in case that runs behind a link that is out; and once
 * it comes back, who is stopped or off stage. A packet that is lost is followed by the next; nothing waits for an answer.
 */
export class OrderRepeater {
  readonly #timer: NodeJS.Timeout;
  #socket: Socket | undefined;
  #ends = false;

  /** @param now undefined: this machine has nothing to say, because another one leads, or its light is not live */
  constructor(
    private readonly now: () => Repeated | undefined,
    /** Said whichever machine leads; undefined: it is not said which show runs. */
    private readonly running?: () => Running,
  ) {
    this.#timer = setInterval(() => {
      this.#tellRunning();
      this.tell();
    }, EVERY_MS).unref();
  }

  close(): void {
    clearInterval(this.#timer);
    this.#socket?.close();
  }

  /** Besides once a second: what can't wait for that. */
  tell(): void {
    const said = this.now();
    if (said === undefined) return;
    for (const to of receiversOf(said)) {
      // Stops first: of all that is said here they are what the light must not miss.
      this.#tellPerformers(said, to);
      if (said.live !== undefined) this.#tellLive(said.show, said.live, to);
    }
  }

  /** This machine ends: the other one need not miss it. */
  end(): void {
    this.#ends = true;
    this.#tellRunning();
  }

  #tellRunning(): void {
    if (this.running === undefined) return;
    const running = this.running();
    const state = this.#ends ? 'ends' : running.state;
    const args = texts([tellerTo(running.to), running.show.digest, state]);
    for (const to of receiversOf(running)) this.#send(ORDER_ADDRESSES.show, args, to);
  }

  #tellLive({ cues, mappings }: Show, live: RepeatedLive, to: Receiver): void {
    const cue = cues[live.cue]?.name;
    if (cue !== undefined) this.#send(ORDER_ADDRESSES.cue, texts([cue, MAIN]), to);
    if (mappings.length > 0) {
      this.#send(ORDER_ADDRESSES.mappings, texts([MAIN, ...live.mappingsOff]), to);
    }
    if (!mappings.some(one => one.kind === 'follow' && one.choice !== undefined)) return;
    this.#send(ORDER_ADDRESSES.pins, texts([MAIN, ...Object.entries(live.pins).flat()]), to);
  }

  /** In as many datagrams as it takes: each is only about those it names. */
  #tellPerformers(said: Repeated, to: Receiver): void {
    const { everybodyStopped: everybody, performers: all } = said;
    const teller = tellerTo(said.to);
    let performers: ToldPerformer[] = [];
    let bytes = HEAD_BYTES;
    const tell = () => {
      this.#send(
        ORDER_ADDRESSES.performers,
        performersToArgs({ teller, everybody, performers }),
        to,
      );
    };
    for (const one of all) {
      const more = Buffer.byteLength(one.name) + EACH_BYTES;
      if (performers.length > 0 && bytes + more > to.mostBytes) {
        tell();
        performers = [];
        bytes = HEAD_BYTES;
      }
      performers.push(one);
      bytes += more;
    }
    tell();
  }

  #send(address: string, args: readonly OscArgument[], { port, host }: Receiver): void {
    this.#socket ??= this.#open();
    this.#socket.send(encodePacket({ address, args }), port, host, () => undefined);
  }

  #open(): Socket {
    const socket = createSocket('udp4');
    // The other machine, or its network, is gone: it is told again in a second.
    socket.on('error', () => undefined);
    return socket.unref();
  }
}

function receiversOf({ show, to }: Pick<Repeated, 'show' | 'to'>): Receiver[] {
  const { operator, inputs } = show;
  const input = inputs[operator?.input ?? -1];
  if (operator === undefined || input === undefined) return [];
  const { port, maxDatagramBytes: mostBytes } = input;
  return operator[to].map(({ address: host }) => ({ port, host, mostBytes }));
}

function tellerTo(to: Where): Teller {
  return to === 'standby' ? MAIN : 'standby';
}

function texts(words: readonly string[]): OscArgument[] {
  return words.map(value => ({ type: 's', value }));
}
