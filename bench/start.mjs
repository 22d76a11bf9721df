// From the start of the process to its first packet, and to a lamp that follows a tracker; beside a Node that does
// nothing. By wall and by the processor's time: the second means something on a busy machine too.
import { spawn } from 'node:child_process';
import { createSocket } from 'node:dgram';
import { setTimeout as sleep } from 'node:timers/promises';
import { encodePacket } from '../dist/protocols/osc/encode.js';
import { cpuS, family, start, stop } from './processes.mjs';

const SHOW = 'config/minimal.show.yaml';
/** Slot of its lamp in an E1.31 packet, and the level at which the lamp is live. */
const [LAMP_AT, LIVE] = [126, 255];

export async function benchStart(rounds) {
  console.log(
    '\nstart (medians)          first packet, s    live, s    CPU until then, s: first packet, live',
  );
  const nodes = [];
  const rows = [];
  for (let round = 0; round < rounds; round++) {
    nodes.push(await bareNode());
    rows.push(await once());
  }
  const column = key => median(rows.map(row => row[key])).toFixed(2);
  console.log(`node -e 0                ${median(nodes).toFixed(2)}`);
  console.log(
    `run                      ${column('firstS')}               ${column('liveS')}       ${column('firstCpuS')}, ${column('liveCpuS')}`,
  );
}

async function bareNode() {
  const beganMs = performance.now();
  const child = spawn(process.execPath, ['-e', '0']);
  await new Promise(resolve => child.once('exit', resolve));
  return (performance.now() - beganMs) / 1000;
}

async function once() {
  const receiver = createSocket('udp4');
  await new Promise(resolve => receiver.bind(5568, '127.0.0.1', resolve));
  const sender = createSocket('udp4');
  const args = [2, 3, 1.4].map(value => ({ type: 'f', value }));
  const report = encodePacket({ address: '/tracker/1/position', args });
  const timer = setInterval(() => sender.send(report, 9010, '127.0.0.1'), 25);
  const beganMs = performance.now();
  const child = start(['dist/main.js', 'run', SHOW, '--log', 'json']);
  const sinceS = () => (performance.now() - beganMs) / 1000;
  const found = {};
  receiver.on('message', bytes => {
    if (found.firstS === undefined) {
      found.firstS = sinceS();
      found.firstCpuS = cpuS(family(child.pid));
    }
    if (found.liveS === undefined && bytes[LAMP_AT] === LIVE) {
      found.liveS = sinceS();
      found.liveCpuS = cpuS(family(child.pid));
    }
  });
  while (found.liveS === undefined && sinceS() < 60) await sleep(10);
  clearInterval(timer);
  await stop(child);
  receiver.close();
  sender.close();
  return found;
}

function median(values) {
  return values.sort((a, b) => a - b)[Math.floor(values.length / 2)];
}
