// What a desk costs: the daemon with nothing to do, with universes out, with as many in, and with the one laid on the other; at once.
// Sixteen are too few to be seen beside all else that a machine does: it is four times as many.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { family, scheduledS, start, stop } from './processes.mjs';

const UNIVERSES = 64;
const SINK = '127.0.7.9';
const numbers = Array.from({ length: UNIVERSES }, (_, i) => i + 1);

/**
 * The show of one of CASES.
 * @param here address, on the loopback interface
 * @param port of the tracking
 * @param firstUniverse of those that it sends: on one interface a universe is one process's alone
 */
function show(name, here, port, firstUniverse) {
  const { outputs, inputs = 0, grounds = false } = CASES[name];
  const lamps = numbers.slice(0, outputs);
  const sent = n => firstUniverse - 1 + n;
  const moves = outputs > 1 && !grounds;
  const desk = numbers.slice(0, inputs).map(n => {
    const ground = grounds ? `, ground: ${sent(n)}` : '';
    return `  d${n}: { protocol: sacn, universe: ${100 + n}, interface: ${here}${ground} }`;
  });
  return `lampwright: 1
name: Desk ${name}
stage: { x: [0, 6], y: [0, 4] }
inputs: { tracking: { port: ${port}, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] } }
zones: { stove: { circle: { centre: [2, 3], radius: 0.8 } } }
signals: { sea: { wave: { shape: sine, period: 0.5 } } }
fixtures:
${lamps.map(n => `  lamp${n}: { profile: dimmer, universe: ${sent(n)}, address: 1 }`).join('\n')}
mappings: [{ ${moves ? 'by: sea' : 'zone: stove'}, fixtures: [${lamps.map(n => `lamp${n}`).join(', ')}], set: { Dimmer: 100 } }]
desk: ${desk.length === 0 ? '{}' : `\n${desk.join('\n')}`}
outputs: { lamps: { protocol: sacn, interface: ${here}, to: [${SINK}], universes: ["${sent(1)}-${sent(outputs)}"] } }
`;
}

/**
 * outputs: universes that are sent; of more than one all change in each beat. inputs: universes that are heard, all of which change.
 * grounds: they lie under those that are sent.
 */
const CASES = {
  idle: { outputs: 1 },
  out: { outputs: UNIVERSES },
  in: { outputs: 1, inputs: UNIVERSES },
  'in under out': { outputs: UNIVERSES, inputs: UNIVERSES, grounds: true },
};

/**
 * All four run at once, each on an address of its own, and are measured over the same seconds, so that whatever else the machine does
 * is done to all of them.
 * @param startDaemon starts a process with these arguments
 */
export async function benchDesk(folder, seconds, rounds, startDaemon, warmUpS) {
  console.log(
    `\nCPU of ${UNIVERSES} universes at 40 Hz over ${seconds} s, per cent of one core, all at once`,
  );
  const names = Object.keys(CASES);
  const here = names.map((_, i) => `127.0.7.${i + 1}`);
  const started = [start(['bench/desk-sender.mjs', String(UNIVERSES), ...here.slice(2)])];
  const ratios = [];
  try {
    names.forEach((name, i) => {
      const file = join(folder, `desk-${name.replaceAll(' ', '-')}.show.yaml`);
      writeFileSync(file, show(name, here[i], 9047 + i, 1 + 1000 * i));
      started.push(startDaemon(['dist/main.js', 'run', file, '--log', 'json', '--panel', 'off']));
    });
    await sleep(warmUpS * 1000);
    const families = started.slice(1).map(({ pid }) => family(pid));
    console.log(`round   ${names.map(name => name.padStart(12)).join('')}   in / out`);
    for (let round = 1; round <= rounds; round++) {
      const before = families.map(scheduledS);
      await sleep(seconds * 1000);
      const shares = families.map((pids, i) => (scheduledS(pids) - before[i]) / seconds);
      const [idle, out, heard] = shares;
      ratios.push((heard - idle) / (out - idle));
      const cells = shares.map(share => `${(100 * share).toFixed(2)} %`.padStart(12)).join('');
      console.log(`${String(round).padEnd(8)}${cells}   ${ratios.at(-1).toFixed(2)}`);
    }
  } finally {
    for (const child of started) await stop(child);
  }
  ratios.sort((a, b) => a - b);
  const at = share => ratios[Math.round(share * (ratios.length - 1))].toFixed(2);
  console.log(
    `what in costs to what out does: ${at(0)} to ${at(1)}, median ${at(0.5)}, half of the rounds ${at(0.25)} to ${at(0.75)}`,
  );
}
