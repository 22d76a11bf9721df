// Faults of a desk whose light lies under the show's; see faults.mjs.
import { setTimeout as sleep } from 'node:timers/promises';
import { engineSpeaksOf, wayS } from './declared.mjs';
import { HOSTS, PORT } from './hosts.mjs';

/** The desk is on the host of the second machine: what comes from there is no stream of ours. */
const DESK_HOST = 'lwcb';
export const UNIVERSE = 101;
/** Slots from 1: one that no fixture has; and the one that counts the desk's packets. */
export const FREE = 300;
export const COUNT = 512;
/** The stove is at 20 per cent in the safe look: the desk has it there too, so that the table's times say when. */
const STOVE = 51;
const FLOOD_HZ = 20_000;
/** A beat of 25 ms, and what a machine with two cores may be late by. */
const BEAT_S = 0.025;
const LATE_S = 0.015;

const show = text =>
  overDesk(text.replace(/(stove-glow: \{[^\n]*safe: \{ Dimmer: 20 \})/, '$1, ground: safe'));

/** The same show over the light of a desk: what no fixture has is the desk's. */
export const overDesk = text => `${text}
desk:
  stage: { protocol: sacn, universe: ${UNIVERSE}, interface: ${PORT}, ground: 1, fade: 1 }
`;

/** @returns its process, and what tells it to do something (desk.mjs) */
export function startDesk(rig, name, priority) {
  const args = [HOSTS[DESK_HOST], String(UNIVERSE), name, String(priority)];
  const child = rig.beside(DESK_HOST, [process.execPath, 'campaign/desk.mjs', ...args]);
  child.stdin.on('error', () => undefined);
  const say = order => child.stdin.write(`${JSON.stringify(order)}\n`);
  say({ set: { 1: STOVE, [FREE]: 77 } });
  return { child, say };
}

const desk = (rig, name, priority) => startDesk(rig, name, priority).say;

/** It is heard before anything is done to it. */
async function withDesk(rig) {
  rig.desk = desk(rig, 'main', 100);
  await engineSpeaksOf(rig, 'desk-heard');
  await sleep(1500);
}

const slot = ({ slots }, number) => slots[number - 1];
const isOurs = ({ protocol, universe, from }) =>
  protocol === 'sacn' && universe === 1 && from === HOSTS.lwca;
const isDesk = ({ universe }) => universe === UNIVERSE;

/** From each packet of the desk to ours that has its count by the kernel's stamps, in order, seconds; and how many never came. */
function wayOfCounts(rig, fromS, toS) {
  const { packets } = rig.capture;
  const waysS = [];
  let [missed, seen] = [0, 0];
  packets.forEach((packet, i) => {
    if (!isDesk(packet) || packet.atS < fromS || packet.atS > toS) return;
    const count = slot(packet, COUNT);
    const after = packets.slice(i, i + 400).filter(isOurs);
    const ours = after.find(one => slot(one, COUNT) === count && one.atS - packet.atS < 1);
    // Two packets of the desk may come within a beat of ours.
    if (ours === undefined) missed += 1;
    else waysS.push(ours.atS - packet.atS);
    seen += 1;
  });
  return { waysS: waysS.sort((a, b) => a - b), missed, seen };
}

/** What the desk drives came, and in time. @returns true, or what is wrong */
function inTime(rig, fromS, toS, mostS = BEAT_S + LATE_S) {
  const { waysS, missed, seen } = wayOfCounts(rig, fromS, toS);
  const longestS = waysS.at(-1) ?? 0;
  const ms = share => `${(1e3 * (waysS[Math.floor(share * waysS.length)] ?? 0)).toFixed(1)}`;
  rig.note = `desk to wire: median ${ms(0.5)}, 95 of 100 within ${ms(0.95)}, ${(1e3 * longestS).toFixed(1)} ms at the most, of ${seen} packets; ${missed} were followed by another within a beat`;
  if (seen < 40) return `the desk sent only ${seen} packets`;
  if (missed > seen / 3) return `${missed} of ${seen} levels of the desk never came`;
  return longestS <= mostS || `a level of the desk took ${(1e3 * longestS).toFixed(0)} ms`;
}

/** The desk's universes come and go: they are no streams of ours. */
const ends = [UNIVERSE];

export const DESK_FAULTS = [
  {
    name: 'desk gone for 5 s and back, under the show',
    ends,
    show,
    ola: false,
    async inject(rig) {
      await withDesk(rig);
      rig.desk({ silent: true });
      rig.goneS = Date.now() / 1000;
      await engineSpeaksOf(rig, 'desk-gone');
      await sleep(2000);
      rig.desk({ silent: false, set: { [FREE]: 200 } });
      rig.backS = Date.now() / 1000;
      await engineSpeaksOf(rig, 'desk-heard', 2);
      await sleep(2500);
    },
    check(rig) {
      const gone = rig.capture.packets.filter(
        one => isOurs(one) && one.atS > rig.goneS + 0.1 && one.atS < rig.backS,
      );
      if (gone.some(one => slot(one, FREE) !== 77)) return 'what the desk drove was not held';
      return inTime(rig, rig.backS + 0.1, Date.now() / 1000 - 1);
    },
  },
  {
    name: 'engine killed under the desk',
    declaredS: wayS,
    ends,
    show,
    ola: false,
    async inject(rig) {
      await withDesk(rig);
      rig.struckS = Date.now() / 1000;
      rig.daemon.signalEngine('SIGKILL');
    },
    check: rig => inTime(rig, rig.struckS, Date.now() / 1000 - 1),
  },
  {
    name: 'two desks on one universe',
    ends,
    show,
    ola: false,
    async inject(rig) {
      await withDesk(rig);
      const spare = desk(rig, 'spare', 150);
      spare({ set: { [FREE]: 12 } });
      await engineSpeaksOf(rig, 'desk-sources');
      await sleep(500);
      rig.spareFree = slot({ slots: rig.capture.latest('sacn', 1) }, FREE);
      spare({ silent: true });
      await engineSpeaksOf(rig, 'desk-sources', 2);
      rig.backS = Date.now() / 1000;
      await sleep(3000);
    },
    check(rig) {
      if (rig.spareFree !== 12) return 'the higher priority did not lead';
      return inTime(rig, rig.backS, Date.now() / 1000 - 1);
    },
  },
  {
    name: `a flood of ${FLOOD_HZ} packets of 400 universes a second beside the desk`,
    ends: [UNIVERSE, ...Array.from({ length: 400 }, (_, i) => 1000 + i)],
    show,
    ola: false,
    async inject(rig) {
      await withDesk(rig);
      const other = desk(rig, 'flood', 1);
      other({ silent: true });
      rig.floodS = Date.now() / 1000;
      other({ flood: [FLOOD_HZ, HOSTS.lwca] });
      await engineSpeaksOf(rig, 'desk-flood');
      await sleep(4000);
      other({ flood: null });
      rig.floodedS = Date.now() / 1000;
    },
    // What there is of cores is taken by the flood as well.
    check: rig => inTime(rig, rig.floodS, rig.floodedS, 3 * BEAT_S),
  },
];
