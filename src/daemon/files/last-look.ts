import {
  closeSync,
  constants,
  fstatSync,
  openSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs';
import { join } from 'node:path';
import { SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { inPlainWords } from './read-file.js';

/**
 * What was sent last, in a file in memory: a supervisor that is killed and started again begins there, and
 * fades to the safe look instead of jumping to it; and its streams go on, with the same identity and the next
 * number. Only for a folder that is no disk (systemd's RuntimeDirectory is none): to write to a disk may take
 * as long as it likes.
 */
const FIELD = {
  format: 0,
  /** Of streams. */
  count: 2,
  cid: 4,
  /** f64, monotonic seconds: of this boot of the machine. */
  at: 20,
  /** f64: for how long the light had been on its way to the safe look, seconds; 0 where it was not. */
  losingFor: 28,
  /** u32: how many levels. */
  levelCount: 36,
  /** u32: bytes of the layout, which follows the levels. */
  layoutLength: 40,
  /** u32: how many levels of the desk lay under those, which follow levels of streams; 0: none. */
  groundCount: 44,
  streams: 48,
} as const;
/** What the levels and streams are of, as JSON: universes of the show in the order of their levels, and routes. */
interface Layout {
  readonly universes: readonly number[];
  readonly routes: readonly Route[];
}
/** Addresses of each stream as JSON: of the interface, and of who it is sent to. */
type Route = readonly [address: string, ...to: string[]];
/** Of each stream: protocol, number of the packet that was sent last, u16 the universe on the wire, and one of {@link OWN}. */
const STREAM = { protocol: 0, sequence: 1, onWire: 2, own: 4, end: 5 } as const;
/**
 * Whether levels of its own follow those of the show, for a universe that several outputs send: one of them may have
 * been cut off while the others went on.
 */
const OWN = { none: 0, alike: 1, apart: 2, out: 3 } as const;
const PROTOCOLS = ['sacn', 'artnet'] as const;
/** The second of two machines has an identity of its own. */
const FORMAT = { main: 6, standby: 0x106 } as const;
const FILE = 'last-look';
const BESIDE = 'last-look.new';
/**
 * What hangs is killed after WatchdogSec (2 s) and has to start again, so the gap can be longer than the 2.5 s after
 * which E1.31 receivers let a source go (6.7.1). Many hold the last look then (10.2.2), Art-Net nodes mostly do:
 * a fade from it is no jump where it is held, and no worse than one where it is not.
 */
const TOO_OLD_S = 10;
const CID_BYTES = 16;

/** A stream as far as it matters here; a view that changes as packets leave. */
export interface CountedStream {
  readonly protocol: 'sacn' | 'artnet';
  readonly onWire: number;
  readonly sequence: number;
  /** Of the interface that it leaves by. */
  readonly address: string;
  readonly to: readonly string[];
  /** See `SentStream`. */
  readonly left?: Uint8Array | undefined;
  readonly isApart?: boolean | undefined;
  readonly isOut?: boolean | undefined;
  readonly hasToReturn?: boolean | undefined;
}

export interface LookKey {
  readonly standby: boolean;
}

export interface LookOptions extends LookKey {
  readonly cid: Uint8Array;
  /** Of the show, in the order of their levels. */
  readonly universes: readonly number[];
  readonly streams: readonly CountedStream[];
  /** Something of a desk lies under them. */
  readonly hasGround?: boolean | undefined;
}

/** What a supervisor that has just died has left. */
export interface FoundLook {
  readonly cid: Uint8Array;
  readonly streams: readonly CountedStream[];
  /** Of the show that was running; an edit of its file since then does not change what lamps show. */
  readonly universes: readonly number[];
  readonly levels: Uint8Array;
  /** Of the desk, as they were used; undefined: nothing lay under them. */
  readonly groundLevels: Uint8Array | undefined;
  readonly losingForS: number;
  /** Monotonic seconds: nothing has been sent since. */
  readonly writtenS: number;
}

export type LookOpened =
  | { readonly ok: true; readonly look: LastLook }
  | { readonly ok: false; readonly reason: string };

export class LastLook {
  readonly #buffer: Buffer;
  readonly #streams: readonly CountedStream[];
  readonly #levelsAt: number;
  readonly #ownAt: number;
  readonly #groundAt: number;
  readonly #layoutAt: number;
  #file: number | undefined;
  /** Until something has been written it lies beside the previous file, which still says what was last sent. */
  #isBeside = true;
  #fault: string | undefined;

  private constructor(
    file: number,
    private readonly folder: string,
    options: LookOptions,
  ) {
    const { universes, cid, streams, standby } = options;
    this.#file = file;
    this.#streams = streams;
    this.#levelsAt = FIELD.streams + streams.length * STREAM.end;
    const routes = streams.map(({ address, to }): Route => [address, ...to]);
    const layout = Buffer.from(JSON.stringify({ universes, routes } satisfies Layout));
    const levelCount = universes.length * SLOTS_PER_UNIVERSE;
    this.#ownAt = this.#levelsAt + levelCount;
    const shared = streams.filter(({ isApart }) => isApart !== undefined);
    this.#groundAt = this.#ownAt + shared.length * SLOTS_PER_UNIVERSE;
    const groundCount = options.hasGround === true ? levelCount : 0;
    this.#layoutAt = this.#groundAt + groundCount;
    const buffer = Buffer.alloc(this.#layoutAt + layout.length);
    layout.copy(buffer, this.#layoutAt);
    buffer.writeUInt32LE(levelCount, FIELD.levelCount);
    buffer.writeUInt32LE(groundCount, FIELD.groundCount);
    buffer.writeUInt32LE(layout.length, FIELD.layoutLength);
    buffer.writeUInt16LE(standby ? FORMAT.standby : FORMAT.main, FIELD.format);
    buffer.writeUInt16LE(streams.length, FIELD.count);
    buffer.set(cid.subarray(0, CID_BYTES), FIELD.cid);
    streams.forEach(({ protocol, onWire }, i) => {
      const at = FIELD.streams + i * STREAM.end;
      buffer[at + STREAM.protocol] = PROTOCOLS.indexOf(protocol);
      buffer.writeUInt16LE(onWire, at + STREAM.onWire);
    });
    this.#buffer = buffer;
  }

  static fileIn(folder: string): string {
    return join(folder, FILE);
  }

  /** If it can't be opened, why: it is worth having, but not a reason not to run. */
  static open(folder: string, options: LookOptions): LookOpened {
    try {
      const { O_WRONLY, O_CREAT, O_EXCL } = constants;
      const beside = join(folder, BESIDE);
      // Whatever lies there, a FIFO too: it is not opened.
      rmSync(beside, { force: true });
      const file = openSync(beside, O_WRONLY | O_CREAT | O_EXCL, 0o600);
      return { ok: true, look: new LastLook(file, folder, options) };
    } catch (error) {
      return { ok: false, reason: inPlainWords(error, 'written') };
    }
  }

  /** Why the last write failed; undefined where it did not. */
  get fault(): string | undefined {
    return this.#fault;
  }

  /** Whether there is something in it yet. */
  get isWritten(): boolean {
    return !this.#isBeside;
  }

  /** Whether a successor would find it: a folder that has gone takes it along, open or not. */
  get isInPlace(): boolean {
    if (this.#file === undefined) return false;
    try {
      const open = fstatSync(this.#file);
      const there = statSync(join(this.folder, this.#isBeside ? BESIDE : FILE));
      return open.ino === there.ino && open.dev === there.dev;
    } catch {
      return false;
    }
  }

  /** What was sent by a daemon that has just died; read before it is opened anew. */
  static read(folder: string, { standby }: LookKey, nowS: number): FoundLook | undefined {
    const bytes = contentOf(join(folder, FILE));
    if (bytes === undefined || bytes.length < FIELD.streams) return undefined;
    const format = standby ? FORMAT.standby : FORMAT.main;
    if (bytes.readUInt16LE(FIELD.format) !== format) return undefined;
    const writtenS = bytes.readDoubleLE(FIELD.at);
    const ageS = nowS - writtenS;
    if (!(ageS >= 0 && ageS <= TOO_OLD_S)) return undefined;
    const count = bytes.readUInt16LE(FIELD.count);
    const levelsAt = FIELD.streams + count * STREAM.end;
    const ownAt = levelsAt + bytes.readUInt32LE(FIELD.levelCount);
    if (bytes.length < ownAt) return undefined;
    const owners = ownersOf(bytes, count);
    const groundAt = ownAt + owners.length * SLOTS_PER_UNIVERSE;
    const layoutAt = groundAt + bytes.readUInt32LE(FIELD.groundCount);
    const end = layoutAt + bytes.readUInt32LE(FIELD.layoutLength);
    if (bytes.length !== end) return undefined;
    const layout = layoutOf(bytes.toString('utf8', layoutAt), count, ownAt - levelsAt);
    if (layout === undefined) return undefined;
    const { universes, routes } = layout;
    const losingForS = bytes.readDoubleLE(FIELD.losingFor);
    return {
      cid: Uint8Array.from(bytes.subarray(FIELD.cid, FIELD.at)),
      streams: Array.from({ length: count }, (_, i) => {
        const stream = streamAt(bytes, i, routes[i] as Route);
        const own = ownOf(bytes, i);
        if (own === OWN.none || own === OWN.alike) return stream;
        const at = ownAt + owners.indexOf(i) * SLOTS_PER_UNIVERSE;
        const left = Uint8Array.from(bytes.subarray(at, at + SLOTS_PER_UNIVERSE));
        // Nothing has left by it since, however short a time it had been out.
        return { ...stream, left, hasToReturn: own === OWN.out };
      }),
      universes,
      levels: Uint8Array.from(bytes.subarray(levelsAt, ownAt)),
      groundLevels:
        layoutAt - groundAt === ownAt - levelsAt && layoutAt > groundAt
          ? Uint8Array.from(bytes.subarray(groundAt, layoutAt))
          : undefined,
      // It was on its way all the while.
      losingForS: losingForS > 0 ? losingForS + ageS : 0,
      writtenS,
    };
  }

  /** Some microseconds: the file is in memory. @param losingForS, ground see `FoundLook` */
  write(levels: Uint8Array, nowS: number, losingForS: number, ground?: Uint8Array): void {
    if (this.#file === undefined) return;
    const buffer = this.#buffer;
    buffer.writeDoubleLE(nowS, FIELD.at);
    buffer.writeDoubleLE(losingForS, FIELD.losingFor);
    let ownAt = this.#ownAt;
    for (let i = 0; i < this.#streams.length; i++) {
      const stream = this.#streams[i] as CountedStream;
      const at = FIELD.streams + i * STREAM.end;
      buffer[at + STREAM.sequence] = stream.sequence;
      if (stream.isApart === undefined) continue;
      const left = stream.isApart ? stream.left : undefined;
      if (left !== undefined) buffer.set(left, ownAt);
      const apart = stream.isOut === true ? OWN.out : OWN.apart;
      buffer[at + STREAM.own] = left === undefined ? OWN.alike : apart;
      ownAt += SLOTS_PER_UNIVERSE;
    }
    buffer.set(levels, this.#levelsAt);
    if (ground !== undefined && this.#layoutAt > this.#groundAt) buffer.set(ground, this.#groundAt);
    try {
      writeSync(this.#file, buffer, 0, buffer.length, 0);
      if (this.#isBeside) renameSync(join(this.folder, BESIDE), join(this.folder, FILE));
      this.#isBeside = false;
    } catch (error) {
      this.#fault = inPlainWords(error, 'written');
      this.close();
    }
  }

  /** A clean end leaves nothing to go on from. */
  end(): void {
    this.#buffer.fill(0);
    const none = new Uint8Array(this.#ownAt - this.#levelsAt);
    this.write(none, Number.NEGATIVE_INFINITY, 0);
    this.close();
  }

  close(): void {
    if (this.#file !== undefined) closeSync(this.#file);
    this.#file = undefined;
  }
}

/** undefined: it is damaged. */
function layoutOf(text: string, streams: number, levels: number): Layout | undefined {
  try {
    const { universes, routes } = JSON.parse(text) as Partial<Record<keyof Layout, unknown>>;
    const isWhole =
      Array.isArray(universes) &&
      universes.length * SLOTS_PER_UNIVERSE === levels &&
      universes.every(Number.isInteger) &&
      Array.isArray(routes) &&
      routes.length === streams &&
      routes.every(isRoute);
    return isWhole ? { universes, routes } : undefined;
  } catch {
    return undefined;
  }
}

function isRoute(value: unknown): value is Route {
  return Array.isArray(value) && value.length > 0 && value.every(one => typeof one === 'string');
}

function ownOf(bytes: Buffer, index: number): number {
  return bytes[FIELD.streams + index * STREAM.end + STREAM.own] ?? OWN.none;
}

/** Indices of the streams that have levels of their own, in the order of these. */
function ownersOf(bytes: Buffer, count: number): number[] {
  return Array.from({ length: count }, (_, i) => i).filter(i => ownOf(bytes, i) !== OWN.none);
}

function streamAt(bytes: Buffer, index: number, [address, ...to]: Route): CountedStream {
  const at = FIELD.streams + index * STREAM.end;
  return {
    protocol: PROTOCOLS[bytes[at + STREAM.protocol] ?? 0] ?? 'sacn',
    sequence: bytes[at + STREAM.sequence] ?? 0,
    onWire: bytes.readUInt16LE(at + STREAM.onWire),
    address,
    to,
  };
}

/** Of a plain file: a FIFO in its place would hold the start. */
function contentOf(path: string): Buffer | undefined {
  let file: number | undefined;
  try {
    file = openSync(path, constants.O_RDONLY | constants.O_NONBLOCK);
    return fstatSync(file).isFile() ? readFileSync(file) : undefined;
  } catch {
    return undefined;
  } finally {
    if (file !== undefined) closeSync(file);
  }
}
