import { createSocket, type Socket } from 'node:dgram';
import { once } from 'node:events';
import type { PlayedReport } from '../../rehearsal/play.js';
import { reportDatagram } from '../../rehearsal/report-datagram.js';
import { isGroup } from '../../show/model/destinations.js';
import type { InputPlan } from '../../show/model/model.js';
import { messageOf } from '../../stage/message-of.js';
import { absenceOf, findInterface } from '../lighting/interfaces.js';
import { monotonicS } from '../machine/clock.js';
import { dropSocket } from '../machine/drop-socket.js';

export interface PlayerOptions {
  readonly address: string;
  readonly port: number;
  /** Address or name of the interface from which it is sent; undefined: the system decides. */
  readonly from: string | undefined;
  /** The input in whose form the reports are. */
  readonly input: InputPlan;
  readonly round: (index: number) => {
    readonly lengthS: number;
    readonly reports: readonly PlayedReport[];
  };
  readonly loops: boolean;
}

/** After a pause (the machine slept) it goes on from now, instead of sending all at once what is late. */
const LONGEST_PAUSE_S = 1;

/** Sends reports in real time, as a tracking system would. */
export class Player {
  sent = 0;
  failed = 0;
  /** Why reports could not be sent, the last time. */
  fault: string | undefined;
  #socket: Socket | undefined;
  #timer: NodeJS.Timeout | undefined;
  #ended: () => void = () => undefined;
  #beganS = 0;
  #frame = 0;
  #endedS: number | undefined;

  constructor(private readonly options: PlayerOptions) {}

  get elapsedS(): number {
    return (this.#endedS ?? monotonicS()) - this.#beganS;
  }

  /** @returns why it can't send, in plain words, or undefined */
  async open(): Promise<string | undefined> {
    const { from, address } = this.options;
    const where = from === undefined ? undefined : findInterface(from);
    if (from !== undefined && where === undefined) {
      return `${absenceOf(from)}.`;
    }
    const socket = createSocket('udp4');
    try {
      socket.bind(where === undefined ? {} : { address: where.address });
      await once(socket, 'listening');
      if (where !== undefined && isGroup(address)) socket.setMulticastInterface(where.address);
    } catch (error) {
      dropSocket(socket);
      return `it can't send from ${from}: ${messageOf(error)}.`;
    }
    socket.on('error', error => this.#fail(error));
    this.#socket = socket;
    return undefined;
  }

  /** Until the end, or `stop`. */
  play(): Promise<void> {
    this.#beganS = monotonicS();
    return new Promise(resolve => {
      this.#ended = resolve;
      this.#round(0, this.#beganS);
    });
  }

  stop(): void {
    clearTimeout(this.#timer);
    this.#endedS = monotonicS();
    // What was given to the system last leaves before it is closed.
    setImmediate(() => {
      if (this.#socket !== undefined) dropSocket(this.#socket);
      this.#socket = undefined;
      this.#ended();
    });
  }

  #round(index: number, startS: number): void {
    const { reports, lengthS } = this.options.round(index);
    let beganS = startS;
    let next = 0;
    const step = () => {
      const nowS = monotonicS();
      const dueS = (reports[next]?.atS ?? lengthS) + beganS;
      if (nowS - dueS > LONGEST_PAUSE_S) beganS += nowS - dueS;
      for (; next < reports.length; next++) {
        const report = reports[next] as PlayedReport;
        if (report.atS + beganS > nowS) break;
        this.#send(report);
      }
      const isOver = next >= reports.length && nowS >= beganS + lengthS;
      if (isOver && this.options.loops) {
        this.#round(index + 1, beganS + lengthS);
        return;
      }
      if (isOver) {
        this.stop();
        return;
      }
      const waitS = (reports[next]?.atS ?? lengthS) + beganS - monotonicS();
      this.#timer = setTimeout(step, Math.max(0, 1e3 * waitS));
    };
    step();
  }

  #send({ tracker, at, quality }: PlayedReport): void {
    const { input, port, address } = this.options;
    this.#frame = (this.#frame + 1) % 256;
    const form = { quality, coordinates: 'f', frame: this.#frame } as const;
    const datagram = reportDatagram(input, tracker, at, Date.now() / 1e3, form);
    if (datagram === undefined) return;
    this.#socket?.send(datagram, port, address, error => {
      if (error === null) this.sent += 1;
      else this.#fail(error);
    });
  }

  #fail(error: Error): void {
    this.failed += 1;
    this.fault = messageOf(error);
  }
}
