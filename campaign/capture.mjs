// The independent receiver: tcpdump takes every packet from the wire of the gateway (AF_PACKET), and
// this reads its file format and the standards' field tables; nothing of lampwright's own decoders.
import { PORT, spawnOn } from './hosts.mjs';

const FILE_HEAD = 24; // pcap: magic, version, ..., link type
const PACKET_HEAD = 16; // pcap: seconds, microseconds, length taken, length on the wire
const ETHERNET_HEAD = 14;
const UDP_HEAD = 8;

/** Packets of levels as they were on the wire, with the kernel's time. */
export class Capture {
  /** { atS (Unix), from, protocol, universe, priority, sequence, terminated, slots } */
  packets = [];
  #kept = Buffer.alloc(0);
  #headRead = false;
  #child;

  static async open(host) {
    const capture = new Capture();
    const filter = 'udp port 5568 or udp port 6454';
    const command = [
      'tcpdump',
      '-i',
      PORT,
      '-p',
      '-U',
      '--immediate-mode',
      '-B',
      '8192',
      '-w',
      '-',
      filter,
    ];
    const child = spawnOn(host, command, { stdio: ['ignore', 'pipe', 'pipe'] });
    capture.#child = child;
    child.stdout.on('data', chunk => capture.#take(chunk));
    await new Promise((resolve, reject) => {
      child.stderr.on('data', text => String(text).includes('listening on') && resolve());
      child.once('error', reject);
      child.once('exit', code => reject(new Error(`tcpdump ended with ${code}`)));
    });
    return capture;
  }

  close() {
    this.#child.kill('SIGINT');
  }

  /** The newest levels of a universe; all 0 before the first. */
  latest(protocol, universe) {
    const found = this.packets.findLast(
      packet => packet.protocol === protocol && packet.universe === universe && !packet.terminated,
    );
    return found?.slots ?? new Uint8Array(512);
  }

  #take(chunk) {
    let bytes = this.#kept.length === 0 ? chunk : Buffer.concat([this.#kept, chunk]);
    if (!this.#headRead) {
      if (bytes.length < FILE_HEAD) {
        this.#kept = bytes;
        return;
      }
      this.#headRead = true;
      bytes = bytes.subarray(FILE_HEAD);
    }
    while (bytes.length >= PACKET_HEAD) {
      const length = bytes.readUInt32LE(8);
      if (bytes.length < PACKET_HEAD + length) break;
      const atS = bytes.readUInt32LE(0) + bytes.readUInt32LE(4) / 1e6;
      this.#read(atS, bytes.subarray(PACKET_HEAD, PACKET_HEAD + length));
      bytes = bytes.subarray(PACKET_HEAD + length);
    }
    this.#kept = Buffer.from(bytes);
  }

  #read(atS, frame) {
    const network = frame.subarray(ETHERNET_HEAD);
    if (network.length < 20 || network[0] >> 4 !== 4) return;
    const from = [...network.subarray(12, 16)].join('.');
    const udp = network.subarray((network[0] & 0x0f) * 4);
    const bytes = udp.subarray(UDP_HEAD);
    if (udp.readUInt16BE(2) === 5568) this.#readSacn(atS, from, bytes);
    else this.#readArtnet(atS, from, bytes);
  }

  /** E1.31-2018, Table 4-1. */
  #readSacn(atS, from, bytes) {
    if (bytes.length < 126 || bytes.readUInt32BE(18) !== 4 || bytes[125] !== 0) return;
    this.packets.push({
      atS,
      from,
      // E1.31 5.6: a source is its CID, whatever address it sends from.
      source: bytes.toString('hex', 22, 38),
      protocol: 'sacn',
      universe: bytes.readUInt16BE(113),
      priority: bytes[108],
      sequence: bytes[111],
      terminated: (bytes[112] & 0x40) !== 0,
      slots: Uint8Array.from(bytes.subarray(126)),
    });
  }

  /** Art-Net 4, ArtDmx. */
  #readArtnet(atS, from, bytes) {
    if (bytes.length < 20 || bytes.toString('latin1', 0, 7) !== 'Art-Net') return;
    if (bytes.readUInt16LE(8) !== 0x5000) return;
    this.packets.push({
      atS,
      from,
      source: from,
      protocol: 'artnet',
      universe: bytes.readUInt16LE(14),
      priority: 0,
      sequence: bytes[12],
      terminated: false,
      slots: Uint8Array.from(bytes.subarray(18, 18 + bytes.readUInt16BE(16))),
    });
  }
}
