// Plays a tracking system that reports to several machines: performers on circles, 25 times a second each.
import { createSocket } from 'node:dgram';
import { encodePacket } from '../../dist/protocols/osc/encode.js';
import { OSC_PORT } from '../house.mjs';

const [performers, ...to] = process.argv.slice(2);
const socket = createSocket('udp4');
socket.on('error', () => undefined);
setInterval(() => {
  for (let tracker = 1; tracker <= Number(performers); tracker++) {
    const phase = tracker * 0.7 + (performance.now() / 1e3) * 0.12;
    const place = [15 + 12 * Math.cos(phase), 10 + 8 * Math.sin(phase), 1.4, 1];
    const args = place.map(value => ({ type: 'f', value }));
    const bytes = encodePacket({ address: `/tracker/${tracker}/position`, args });
    for (const address of to) socket.send(bytes, OSC_PORT, address);
  }
}, 40);
