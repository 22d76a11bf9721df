import { decodeDatagram, type OscVisitor } from '../protocols/osc/decode.js';
import type { OscArgument } from '../protocols/osc/library.js';
import { compileRoutes, rawPosition, readPosition } from '../protocols/osc/route.js';
import type { InputPlan } from '../show/model.js';

/** A position in the frame of the tracking system: metres, axes as the route declares them. */
export interface HeardPosition {
  readonly tracker: string;
  /** When it arrived, monotonic. */
  readonly timeS: number;
  readonly x: number;
  readonly y: number;
  readonly z: number;
  /** 0 to 1; undefined where the feed gives none. */
  readonly quality: number | undefined;
  /** Charge left, 0 to 1; undefined where the feed gives none. */
  readonly battery?: number | undefined;
  /** What was given for it, where that is out of range. */
  readonly batteryOutside?: number | undefined;
}

const MAX_BUNDLE_DEPTH = 8;

/** Reads the datagrams of one input by its routes; for calibration, so without the frame of the show. */
export class PositionReader {
  /** Messages that were no position, and datagrams that were no OSC. */
  rejected = 0;
  #timeS = 0;
  readonly #read: (bytes: Buffer) => void;

  constructor(plan: InputPlan, heard: (position: HeardPosition) => void) {
    const compiled = compileRoutes(plan.routes);
    if (!compiled.ok) throw new Error('a show was listened to that has not been checked');
    const { table } = compiled;
    const raw = rawPosition();
    const visitor: OscVisitor = {
      rejected: () => {
        this.rejected += 1;
      },
      message: (address: string, args: readonly OscArgument[]) => {
        if (readPosition(table, address, args, raw) !== undefined) {
          this.rejected += 1;
          return;
        }
        const { tracker, x, y, z, quality, battery, batteryOutside } = raw;
        heard({ tracker, timeS: this.#timeS, x, y, z, quality, battery, batteryOutside });
      },
    };
    const limits = { maxDatagramBytes: plan.maxDatagramBytes, maxBundleDepth: MAX_BUNDLE_DEPTH };
    this.#read = bytes => decodeDatagram(bytes, limits, visitor);
  }

  read(bytes: Buffer, arrivalS: number): void {
    this.#timeS = arrivalS;
    this.#read(bytes);
  }
}
