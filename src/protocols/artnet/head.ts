import { ARTNET_ID, HEAD, PROTOCOL_VERSION } from './layout.js';

/** Writes the head of a packet that we send. */
export function writeHead(buffer: Buffer, opCode: number): void {
  buffer.set(ARTNET_ID, HEAD.id);
  buffer.writeUInt16LE(opCode, HEAD.opCode);
  buffer.writeUInt16BE(PROTOCOL_VERSION, HEAD.protocolVersion);
}
