// The floor: one process that receives the same datagrams and sends the same universes from re-used
// buffers, and does nothing else. What the daemon costs above it is what the job costs.
import { createSocket } from 'node:dgram';
import { monotonicS } from '../dist/daemon/machine/clock.js';
import { COMPANY, HOUSE, OSC_PORT, PROBE, probeUniverse, SINK } from './house.mjs';

const house = process.argv[2] === 'company' ? COMPANY : HOUSE;
const trace = process.argv.includes('--trace-ticks');

const input = createSocket('udp4');
let received = 0;
input.on('message', () => {
  received += 1;
});
input.bind(OSC_PORT, '127.0.0.1');
// The same short cut for addresses that are numbers already as the daemon takes.
const output = createSocket({
  type: 'udp4',
  lookup: (host, _options, done) => done(null, host, 4),
});
const packets = Array.from({ length: house.universes }, () => Buffer.alloc(638));
output.bind(0, '127.0.0.1', () => {
  const startMs = performance.now();
  let beats = 0;
  setInterval(() => {
    const due = Math.floor(((performance.now() - startMs) / 1000) * house.outputHz);
    for (; beats < due; beats++) {
      const startS = monotonicS();
      packets.forEach((packet, i) => {
        packet[111] = beats & 0xff;
        packet[126] = received & 0xff;
        output.send(packet, 5568, i + 1 === probeUniverse(house) ? PROBE : SINK);
      });
      if (trace)
        console.log(JSON.stringify({ kind: 'tick', startS, tookS: monotonicS() - startS }));
    }
  }, 1000 / house.outputHz);
});
