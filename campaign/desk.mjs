// A desk on a host of the campaign: sACN of one universe at 40 Hz by multicast, made by the npm package `sacn`. Takes orders, one JSON
// object a line: { set: { slot: level } }, { silent: true }, { flood: [packets a second, to] }. Its last slot counts packets.
// usage: desk.mjs ADDRESS UNIVERSE NAME PRIORITY
import { createSocket } from 'node:dgram';
import { createInterface } from 'node:readline';
import { Packet } from 'sacn';

const [address, universe, name, priority] = process.argv.slice(2);
const group = `239.255.${universe >> 8}.${universe & 0xff}`;
const socket = createSocket('udp4');
socket.on('error', () => undefined);
const slots = new Map();
let silent = false;
let sequence = 0;
let count = 0;

const packetOf = (to, number) =>
  new Packet({
    universe: to,
    payload: Object.fromEntries(slots),
    useRawDmxValues: true,
    sourceName: name,
    priority: Number(priority),
    sequence: number,
    cid: Buffer.alloc(16, name),
  }).buffer;

let flood;
socket.bind(0, address, () => {
  socket.setMulticastInterface(address);
  setInterval(() => {
    if (silent) return;
    count += 1;
    slots.set(512, count % 250);
    sequence = (sequence + 1) & 0xff;
    socket.send(packetOf(Number(universe), sequence), 5568, group);
  }, 25);
  setInterval(() => {
    if (flood === undefined) return;
    for (let i = 0; i < flood.perTurn; i++) {
      const one = flood.packets[flood.at++ % flood.packets.length];
      socket.send(one, 5568, flood.to);
    }
  }, 5);
});

createInterface({ input: process.stdin })
  .on('line', line => {
    const order = JSON.parse(line);
    for (const [slot, level] of Object.entries(order.set ?? {})) slots.set(Number(slot), level);
    if (order.silent !== undefined) silent = order.silent;
    if (order.flood === null) flood = undefined;
    else if (order.flood !== undefined) {
      const [aSecond, to] = order.flood;
      const packets = Array.from({ length: 400 }, (_, i) => packetOf(1000 + i, i & 0xff));
      flood = { packets, perTurn: Math.round(aSecond / 200), to, at: 0 };
    }
  })
  .on('close', () => process.exit());
