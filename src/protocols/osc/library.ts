import { createRequire } from 'node:module';

/**
 * Types of our own for the codec module of the `osc` package, which ships none. Only `osc/src/osc.js`
 * is loaded: the package's main file also loads web socket and serial port code.
 *
 * Known limits of the module, which `decode.ts` guards against: it reads past the end of a bundle
 * element, loses a whole bundle over one bad element, takes quadratic time over `[` type tags, and
 * ignores `byteOffset` when it reads a blob, colour or MIDI argument.
 */
interface OscLibrary {
  /** Reads one message at `offset.idx`. Throws on a bad address, type tag or length. */
  readMessage(
    bytes: Uint8Array,
    options: OscLibraryOptions,
    offset: { idx: number },
  ): { address: string; args: OscArgument[] };
  /** Throws on an address without a leading slash. */
  writePacket(packet: OscLibraryPacket, options: OscLibraryOptions): Uint8Array;
}

interface OscLibraryOptions {
  /** true: each argument is `{ type, value }`, read and written. */
  readonly metadata: true;
  /** false: `args` is an array even when there is one argument. */
  readonly unpackSingleArgs: false;
}

export type OscLibraryPacket =
  | { readonly address: string; readonly args: readonly OscArgument[] }
  | { readonly timeTag: OscTimeTagValue; readonly packets: readonly OscLibraryPacket[] };

/** A signed 64-bit integer in two 32-bit halves; `low` may be signed or unsigned. */
export interface OscInt64 {
  readonly high: number;
  readonly low: number;
}

/** An NTP time tag as [seconds since 1900 mod 2^32, fraction in 1/2^32 s], both unsigned. */
export interface OscTimeTagValue {
  readonly raw: readonly [seconds: number, fraction: number];
}

/** One argument with its OSC 1.0 type tag; an array argument (`[...]`) is an array. */
export type OscArgument =
  | { readonly type: 'i' | 'f' | 'd'; readonly value: number }
  | { readonly type: 'h'; readonly value: OscInt64 }
  | { readonly type: 's' | 'S' | 'c'; readonly value: string }
  | { readonly type: 'b' | 'm'; readonly value: Uint8Array }
  | { readonly type: 't'; readonly value: OscTimeTagValue }
  | { readonly type: 'r'; readonly value: { r: number; g: number; b: number; a: number } }
  | { readonly type: 'T'; readonly value: true }
  | { readonly type: 'F'; readonly value: false }
  | { readonly type: 'N'; readonly value: null }
  | { readonly type: 'I'; readonly value: 1 }
  | readonly OscArgument[];

export const OSC_LIBRARY_OPTIONS: OscLibraryOptions = { metadata: true, unpackSingleArgs: false };

let loaded: OscLibrary | undefined;

/** Loaded when it is first asked for: most of what is read is read by `decode.ts`, and a start waits for every file. */
export function oscLibrary(): OscLibrary {
  loaded ??= createRequire(import.meta.url)('osc/src/osc.js') as OscLibrary;
  return loaded;
}
