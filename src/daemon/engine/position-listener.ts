import {
  type HeardBeside,
  type HeardPosition,
  PositionReader,
} from '../../calibration/position-reader.js';
import type { InputPlan } from '../../show/model/model.js';
import { Inbox } from './inbox.js';
import { InputSocket } from './input-socket.js';

/** Listens to an input of a show without running it. */
export class PositionListener {
  readonly #inbox = new Inbox();
  readonly #input: InputSocket;
  readonly #reader: PositionReader;
  #refused = 0;
  /** Datagrams that came. */
  datagrams = 0;

  /** @param came gets each datagram whole, before its positions */
  constructor(
    plan: InputPlan,
    heard: (position: HeardPosition) => void,
    came: (bytes: Buffer, arrivalS: number) => void = () => undefined,
    beside?: HeardBeside,
  ) {
    this.#reader = new PositionReader(plan, heard, beside);
    this.#input = new InputSocket(0, plan, this.#inbox, {
      arrived: () => {
        for (const { bytes, arrivalS } of this.#inbox.take()) {
          this.datagrams += 1;
          came(bytes, arrivalS);
          this.#reader.read(bytes, arrivalS);
        }
      },
      refused: () => {
        this.#refused += 1;
      },
      fault: () => undefined,
      back: () => undefined,
    });
  }

  /** Messages that were no position as the input reads them, and datagrams of senders not allowed. */
  get rejected(): number {
    return this.#refused + this.#reader.rejected;
  }

  /** @returns why it could not be opened, in plain words, or undefined */
  open(): Promise<string | undefined> {
    return this.#input.open();
  }

  close(): void {
    this.#input.close();
  }
}
