// What a desk costs: the daemon with nothing to do, with universes out, with as many in, and with the one laid on the other; in turn.
// Sixteen are too few to be seen beside all else that a machine does: it is four times as many.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { start, stop } from './processes.mjs';

const UNIVERSES = 64;
const HERE = '127.0.7.1';
const SINK = '127.0.7.2';
const numbers = Array.from({ length: UNIVERSES }, (_, i) => i + 1);

/**
 * @param outputs universes that are sent; of more than one all change in each beat
 * @param inputs universes that are heard, all of which change
 * @param grounds they lie under those that are sent
 */
function show({ outputs, inputs = 0, grounds = false }) {
  const lamps = numbers.slice(0, outputs);
  const moves = outputs > 1 && !grounds;
  const desk = numbers.slice(0, inputs).map(n => {
    const ground = grounds ? `, ground: ${n}` : '';
    return `  d${n}: { protocol: sacn, universe: ${100 + n}, interface: ${HERE}${ground} }`;
  });
  return `lampwright: 1
name: Desk
stage: { x: [0, 6], y: [0, 4] }
inputs: { tracking: { port: 9047, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] } }
zones: { stove: { circle: { centre: [2, 3], radius: 0.8 } } }
signals: { sea: { wave: { shape: sine, period: 0.5 } } }
fixtures:
${lamps.map(n => `  lamp${n}: { profile: dimmer, universe: ${n}, address: 1 }`).join('\n')}
mappings: [{ ${moves ? 'by: sea' : 'zone: stove'}, fixtures: [${lamps.map(n => `lamp${n}`).join(', ')}], set: { Dimmer: 100 } }]
desk: ${desk.length === 0 ? '{}' : `\n${desk.join('\n')}`}
outputs: { lamps: { protocol: sacn, interface: ${HERE}, to: [${SINK}], universes: [1${outputs > 1 ? `-${outputs}` : ''}] } }
`.replace(/universes: \[(1-\d+)\]/, 'universes: ["$1"]');
}

const CASES = {
  idle: { outputs: 1 },
  out: { outputs: UNIVERSES },
  in: { outputs: 1, inputs: UNIVERSES },
  'in under out': { outputs: UNIVERSES, inputs: UNIVERSES, grounds: true },
};

/** @param cpuOf of the daemon with these arguments, over so many seconds */
export async function benchDesk(folder, seconds, rounds, cpuOf) {
  console.log(`\nCPU of ${UNIVERSES} universes at 40 Hz over ${seconds} s, per cent of one core`);
  const names = Object.keys(CASES);
  for (const name of names) writeFileSync(fileOf(folder, name), show(CASES[name]));
  console.log(`round   ${names.map(name => name.padStart(12)).join('')}   in / out`);
  const desk = start(['bench/desk-sender.mjs', HERE, String(UNIVERSES)]);
  const ratios = [];
  try {
    for (let round = 1; round <= rounds; round++) {
      const totals = [];
      for (const name of names) {
        const args = ['dist/main.js', 'run', fileOf(folder, name), '--log', 'json'];
        totals.push((await cpuOf(args, seconds)).total);
      }
      const [idle, out, heard] = totals;
      ratios.push((heard - idle) / (out - idle));
      const cells = totals.map(total => `${(100 * total).toFixed(1)} %`.padStart(12)).join('');
      console.log(`${String(round).padEnd(8)}${cells}   ${ratios.at(-1).toFixed(2)}`);
    }
  } finally {
    await stop(desk);
  }
  ratios.sort((a, b) => a - b);
  console.log(`median of what in costs to what out does: ${ratios[ratios.length >> 1].toFixed(2)}`);
}

function fileOf(folder, name) {
  return join(folder, `desk-${name.replaceAll(' ', '-')}.show.yaml`);
}
