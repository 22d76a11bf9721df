import { DEFAULT_OSC_LIMITS, decodeDatagram } from '../../../src/protocols/osc/decode.js';
import type { OscArgument } from '../../../src/protocols/osc/library.js';
import type { OscTimeTag } from '../../../src/protocols/osc/timetag.js';

export type Decoded =
  | { address: string; args: readonly OscArgument[]; timeTag: OscTimeTag }
  | { rejected: string };

/** All that the decoder says about a datagram, in order. */
export function collect(bytes: Uint8Array, limits = DEFAULT_OSC_LIMITS): Decoded[] {
  const seen: Decoded[] = [];
  decodeDatagram(Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength), limits, {
    message: (address, args, timeTag) => seen.push({ address, args, timeTag }),
    rejected: reason => seen.push({ rejected: reason }),
  });
  return seen;
}

/** An OSC string: a NUL and zeros up to a multiple of 4 (OSC 1.0). Written by hand, not by the codec. */
export function oscString(text: string): Buffer {
  const bytes = Buffer.from(text, 'latin1');
  return Buffer.concat([bytes, Buffer.alloc(4 - (bytes.length % 4))]);
}

export function int32(value: number): Buffer {
  const bytes = Buffer.alloc(4);
  bytes.writeInt32BE(value);
  return bytes;
}

export function message(address: string, tags: string, ...values: readonly Uint8Array[]): Buffer {
  return Buffer.concat([oscString(address), oscString(`,${tags}`), ...values]);
}

/** A bundle; `tag` in hexadecimal, default "immediately". */
export function bundle(elements: readonly Uint8Array[], tag = '0000000000000001'): Buffer {
  return Buffer.concat([
    Buffer.from('#bundle\0', 'latin1'),
    Buffer.from(tag, 'hex'),
    ...elements.flatMap(element => [int32(element.length), element]),
  ]);
}
