// The gateways of the measurement. Bound, as to a port that nobody has the kernel answers each packet with an
// error, at half as much again as the packet costs; and asleep, as a gateway takes nothing of this machine.
import { createSocket } from 'node:dgram';
import { SINK } from './house.mjs';

/** sACN, Art-Net. The second is also bound by whoever sends it. */
const PORTS = [5568, 6454];

for (const port of PORTS) {
  const socket = createSocket({ type: 'udp4', reuseAddr: true });
  await new Promise(resolve => socket.bind(port, SINK, resolve));
  socket.setRecvBufferSize(4096);
}
Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0);
