import { unzipSync } from 'fflate';

/**
 * MVR and GDTF files are ZIP archives that came from somewhere else: nothing in them is believed. Only
 * what is asked for is unpacked, in memory, and nothing is ever written where an archive says.
 */
export interface ArchiveLimits {
  /** Entries in the archive, unpacked or not. */
  readonly entries: number;
  /** Bytes of one entry, unpacked. */
  readonly entryBytes: number;
  /** Bytes of all the entries that are unpacked. */
  readonly totalBytes: number;
  /** Unpacked bytes for each packed one, of entries above `ratioFromBytes`. */
  readonly ratio: number;
  readonly ratioFromBytes: number;
}

/**
 * The plot of a large house has some thousand entries and some hundred megabytes (meshes, mostly).
 * Deflate gives 1032 to 1 at most; real XML gives 10 to 60.
 */
export const ARCHIVE_LIMITS: ArchiveLimits = {
  entries: 10_000,
  entryBytes: 128 * 2 ** 20,
  totalBytes: 512 * 2 ** 20,
  ratio: 250,
  ratioFromBytes: 2 ** 20,
};

/** Of the archive file itself, before it is read. */
export const MAX_ARCHIVE_BYTES = 512 * 2 ** 20;

export type ArchiveResult =
  | {
      readonly ok: true;
      /** Names of all the entries, also of those that weren't asked for. */
      readonly names: readonly string[];
      readonly entries: ReadonlyMap<string, Uint8Array>;
    }
  | { readonly ok: false; readonly fault: string };

class Refused extends Error {}

/** Unpacks the entries whose names are wanted. Never throws. */
export function readArchive(
  bytes: Uint8Array,
  wanted: (name: string) => boolean,
  limits: ArchiveLimits = ARCHIVE_LIMITS,
): ArchiveResult {
  const names = new Set<string>();
  const sizes = new Map<string, number>();
  let count = 0;
  let total = 0;
  try {
    const files = unzipSync(bytes, {
      filter: ({ name, size, originalSize, compression }) => {
        count += 1;
        if (count > limits.entries) {
          throw new Refused(`it has more than ${limits.entries} entries`);
        }
        if (leadsOut(name)) {
          throw new Refused(`its entry "${clipped(name)}" would lie outside of it`);
        }
        if (names.has(name)) throw new Refused(`its entry "${clipped(name)}" is in it twice`);
        names.add(name);
        if (!wanted(name)) return false;
        if (compression !== 0 && compression !== 8) {
          throw new Refused(
            `its entry "${clipped(name)}" is packed in a way that is not read (method ${compression}; stored or deflated is)`,
          );
        }
        if (originalSize > limits.entryBytes) {
          throw new Refused(
            `its entry "${clipped(name)}" has ${mebibytes(originalSize)}; at most ${mebibytes(limits.entryBytes)} are read`,
          );
        }
        if (originalSize > limits.ratioFromBytes && originalSize > limits.ratio * size) {
          throw new Refused(
            `its entry "${clipped(name)}" unpacks to more than ${limits.ratio} times its size, as only a ZIP bomb does`,
          );
        }
        total += originalSize;
        if (total > limits.totalBytes) {
          throw new Refused(`it unpacks to more than ${mebibytes(limits.totalBytes)}`);
        }
        sizes.set(name, originalSize);
        return true;
      },
    });
    const entries = new Map<string, Uint8Array>();
    for (const name of sizes.keys()) {
      const entry = Object.hasOwn(files, name) ? files[name] : undefined;
      if (entry === undefined || entry.length !== sizes.get(name)) {
        throw new Refused(`its entry "${clipped(name)}" is cut short or damaged`);
      }
      entries.set(name, entry);
    }
    return { ok: true, names: [...names], entries };
  } catch (error) {
    if (error instanceof Refused) return { ok: false, fault: error.message };
    return { ok: false, fault: 'it is not a ZIP archive, or it is damaged' };
  }
}

/** Absolute, with a drive, or with a step upwards: by the rules of any system. */
function leadsOut(name: string): boolean {
  return (
    name === '' ||
    name.includes('\0') ||
    /^([\\/]|[A-Za-z]:)/.test(name) ||
    name.split(/[\\/]/).includes('..')
  );
}

/** For a message: names come from the archive and may be of any length and kind. */
export function clipped(text: string, most = 80): string {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: those are what must not reach a terminal
  const plain = text.replace(/[\u0000-\u001f\u007f-\u009f]/g, '?');
  return plain.length > most ? `${plain.slice(0, most)}...` : plain;
}

function mebibytes(bytes: number): string {
  return bytes < 2 ** 20 ? `${bytes} bytes` : `${Math.round(bytes / 2 ** 20)} MiB`;
}
