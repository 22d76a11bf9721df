import {
  ACN_IDENTIFIER,
  FRAMING,
  PDU_FLAGS,
  POSTAMBLE_SIZE,
  PREAMBLE_SIZE,
  ROOT,
  SOURCE_NAME_BYTES,
} from './layout.js';
import { CID_BYTES } from './options.js';

/** Writes the root layer and the head of the framing layer of a packet that fills `buffer`. */
export function writeHead(
  buffer: Buffer,
  rootVector: number,
  framingVector: number,
  cid: Uint8Array,
): void {
  if (cid.length !== CID_BYTES) throw new RangeError(`a CID has 16 bytes, not ${cid.length}`);
  buffer.writeUInt16BE(PREAMBLE_SIZE, ROOT.preambleSize);
  buffer.writeUInt16BE(POSTAMBLE_SIZE, ROOT.postambleSize);
  buffer.set(ACN_IDENTIFIER, ROOT.acnIdentifier);
  writeFlagsAndLength(buffer, ROOT.flagsAndLength);
  buffer.writeUInt32BE(rootVector, ROOT.vector);
  buffer.set(cid, ROOT.cid);
  writeFlagsAndLength(buffer, FRAMING.flagsAndLength);
  buffer.writeUInt32BE(framingVector, FRAMING.vector);
}

/** A PDU reaches from its own flags-and-length field to the end of the packet (Appendix B, Table B-13). */
export function writeFlagsAndLength(buffer: Buffer, offset: number): void {
  buffer.writeUInt16BE(PDU_FLAGS | (buffer.length - offset), offset);
}

/** What receivers read of a source name: as many whole characters as fit into its 63 bytes. */
export function sourceNameAsSent(name: string): string {
  const field = Buffer.alloc(SOURCE_NAME_BYTES);
  writeSourceName(field, 0, name);
  return field.toString('utf8', 0, field.indexOf(0));
}

/** UTF-8, cut at a character boundary so that a NUL always ends it (section 6.2.2). */
export function writeSourceName(buffer: Buffer, offset: number, name: string): void {
  const field = buffer.subarray(offset, offset + SOURCE_NAME_BYTES);
  field.fill(0);
  // encodeInto writes whole characters only. A NUL inside would end the name early: leave it out.
  new TextEncoder().encodeInto(name.replaceAll('\0', ''), field.subarray(0, SOURCE_NAME_BYTES - 1));
}
