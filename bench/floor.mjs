// The floor: one process that receives the same datagrams and sends the same universes from re-used
// buffers, and does nothing else. What the daemon costs above it is what the job costs.
import { createSocket } from 'node:dgram';
import { HOUSE, OSC_PORT, SINK } from './house.mjs';

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
const packets = Array.from({ length: HOUSE.universes }, () => Buffer.alloc(638));
output.bind(0, '127.0.0.1', () => {
  const startMs = performance.now();
  let beats = 0;
  setInterval(() => {
    const due = Math.floor(((performance.now() - startMs) / 1000) * HOUSE.outputHz);
    for (; beats < due; beats++) {
      for (const packet of packets) {
        packet[111] = beats & 0xff;
        packet[126] = received & 0xff;
        output.send(packet, 5568, SINK);
      }
    }
  }, 1000 / HOUSE.outputHz);
});
