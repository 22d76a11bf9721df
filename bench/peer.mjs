// What one would otherwise write, with `osc` and either `sacn` or `dmxnet`, each used as its own README says: takes
// the same datagrams and sends the same universes. No tracking, no aiming, nothing safe: a position is two levels.
import { createRequire } from 'node:module';
import { HOUSE, OSC_PORT, PROBE, probeUniverse, SINK } from './house.mjs';

const [library] = process.argv.slice(2);
const osc = createRequire(import.meta.url)('osc');
/** Slots of each universe that the large house has patched: 400 heads of 4 and 100 dimmers, in 64 universes. */
const PATCHED = 27;
const SLOTS_PER_UNIVERSE = 512;

const levels = Array.from({ length: HOUSE.universes }, () => new Uint8Array(SLOTS_PER_UNIVERSE));
const input = new osc.UDPPort({ localAddress: '127.0.0.1', localPort: OSC_PORT });
input.on('message', ({ address, args: [x, y] }) => {
  const tracker = Number(address.split('/')[2]);
  const universe = levels[tracker % HOUSE.universes];
  universe[0] = (x * 255) / 30;
  universe[1] = (y * 255) / 20;
});
input.on('error', error => console.error(error.message));
input.open();

const to = i => (i + 1 === probeUniverse(HOUSE) ? PROBE : SINK);
const send = library === 'dmxnet' ? await byDmxnet() : await bySacn();
const startMs = performance.now();
let beats = 0;
setInterval(() => {
  const due = Math.floor(((performance.now() - startMs) / 1000) * HOUSE.outputHz);
  for (; beats < due; beats++) {
    levels.forEach((universe, i) => {
      for (let slot = 2; slot < PATCHED; slot++) universe[slot] = beats & 0xff;
      send(i, universe);
    });
  }
}, 1000 / HOUSE.outputHz);

async function bySacn() {
  const { Sender } = await import('sacn');
  const senders = levels.map(
    (_, i) =>
      new Sender({
        universe: i + 1,
        useUnicastDestination: to(i),
        defaultPacketOptions: { sourceName: 'peer', useRawDmxValues: true },
      }),
  );
  return (i, universe) => {
    const payload = {};
    for (let slot = 0; slot < PATCHED; slot++) payload[slot + 1] = universe[slot];
    senders[i].send({ payload }).catch(() => undefined);
  };
}

async function byDmxnet() {
  const { dmxnet } = createRequire(import.meta.url)('dmxnet');
  const node = new dmxnet({ hosts: ['127.0.0.1'], log: { level: 'error' } });
  const senders = levels.map((_, i) =>
    node.newSender({ ip: to(i), subnet: Math.floor(i / 16), universe: i % 16 }),
  );
  return (i, universe) => {
    for (let slot = 0; slot < PATCHED; slot++) senders[i].prepChannel(slot, universe[slot]);
    senders[i].transmit();
  };
}
