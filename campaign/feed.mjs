// A tracking server on a host of the campaign: OSC reports at 40 Hz to some addresses. Takes orders, one
// JSON object a line: { place: [tracker, x, y] }, { silence: tracker }, { freeze: true }, { jump: [tracker, 'once' or 'often'] }.
import { createSocket } from 'node:dgram';
import { createInterface } from 'node:readline';

const targets = process.argv.slice(2);
const socket = createSocket('udp4');
socket.on('error', () => undefined);
const at = new Map();
let frozen = false;
let jumping = [];
let tick = 0;
/** Noise that repeats for a run: a linear congruential generator (Numerical Recipes). */
let state = 1;
const noise = () => {
  state = (state * 1664525 + 1013904223) % 2 ** 32;
  return frozen ? 0 : (state / 2 ** 32 - 0.5) * 0.04;
};

const text = value => Buffer.from(value + '\0'.repeat(4 - (value.length % 4)));
const float = value => {
  const bytes = Buffer.alloc(4);
  bytes.writeFloatBE(value);
  return bytes;
};

setInterval(() => {
  tick += 1;
  for (const [tracker, [x, y]] of at) {
    // Often: back and forth, a quarter of a second here and there; no person does that.
    const away = jumping[1] === 'once' || Math.floor(tick / 10) % 2 === 1;
    const off = jumping[0] === tracker && away ? 3 : 0;
    const values = [x + off + noise(), y + noise(), 1.4 + noise()].map(float);
    const bytes = Buffer.concat([text(`/tracker/${tracker}/position`), text(',fff'), ...values]);
    for (const target of targets) socket.send(bytes, 9010, target);
  }
}, 25);

createInterface({ input: process.stdin })
  .on('line', line => {
    const order = JSON.parse(line);
    if (order.place !== undefined) at.set(order.place[0], order.place.slice(1));
    if (order.silence !== undefined) at.delete(order.silence);
    if (order.freeze !== undefined) frozen = order.freeze;
    if (order.jump !== undefined) jumping = order.jump;
  })
  .on('close', () => process.exit());
