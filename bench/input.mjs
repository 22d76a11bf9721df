// What a position costs on its way in, by OSC and by PosiStageNet: from the datagram to a report in the stage frame, in turn.
import { createEngine } from '../dist/engine/engine.js';
import { receive } from '../dist/engine/reports/receive.js';
import { encodePacket } from '../dist/protocols/osc/encode.js';
import { encodePsnData } from '../dist/protocols/psn/encode.js';
import { parseShow } from '../dist/show/parse.js';
import { HOUSE, houseShow } from './house.mjs';

const POSITIONS = 200_000;
const BLOCKS = 9;
const TOGETHER = 20;

/** The large house, fed by one protocol or the other; both give quality and when it was measured. */
function engineOf(input) {
  const text = houseShow().replace(/^inputs:\n(?: {2}.*\n)+/m, `inputs:\n  tracking: ${input}\n`);
  const parsed = parseShow(text, 'house.show.yaml');
  if (!parsed.ok) throw new Error(parsed.problems.map(one => one.message).join('\n'));
  return createEngine(parsed.show);
}

const float = value => ({ type: 'f', value });
const OSC =
  '{ port: 9010, routes: [{ address: "/tracker/{tracker}/position", arguments: [x, y, z, quality, stamp] }] }';
const message = (tracker, atS) => ({
  address: `/tracker/${tracker}/position`,
  args: [...[tracker % 10, 4, 1.4, 1].map(float), { type: 'd', value: atS }],
});
const report = (id, atS) => ({
  id,
  position: [id % 10, 1.4, 4],
  validity: 1,
  timestampUs: atS * 1e6,
});
const osc = (trackers, atS) =>
  encodePacket(
    trackers.length === 1
      ? message(trackers[0], atS)
      : { timeTag: 'immediately', elements: trackers.map(one => message(one, atS)) },
  );
const psn = (trackers, atS) =>
  encodePsnData(
    { timeUs: atS * 1e6, number: 1 },
    trackers.map(one => report(one, atS)),
  )[0];

const WAYS = [
  ['OSC, one a datagram', OSC, osc, 1],
  [`OSC, ${TOGETHER} in a bundle`, OSC, osc, TOGETHER],
  ['PosiStageNet, one a packet', '{ protocol: psn, axes: [x, z, y] }', psn, 1],
  [`PosiStageNet, ${TOGETHER} a packet`, '{ protocol: psn, axes: [x, z, y] }', psn, TOGETHER],
];

export function benchInput() {
  const ways = WAYS.map(([name, input, encode, together]) => {
    const datagrams = Array.from({ length: 1000 }, (_, n) => {
      const trackers = Array.from(
        { length: together },
        (_, k) => ((n * together + k) % HOUSE.performers) + 1,
      );
      return { input: 0, bytes: encode(trackers, 10 + n * 0.001), arrivalS: 1000 + n * 0.001 };
    });
    return { name, together, engine: engineOf(input), datagrams, times: [] };
  });
  for (let block = 0; block <= BLOCKS; block++) {
    for (const way of ways) {
      const { engine, datagrams, together, times } = way;
      const count = POSITIONS / together;
      const before = process.cpuUsage();
      for (let i = 0; i < count; i++) {
        const { received } = engine.reception;
        receive(engine.reception, datagrams[i % datagrams.length], 0, 2000);
        if (received.count !== together)
          throw new Error(`${way.name}: ${received.count} positions`);
      }
      const { user, system } = process.cpuUsage(before);
      if (block > 0) times.push((user + system) / POSITIONS);
    }
  }
  console.log(
    '\nA position, from its datagram to a report in the stage frame (us of CPU; least, median)',
  );
  for (const { name, times } of ways) {
    times.sort((a, b) => a - b);
    const at = share => times[Math.floor(share * (times.length - 1))].toFixed(2);
    console.log(`${name.padEnd(32)} ${at(0)}  ${at(0.5)}`);
  }
}
