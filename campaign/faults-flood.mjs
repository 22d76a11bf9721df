// Floods of an input; see faults.mjs.
import { watchBurden } from './burden.mjs';
import { flood, LEAST_HZ, OSC, PSN } from './flood.mjs';
import { PORT } from './hosts.mjs';
import { until } from './rig.mjs';

/** Datagrams that the daemon says it has dropped, for whatever reason: those that its sockets had no room for too. */
const toldOf = rig =>
  rig.daemon
    .told('dropped')
    .flatMap(({ drops }) => Object.values(drops))
    .reduce((sum, count) => sum + count, 0);
const untoldOf = rig => Math.abs(rig.flood.sent - toldOf(rig));

const floodOf = (name, kind, more = {}) => ({
  name,
  // Real reports drown in the kernel's buffer: then the light goes to safe as for a silent tracker.
  mayGo: true,
  options: ['--trace-ticks'],
  async inject(rig) {
    rig.burden = watchBurden(rig);
    rig.flood = await flood(rig, 'lwcg', 'lwca', kind);
    rig.burden.end();
  },
  // What was dropped is told every 10 s, from counts that may be a second old.
  clear: rig =>
    until('all of the flood is told of', () => untoldOf(rig) < rig.flood.sent / 100, 15),
  check(rig) {
    const { sent, cameHz, droppedByInterface, droppedAtSocket } = rig.flood;
    const { words, wrong } = rig.burden.result(rig);
    rig.note = `${Math.round(cameHz)} datagrams/s came to the interface; of ${sent} in all it dropped ${droppedByInterface}, the socket ${droppedAtSocket}, and the daemon told of ${toldOf(rig)}; ${words}`;
    if (!rig.quick && cameHz < LEAST_HZ) return `no flood: ${Math.round(cameHz)} datagrams/s`;
    return wrong ?? true;
  },
  ...more,
});

/** Another tracking system beside the show's own, whose server sends to our address. */
const besidePsn = text =>
  text.replace(
    '\ninputs:\n',
    `\ninputs:\n  other: { protocol: psn, interface: ${PORT}, group: none, axes: [x, z, y] }\n`,
  );

export const FLOOD_FAULTS = [
  floodOf('flood, 100,000 datagrams/s', OSC, { quick: true }),
  floodOf('flood of PosiStageNet, 100,000 datagrams/s', PSN, { show: besidePsn }),
];
