// A desk by npm `sacn` (Apache-2.0): levels of one universe by multicast, 40 packets a second. Takes orders, one JSON object a
// line: { priority } from then on, { slots: { 1: 200 } }.
import { createInterface } from 'node:readline';
import { Sender } from 'sacn';

const [universe, iface] = process.argv.slice(2);
const sender = new Sender({ universe: Number(universe), iface, reuseAddr: true });
let priority = 100;
const payload = {};
setInterval(() => {
  sender.send({ payload, sourceName: 'a desk', priority, useRawDmxValues: true });
}, 25);

createInterface({ input: process.stdin })
  .on('line', line => {
    const order = JSON.parse(line);
    priority = order.priority ?? priority;
    Object.assign(payload, order.slots);
  })
  .on('close', () => process.exit(0));
