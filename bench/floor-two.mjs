// The floor of two processes: one receives the datagrams, and hands as many bytes a frame as the engine does through a
// pipe, in as many writes; the other sends the universes when they have come. Nothing else. What an engine that can die
// without its light costs at the least.
import { spawn } from 'node:child_process';
import { createSocket } from 'node:dgram';
import { Socket } from 'node:net';
import { fileURLToPath } from 'node:url';
import { HOUSE, OSC_PORT, SINK } from './house.mjs';

/** Slots of the large house's three sections (`sectionsOf`), with what stands before them. */
const SECTIONS = [224, 1680, 996].map(slots => slots + 40);
const PIPE_FD = 3;

if (process.argv[2] === 'engine') receive();
else send();

function receive() {
  const input = createSocket('udp4');
  let received = 0;
  input.on('message', () => {
    received += 1;
  });
  input.bind(OSC_PORT, '127.0.0.1');
  process.stdin.resume().on('end', () => process.exit(0));
  const pipe = new Socket({ fd: PIPE_FD, readable: false, writable: true });
  const frames = SECTIONS.map(bytes => Buffer.alloc(bytes));
  const startMs = performance.now();
  let ticks = 0;
  setInterval(() => {
    const due = Math.floor(((performance.now() - startMs) / 1000) * HOUSE.outputHz);
    for (; ticks < due; ticks++) {
      for (const frame of frames) {
        frame[0] = received & 0xff;
        pipe.write(frame);
      }
    }
  }, 1000 / HOUSE.outputHz);
}

function send() {
  const engine = spawn(process.execPath, [fileURLToPath(import.meta.url), 'engine'], {
    stdio: ['pipe', 'ignore', 'inherit', 'pipe'],
  });
  const output = createSocket({
    type: 'udp4',
    lookup: (host, _options, done) => done(null, host, 4),
  });
  const packets = Array.from({ length: HOUSE.universes }, () => Buffer.alloc(638));
  const frameBytes = SECTIONS.reduce((sum, bytes) => sum + bytes);
  output.bind(0, '127.0.0.1');
  let [came, sent] = [0, 0];
  engine.stdio[PIPE_FD].on('data', chunk => {
    came += chunk.length;
    // So much of the frame has come, so many of its universes leave.
    const due = Math.floor((came / frameBytes) * packets.length);
    for (; sent < due; sent++) {
      const packet = packets[sent % packets.length];
      packet[111] += 1;
      packet[126] = chunk[0];
      output.send(packet, 5568, SINK);
    }
  });
  process.once('SIGTERM', () => {
    engine.kill();
    process.exit(0);
  });
}
