import { decodeDatagram, type OscVisitor } from '../protocols/osc/decode.js';
import type { OscArgument } from '../protocols/osc/library.js';
import { type PositionTaker, readPositions } from '../protocols/osc/read-positions.js';
import { compileRoutes } from '../protocols/osc/route.js';
import { decodePsn, type PsnVisitor } from '../protocols/psn/decode.js';
import { compilePsnFeed, readPsnPosition } from '../protocols/psn/position.js';
import { type RawPosition, rawPosition } from '../protocols/raw-position.js';
import type { InputPlan, PsnInputPlan } from '../show/model/model.js';

/** A position in the frame of the tracking system: metres, axes as the route declares them. */
export interface HeardPosition {
  readonly tracker: string;
  /** When it arrived, monotonic seconds. */
  readonly timeS: number;
  readonly x: number;
  readonly y: number;
  readonly z: number;
  /** 0 to 1; undefined if the feed gives none. */
  readonly quality: number | undefined;
  /** Charge left, 0 to 1; undefined if the feed gives none. */
  readonly battery?: number | undefined;
  /** The value that the feed gave for the charge, if it is out of range. */
  readonly batteryOutside?: number | undefined;
  /** The report says when it was measured. */
  readonly isStamped?: boolean;
}

/** Takes what comes beside positions: the names of a tracking system and its trackers, and numbers of the show. */
export interface HeardBeside {
  system(name: string): void;
  tracker(tracker: string, name: string): void;
  /** Arrives at `timeS`, monotonic. @returns whether the show takes a number from this address */
  number(address: string, args: readonly OscArgument[], timeS: number): boolean;
}

const MAX_BUNDLE_DEPTH = 8;

/** Reads the datagrams of one input. Positions stay in the frame of the feed: calibration is what finds the other. */
export class PositionReader {
  /** How many messages were no position, and how many datagrams were of another protocol. */
  rejected = 0;
  #timeS = 0;
  readonly #read: (bytes: Buffer) => void;

  constructor(
    plan: InputPlan,
    private readonly heard: (position: HeardPosition) => void,
    beside?: HeardBeside,
  ) {
    this.#read =
      plan.psn === undefined ? this.#osc(plan, beside) : this.#psn(plan, plan.psn, beside);
  }

  read(bytes: Buffer, arrivalS: number): void {
    this.#timeS = arrivalS;
    this.#read(bytes);
  }

  #osc(plan: InputPlan, beside: HeardBeside | undefined): (bytes: Buffer) => void {
    const compiled = compileRoutes(plan.routes);
    if (!compiled.ok) throw new Error('a show was listened to that has not been checked');
    const { table } = compiled;
    const raw = rawPosition();
    const taker: PositionTaker & Pick<OscVisitor, 'rejected'> = {
      rejected: () => {
        this.rejected += 1;
      },
      position: position => this.#hear(position),
    };
    const visitor: OscVisitor = {
      rejected: taker.rejected,
      message: (address: string, args: readonly OscArgument[]) => {
        if (beside?.number(address, args, this.#timeS) === true) return;
        readPositions(table, address, args, this.#timeS, raw, taker);
      },
    };
    const limits = { maxDatagramBytes: plan.maxDatagramBytes, maxBundleDepth: MAX_BUNDLE_DEPTH };
    return bytes => decodeDatagram(bytes, limits, visitor);
  }

  #psn(
    plan: InputPlan,
    psn: PsnInputPlan,
    beside: HeardBeside | undefined,
  ): (bytes: Buffer) => void {
    const feed = compilePsnFeed(psn);
    const raw = rawPosition();
    const visitor: PsnVisitor = {
      rejected: () => {
        this.rejected += 1;
      },
      tracker: tracker => {
        if (readPsnPosition(feed, tracker, raw) === undefined) this.#hear(raw);
        else this.rejected += 1;
      },
      ...(beside && {
        systemName: name => beside.system(name),
        trackerName: (id, name) => beside.tracker(String(id), name),
      }),
    };
    return bytes => decodePsn(bytes, visitor, plan.maxDatagramBytes);
  }

  #hear({
    tracker,
    x,
    y,
    z,
    quality,
    battery,
    batteryOutside,
    stampS,
  }: Readonly<RawPosition>): void {
    const isStamped = stampS !== undefined;
    const timeS = this.#timeS;
    this.heard({ tracker, timeS, x, y, z, quality, battery, batteryOutside, isStamped });
  }
}
