// A desk: universes from 101 at 40 Hz to some addresses, all slots of which change in each packet. usage: desk-sender.mjs COUNT ADDRESS...
import { createSocket } from 'node:dgram';
import { createDataPacket } from '../dist/protocols/sacn/data-packet.js';

const [count, ...addresses] = process.argv.slice(2);
const socket = createSocket({
  type: 'udp4',
  lookup: (host, _options, done) => done(null, host, 4),
});
socket.on('error', () => undefined);
const packets = Array.from({ length: Number(count) }, (_, i) =>
  createDataPacket({
    cid: new Uint8Array(16).fill(1),
    sourceName: 'desk',
    universe: 101 + i,
    priority: 100,
  }),
);
let beat = 0;
setInterval(() => {
  beat += 1;
  for (const packet of packets) {
    packet.slots.fill(beat & 0xff);
    packet.advanceSequence();
    for (const address of addresses) socket.send(packet.buffer, 5568, address, () => undefined);
  }
}, 25);
