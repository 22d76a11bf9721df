import {
  closeSync,
  fstatSync,
  mkdirSync,
  openSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import module from 'node:module';
import { basename, dirname, join } from 'node:path';
import { Script } from 'node:vm';
import { crc32 } from 'node:zlib';

/** Checksums of the source and of the code: of the source V8 compares the length alone. */
const HEADER_BYTES = 8;
const WRITTEN_BY_OTHERS = 0o022;

export interface Loaded {
  readonly exports: unknown;
  /** Keeps the compiled code for the next process, if this one found none that fits. It takes tens of milliseconds, and never throws. */
  readonly keep: () => void;
}

/**
 * Loads a CommonJS file with the code that V8 made of it in an earlier process: with what that one ran compiled
 * already, and with no need to parse the rest. V8 refuses code of another version or of other options.
 * @param folder where the code is kept, if anywhere
 */
export function loadCompiled(file: string, folder: string | undefined): Loaded {
  const source = readFileSync(file);
  const kept =
    folder === undefined
      ? undefined
      : join(folder, `${basename(file)}-${process.version}-${process.arch}`);
  const code = kept === undefined ? undefined : readCode(kept, source);
  const script = new Script(module.wrap(source.toString()), {
    filename: file,
    ...(code === undefined ? {} : { cachedData: code }),
  });
  const made = { exports: {} as unknown };
  const run = script.runInThisContext() as (...of: unknown[]) => void;
  run.call(made.exports, made.exports, module.createRequire(file), made, file, dirname(file));
  const fits = code !== undefined && script.cachedDataRejected !== true;
  return {
    exports: made.exports,
    keep: () => {
      if (kept !== undefined && !fits) writeCode(kept, source, script);
    },
  };
}

/** Nothing, too, where a power cut has left half of it, or where somebody else could have written it: it is run. */
function readCode(kept: string, source: Buffer): Buffer | undefined {
  let file: number | undefined;
  try {
    file = openSync(kept, 'r');
    const { uid, mode } = fstatSync(file);
    if (uid !== process.geteuid?.() || (mode & WRITTEN_BY_OTHERS) !== 0) return undefined;
    const all = readFileSync(file);
    const code = all.subarray(HEADER_BYTES);
    return all.subarray(0, HEADER_BYTES).equals(headerOf(source, code)) ? code : undefined;
  } catch {
    return undefined;
  } finally {
    if (file !== undefined) closeSync(file);
  }
}

/** Whole or not at all: two daemons may end at once. */
function writeCode(kept: string, source: Buffer, script: Script): void {
  const made = `${kept}.${process.pid}.new`;
  try {
    const code = script.createCachedData();
    mkdirSync(dirname(kept), { recursive: true, mode: 0o700 });
    writeFileSync(made, Buffer.concat([headerOf(source, code), code]), { mode: 0o600 });
    renameSync(made, kept);
  } catch {
    // The next start compiles it anew.
    remove(made);
  }
}

function remove(file: string): void {
  try {
    rmSync(file, { force: true });
  } catch {
    // A folder that can't be written to has none of it either.
  }
}

function headerOf(source: Buffer, code: Buffer): Buffer {
  const header = Buffer.alloc(HEADER_BYTES);
  header.writeUInt32LE(crc32(source));
  header.writeUInt32LE(crc32(code), 4);
  return header;
}
