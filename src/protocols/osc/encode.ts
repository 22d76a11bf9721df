import {
  OSC_LIBRARY_OPTIONS,
  type OscArgument,
  type OscLibraryPacket,
  oscLibrary,
} from './library.js';
import { type OscTimeTag, timeTagToNtp } from './timetag.js';

export interface OscMessage {
  readonly address: string;
  readonly args: readonly OscArgument[];
}

export interface OscBundle {
  readonly timeTag: OscTimeTag;
  readonly elements: readonly (OscMessage | OscBundle)[];
}

/** The datagram of a message or bundle. Throws on an address without a leading slash. */
export function encodePacket(packet: OscMessage | OscBundle): Buffer {
  const bytes = oscLibrary().writePacket(toLibrary(packet), OSC_LIBRARY_OPTIONS);
  return Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
}

function toLibrary(packet: OscMessage | OscBundle): OscLibraryPacket {
  if ('address' in packet) return packet;
  return {
    timeTag: { raw: timeTagToNtp(packet.timeTag) },
    packets: packet.elements.map(toLibrary),
  };
}
