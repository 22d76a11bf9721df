// The gateways of the measurement. Bound, as to a port that nobody has the kernel answers each packet with an
// error, at half as much again as the packet costs; and asleep, as a gateway takes nothing of this machine.
import { createSocket } from 'node:dgram';
import { SINK } from './house.mjs';

const SACN_PORT = 5568;
const socket = createSocket('udp4');
socket.bind(SACN_PORT, SINK, () => {
  socket.setRecvBufferSize(4096);
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0);
});
