import { decodeDatagram, type OscVisitor } from '../protocols/osc/decode.js';
import type { OscArgument } from '../protocols/osc/library.js';
import { compileRoutes, type RawPosition, readPosition } from '../protocols/osc/route.js';
import type { InputPlan } from '../show/model.js';
import { Inbox } from './inbox.js';
import { OscInput } from './osc-input.js';

/** A position in the frame of the tracking system: metres, axes as the route declares them. */
export interface HeardPosition {
  readonly tracker: string;
  /** Monotonic. */
  readonly timeS: number;
  readonly x: number;
  readonly y: number;
  readonly z: number;
  /** 0 to 1; undefined where the feed gives none. */
  readonly quality: number | undefined;
}

const MAX_BUNDLE_DEPTH = 8;

/** Listens to an input of a show without running it, for calibration. */
export class PositionListener {
  readonly #inbox = new Inbox();
  readonly #input: OscInput;
  /** Datagrams that came, and messages that were no position by the routes of the input. */
  datagrams = 0;
  rejected = 0;

  constructor(plan: InputPlan, heard: (position: HeardPosition) => void) {
    const compiled = compileRoutes(plan.routes);
    if (!compiled.ok) throw new Error('a show was listened to that has not been checked');
    const { table } = compiled;
    const raw: RawPosition = { tracker: '', x: 0, y: 0, z: 0, quality: undefined };
    let timeS = 0;
    const visitor: OscVisitor = {
      rejected: () => {
        this.rejected += 1;
      },
      message: (address: string, args: readonly OscArgument[]) => {
        if (readPosition(table, address, args, raw) !== undefined) {
          this.rejected += 1;
          return;
        }
        const { tracker, x, y, z, quality } = raw;
        heard({ tracker, timeS, x, y, z, quality });
      },
    };
    const limits = { maxDatagramBytes: plan.maxDatagramBytes, maxBundleDepth: MAX_BUNDLE_DEPTH };
    this.#input = new OscInput(0, plan, this.#inbox, {
      arrived: () => {
        for (const { bytes, arrivalS } of this.#inbox.take()) {
          this.datagrams += 1;
          timeS = arrivalS;
          decodeDatagram(bytes, limits, visitor);
        }
      },
      refused: () => {
        this.rejected += 1;
      },
      fault: () => undefined,
      back: () => undefined,
    });
  }

  /** @returns why it could not be opened, in plain words, or undefined */
  open(): Promise<string | undefined> {
    return this.#input.open();
  }

  close(): void {
    this.#input.close();
  }
}
