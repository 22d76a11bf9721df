// When the probe's packets leave: by the kernel's time stamps where tcpdump may capture, so that the wake-up
// of whoever receives isn't counted; else when a socket here has them, which is later.
import { spawn, spawnSync } from 'node:child_process';
import { createSocket } from 'node:dgram';
import { setTimeout as sleep } from 'node:timers/promises';
import { monotonicS } from '../dist/daemon/machine/clock.js';
import { PROBE } from './house.mjs';

const SACN_PORT = 5568;
/** Datagrams to here carry our clock, so that the capture's can be read off it. */
const CLOCK_PORT = 5599;
const READINGS = 50;

/** @returns {Promise<{how: string, stop(): Promise<number[]>}>} `stop` gives the packets' monotonic seconds */
export async function hearProbe() {
  const socket = createSocket('udp4');
  const receivedS = [];
  socket.on('message', () => receivedS.push(monotonicS()));
  await new Promise(resolve => socket.bind(SACN_PORT, PROBE, resolve));
  const capture = await startCapture();
  const close = () => new Promise(resolve => socket.close(resolve));
  if (capture === undefined) {
    return {
      how: 'as received: with the wake-up of the receiver, as tcpdump is not there or may not capture',
      stop: async () => {
        await close();
        return receivedS;
      },
    };
  }
  await capture.readClock();
  return {
    how: 'by the time stamps of the kernel',
    stop: async () => {
      await capture.readClock();
      const packets = await capture.stop();
      await close();
      return packets;
    },
  };
}

async function startCapture() {
  if (spawnSync('tcpdump', ['--version']).status !== 0) return undefined;
  const filter = `udp and dst host ${PROBE} and (dst port ${SACN_PORT} or dst port ${CLOCK_PORT})`;
  const options = ['-i', 'lo', '-n', '-U', '--immediate-mode', '--time-stamp-precision=nano'];
  const child = spawn('tcpdump', [...options, '-w', '-', filter], {
    stdio: ['ignore', 'pipe', 'ignore'],
  });
  const chunks = [];
  child.stdout.on('data', chunk => chunks.push(chunk));
  const ended = new Promise(resolve => child.once('close', resolve));
  // Its header comes when it captures.
  const begun = await Promise.race([
    new Promise(resolve => child.stdout.once('data', () => resolve(true))),
    ended.then(() => false),
  ]);
  if (!begun) return undefined;
  return {
    readClock,
    async stop() {
      child.kill('SIGTERM');
      await ended;
      return packetsIn(Buffer.concat(chunks));
    },
  };
}

async function readClock() {
  const socket = createSocket('udp4');
  // Somebody has to be there, or the kernel answers that nobody is.
  const ear = createSocket('udp4');
  await new Promise(resolve => ear.bind(CLOCK_PORT, PROBE, resolve));
  await new Promise(resolve => socket.connect(CLOCK_PORT, PROBE, resolve));
  for (let i = 0; i < READINGS; i++) {
    const reading = Buffer.alloc(8);
    reading.writeDoubleLE(monotonicS());
    socket.send(reading);
    await sleep(2);
  }
  socket.close();
  ear.close();
}

/** pcap with nanoseconds, as tcpdump writes it: a file header of 24 bytes, 16 before each packet. */
function packetsIn(bytes) {
  if (bytes.readUInt32LE(0) !== 0xa1b23c4d)
    throw new Error('tcpdump wrote no pcap with nanoseconds');
  const ETHERNET = 14;
  const UDP = 8;
  const stamps = [];
  let offsetS = Number.POSITIVE_INFINITY;
  const baseS = bytes.readUInt32LE(24);
  for (let at = 24; at + 16 <= bytes.length; ) {
    const stampS = bytes.readUInt32LE(at) - baseS + bytes.readUInt32LE(at + 4) / 1e9;
    const length = bytes.readUInt32LE(at + 8);
    if (at + 16 + length > bytes.length) break;
    const packet = bytes.subarray(at + 16, at + 16 + length);
    const udp = ETHERNET + (packet[ETHERNET] & 0x0f) * 4;
    if (packet.readUInt16BE(udp + 2) === SACN_PORT) stamps.push(stampS);
    // The least delay between a reading of our clock and its stamp is nearly none.
    else offsetS = Math.min(offsetS, stampS - packet.readDoubleLE(udp + UDP));
    at += 16 + length;
  }
  return stamps.map(stampS => stampS - offsetS);
}
