import {
  CHUNK_HEAD_BYTES,
  DATA_PACKET,
  DATA_TRACKERS,
  FIELD,
  HAS_CHUNKS,
  INFO_PACKET,
  INFO_TRACKERS,
  PACKET_HEADER,
  PACKET_HEADER_BYTES,
  PSN_VERSION,
  STATUS_BYTES,
  SYSTEM_NAME,
  TIMESTAMP_BYTES,
  TRACKER_NAME,
  VECTOR_BYTES,
} from './layout.js';

/** x, y, z on the axes of PosiStageNet: metres, metres a second. */
export type PsnVector = readonly [x: number, y: number, z: number];

export interface PsnTrackerData {
  readonly id: number;
  readonly position?: PsnVector;
  readonly speed?: PsnVector;
  /** 0 to 1. */
  readonly validity?: number;
  /** For when the position holds, microseconds on the sender's clock. */
  readonly timestampUs?: number;
}

export interface PsnFrame {
  /** Microseconds since the sender started. */
  readonly timeUs: number;
  /** Counts up by one a frame; its lowest 8 bits are sent. */
  readonly number: number;
}

/** One Ethernet frame: 1500 bytes less 20 of IPv4 and 8 of UDP. The standard's 1500 would leave in two pieces. */
const MOST_BYTES = 1472;
/** Packets in a frame is a byte. */
const MOST_PACKETS = 255;
/** Longer names fit no screen, and must leave room for trackers. */
const MOST_NAME_BYTES = 64;
const HEADER_CHUNK_BYTES = CHUNK_HEAD_BYTES + PACKET_HEADER_BYTES;

/** The packets of a frame of data: one, or more where the trackers don't fit into one. */
export function encodePsnData(frame: PsnFrame, trackers: readonly PsnTrackerData[]): Buffer[] {
  return packets(DATA_PACKET, DATA_TRACKERS, frame, Buffer.alloc(0), trackers.map(trackerChunk));
}

/** The packets with the names: of the sender, and of each tracker. */
export function encodePsnInfo(
  frame: PsnFrame,
  system: string,
  trackers: readonly { readonly id: number; readonly name: string }[],
): Buffer[] {
  const name = chunk(SYSTEM_NAME, false, [textBytes(system)]);
  const chunks = trackers.map(one =>
    chunk(one.id, true, [chunk(TRACKER_NAME, false, [textBytes(one.name)])]),
  );
  return packets(INFO_PACKET, INFO_TRACKERS, frame, name, chunks);
}

function packets(
  kind: number,
  list: number,
  frame: PsnFrame,
  before: Buffer,
  trackers: readonly Buffer[],
): Buffer[] {
  const own = CHUNK_HEAD_BYTES + HEADER_CHUNK_BYTES + before.length + CHUNK_HEAD_BYTES;
  const groups: Buffer[][] = [[]];
  let bytes = own;
  for (const one of trackers) {
    if (bytes + one.length > MOST_BYTES) {
      groups.push([]);
      bytes = own;
    }
    groups.at(-1)?.push(one);
    bytes += one.length;
  }
  const header = headerChunk(frame, Math.min(groups.length, MOST_PACKETS));
  return groups
    .slice(0, MOST_PACKETS)
    .map(group => chunk(kind, true, [header, before, chunk(list, group.length > 0, group)]));
}

function headerChunk({ timeUs, number }: PsnFrame, count: number): Buffer {
  const data = Buffer.alloc(PACKET_HEADER_BYTES);
  writeU64(data, timeUs);
  data[8] = PSN_VERSION[0];
  data[9] = PSN_VERSION[1];
  data[10] = number & 0xff;
  data[11] = count;
  return chunk(PACKET_HEADER, false, [data]);
}

function trackerChunk({ id, position, speed, validity, timestampUs }: PsnTrackerData): Buffer {
  const fields: Buffer[] = [];
  if (position !== undefined) fields.push(vectorChunk(FIELD.position, position));
  if (speed !== undefined) fields.push(vectorChunk(FIELD.speed, speed));
  if (validity !== undefined) {
    const data = Buffer.alloc(STATUS_BYTES);
    data.writeFloatLE(validity);
    fields.push(chunk(FIELD.status, false, [data]));
  }
  if (timestampUs !== undefined) {
    const data = Buffer.alloc(TIMESTAMP_BYTES);
    writeU64(data, timestampUs);
    fields.push(chunk(FIELD.timestamp, false, [data]));
  }
  return chunk(id, fields.length > 0, fields);
}

function vectorChunk(id: number, [x, y, z]: PsnVector): Buffer {
  const data = Buffer.alloc(VECTOR_BYTES);
  data.writeFloatLE(x, 0);
  data.writeFloatLE(y, 4);
  data.writeFloatLE(z, 8);
  return chunk(id, false, [data]);
}

function chunk(id: number, hasChunks: boolean, parts: readonly Buffer[]): Buffer {
  const head = Buffer.alloc(CHUNK_HEAD_BYTES);
  const bytes = Buffer.concat([head, ...parts]);
  bytes.writeUInt16LE(id, 0);
  bytes.writeUInt16LE((bytes.length - CHUNK_HEAD_BYTES) | (hasChunks ? HAS_CHUNKS : 0), 2);
  return bytes;
}

function writeU64(data: Buffer, value: number): void {
  const whole = Math.max(0, Math.round(value));
  data.writeUInt32LE(whole % 2 ** 32, 0);
  data.writeUInt32LE(Math.floor(whole / 2 ** 32), 4);
}

/** Cut between characters. */
function textBytes(text: string): Buffer {
  let out = '';
  let bytes = 0;
  for (const character of text) {
    bytes += Buffer.byteLength(character);
    if (bytes > MOST_NAME_BYTES) break;
    out += character;
  }
  return Buffer.from(out, 'utf8');
}
