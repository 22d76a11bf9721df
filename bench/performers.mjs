// Plays the tracking system of the large house: one OSC datagram a report, evenly spread in time.
import { createSocket } from 'node:dgram';
import { encodePacket } from '../dist/protocols/osc/encode.js';
import { COMPANY, HOUSE, OSC_PORT } from './house.mjs';

const { performers, reportHz } = process.argv[2] === 'company' ? COMPANY : HOUSE;

const socket = createSocket({
  type: 'udp4',
  lookup: (host, _options, done) => done(null, host, 4),
});
socket.on('error', () => undefined);
const started = performance.now();
let sent = 0;
setInterval(() => {
  const nowS = (performance.now() - started) / 1000;
  const due = Math.floor(nowS * performers * reportHz);
  for (; sent < due; sent++) {
    const tracker = (sent % performers) + 1;
    // At 1.4 m/s on the long side: walking (Bohannon 1997).
    const phase = tracker * 0.7 + nowS * 0.12;
    const place = [15 + 12 * Math.cos(phase), 10 + 8 * Math.sin(phase), 1.4];
    const noisy = place.map(value => value + (Math.random() - 0.5) * 0.05);
    const args = [...noisy, 1].map(value => ({ type: 'f', value }));
    socket.send(
      encodePacket({ address: `/tracker/${tracker}/position`, args }),
      OSC_PORT,
      '127.0.0.1',
    );
  }
}, 2);
