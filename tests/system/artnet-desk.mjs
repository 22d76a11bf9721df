// A desk by npm `dmxnet` (MIT): levels of one Port-Address to an address. Takes orders, one JSON object a line: { 1: 255 }, slots
// from 1.
import { createInterface } from 'node:readline';
import { dmxnet } from 'dmxnet';

const [ip, portAddress] = process.argv.slice(2);
const address = Number(portAddress);
// It would listen on the port of Art-Net on all addresses, where it would take the packets that the daemon is sent.
const desk = new dmxnet({ listen: 16_454, log: { level: 'error' } });
const sender = desk.newSender({
  ip,
  net: address >> 8,
  subnet: (address >> 4) & 15,
  universe: address & 15,
  base_refresh_interval: 500,
});
createInterface({ input: process.stdin })
  .on('line', line => {
    for (const [slot, level] of Object.entries(JSON.parse(line))) {
      sender.prepChannel(Number(slot) - 1, level);
    }
    sender.transmit();
  })
  .on('close', () => process.exit(0));
