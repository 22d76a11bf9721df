import { createHash } from 'node:crypto';
import { closeSync, openSync, readFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';

/**
 * What was sent last, in a file in memory: a supervisor that is killed and started again begins there, and
 * fades to the safe look instead of jumping to it. Only for a folder that is no disk (systemd's
 * RuntimeDirectory is none): to write to a disk may take as long as it likes.
 */
const FIELD = {
  /** 16 bytes: which show, so that levels mean the same. */
  show: 0,
  /** f64, monotonic seconds: of this boot of the machine. */
  at: 16,
  levels: 24,
} as const;
const FILE = 'last-look';
/** E1.31 6.7.1: after so long receivers have let the source go, and what they show is not known. */
const TOO_OLD_S = 2.5;

export class LastLook {
  readonly #buffer: Buffer;
  #file: number | undefined;

  private constructor(file: number, showText: string, levelCount: number) {
    this.#file = file;
    this.#buffer = Buffer.alloc(FIELD.levels + levelCount);
    showOf(showText).copy(this.#buffer, FIELD.show);
  }

  /** undefined where it can't be opened: it is worth having, and no reason not to run. */
  static open(folder: string, showText: string, levelCount: number): LastLook | undefined {
    try {
      return new LastLook(openSync(join(folder, FILE), 'w', 0o600), showText, levelCount);
    } catch {
      return undefined;
    }
  }

  /** What was sent by a daemon that has just died on the same show; read before it is opened anew. */
  static read(
    folder: string,
    showText: string,
    levelCount: number,
    nowS: number,
  ): Uint8Array | undefined {
    let bytes: Buffer;
    try {
      bytes = readFileSync(join(folder, FILE));
    } catch {
      return undefined;
    }
    if (bytes.length !== FIELD.levels + levelCount) return undefined;
    if (!bytes.subarray(FIELD.show, FIELD.at).equals(showOf(showText))) return undefined;
    const ageS = nowS - bytes.readDoubleLE(FIELD.at);
    if (!(ageS >= 0 && ageS <= TOO_OLD_S)) return undefined;
    return Uint8Array.from(bytes.subarray(FIELD.levels));
  }

  /** Some microseconds: the file is in memory. */
  write(levels: Uint8Array, nowS: number): void {
    if (this.#file === undefined) return;
    this.#buffer.writeDoubleLE(nowS, FIELD.at);
    this.#buffer.set(levels, FIELD.levels);
    try {
      writeSync(this.#file, this.#buffer, 0, this.#buffer.length, 0);
    } catch {
      this.close();
    }
  }

  /** A clean end leaves nothing to go on from. */
  end(): void {
    this.#buffer.fill(0);
    this.write(new Uint8Array(this.#buffer.length - FIELD.levels), Number.NEGATIVE_INFINITY);
    this.close();
  }

  close(): void {
    if (this.#file !== undefined) closeSync(this.#file);
    this.#file = undefined;
  }
}

function showOf(text: string): Buffer {
  return createHash('sha256').update(text).digest().subarray(0, FIELD.at);
}
