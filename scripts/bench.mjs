// npm run bench -- --help
// Measures the daemon beside the floor, in turn, in one run; prints ratios, not verdicts.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { setPriority, tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { benchAiming } from '../bench/aiming.mjs';
import { benchCpu } from '../bench/cpu.mjs';
import { benchDesk } from '../bench/desk.mjs';
import { benchHandOver } from '../bench/hand-over.mjs';
import { COMPANY, HOUSE, houseShow } from '../bench/house.mjs';
import { benchInput } from '../bench/input.mjs';
import { benchOutputLimiter } from '../bench/output-limiter.mjs';
import { cpuS, family, rssMiB, start, stop } from '../bench/processes.mjs';
import { benchRecorder } from '../bench/recorder.mjs';
import { benchReload } from '../bench/reload.mjs';
import { benchReloadMemory } from '../bench/reload-memory.mjs';
import { benchSignals } from '../bench/signals.mjs';
import { benchStart } from '../bench/start.mjs';
import { benchTracking } from '../bench/tracking.mjs';
import { hearProbe } from '../bench/wire.mjs';
import { monotonicS } from '../dist/daemon/machine/clock.js';
import { readOptions } from './options.mjs';

const PARTS = [
  'input',
  'tracking',
  'aiming',
  'limiter',
  'signals',
  'hand-over',
  'start',
  'cpu',
  'peers',
  'recording',
  'desk',
  'reload',
  'latency',
  'memory',
  'reload-memory',
];
const USAGE = `
npm run bench [-- OPTIONS]

Measures the daemon beside the floor (the same sockets, packets and rates without any of the work), in turn, in one
run; prints ratios, not verdicts (docs/reference/performance.md).

  --parts LIST   of ${PARTS.join(', ')};
                 tracking,aiming,cpu,latency unless said
  --seconds N    of each measurement, 15 unless said
  --rounds N     of each pair, 3 unless said
  --minutes N    of the part memory, 10 unless said
  --help         this

  npm run bench -- --parts cpu --rounds 1
`;
const { values } = readOptions(USAGE, {
  seconds: { type: 'string', default: '15', least: 1 },
  rounds: { type: 'string', default: '3', least: 1 },
  minutes: { type: 'string', default: '10', least: 1 },
  parts: { type: 'string', default: 'tracking,aiming,cpu,latency', from: PARTS },
});
const { parts, seconds, rounds, minutes } = values;
/**
 * Until the lights are live, which takes 3 s, and what runs in each tick has been compiled: at 12 s the compiler's own
 * threads still take a tenth of what the daemon does.
 */
const WARM_UP_S = 30;
/** As the service gives it (systemd/): ahead of what else runs here, which is the sender for one. */
const PRIORITY = -10;
const folder = mkdtempSync(join(tmpdir(), 'lampwright-bench-'));
const show = join(folder, 'house.show.yaml');
writeFileSync(show, houseShow());
const smallShow = join(folder, 'company.show.yaml');
writeFileSync(smallShow, houseShow(COMPANY));

const sizeOf = ({ performers, reportHz, fixtures, universes, outputHz }) =>
  `${performers} performers x ${reportHz} Hz, ${fixtures} fixtures, ${universes} universes x ${outputHz} Hz`;
console.log(sizeOf(HOUSE));

if (parts.includes('input')) benchInput();
if (parts.includes('tracking')) benchTracking();
if (parts.includes('aiming')) benchAiming();
if (parts.includes('limiter')) benchOutputLimiter();
if (parts.includes('signals')) benchSignals();
if (parts.includes('hand-over')) benchHandOver();
if (parts.includes('start')) await benchStart(rounds);

const sink = start(['bench/sink.mjs']);
// On a busy machine it would send less, and in fewer bursts, to one of them than to the other.
let feed = startAhead(['bench/performers.mjs']);
try {
  const run = ['dist/main.js', 'run', show, '--log', 'json'];
  const floor = ['bench/floor.mjs'];
  if (parts.includes('cpu')) {
    const floors = { floor, 'floor of two': ['bench/floor-two.mjs'] };
    await benchCpu(cpuOf, run, floors, seconds, rounds);
  }
  if (parts.includes('peers')) {
    const peers = {
      'osc + sacn': ['bench/peer.mjs', 'sacn'],
      'osc + dmxnet': ['bench/peer.mjs', 'dmxnet'],
    };
    await benchCpu(cpuOf, run, { floor, ...peers }, seconds, rounds);
  }
  if (parts.includes('recording')) {
    const alone = await benchRecorder(seconds);
    await recording(seconds, rounds, alone);
  }
  if (parts.includes('desk')) await benchDesk(folder, seconds, rounds, startAhead, WARM_UP_S);
  if (parts.includes('reload')) {
    await benchReload(join(folder, 'signals.show.yaml'), rounds, startAhead);
  }
  if (parts.includes('latency')) await latency(HOUSE, show, seconds);
  if (parts.includes('memory')) await memory(minutes);
  if (parts.includes('reload-memory')) await benchReloadMemory(show, WARM_UP_S);
  if (parts.includes('latency')) {
    await stop(feed);
    feed = startAhead(['bench/performers.mjs', 'company']);
    await latency(COMPANY, smallShow, seconds);
  }
} finally {
  await stop(feed);
  await stop(sink);
  rmSync(folder, { recursive: true });
}

async function recording(seconds, rounds, alone) {
  console.log(`\nCPU with and without --record over ${seconds} s, per cent of one core`);
  console.log('round   without      with   (supervisor + engine)   more');
  const more = [];
  const usual = [];
  for (let round = 1; round <= rounds; round++) {
    const args = ['dist/main.js', 'run', show, '--log', 'json'];
    const without = await cpuOf(args, seconds);
    usual.push(without.total);
    const recorded = await cpuOf([...args, '--record', join(folder, 'recordings')], seconds);
    more.push(recorded.total / without.total - 1);
    const each = recorded.each.map(percent).join(' + ');
    console.log(
      `${String(round).padEnd(8)}${percent(without.total)}  ${percent(recorded.total)}   (${each})   ${percent(more.at(-1))}`,
    );
  }
  more.sort((a, b) => a - b);
  usual.sort((a, b) => a - b);
  const share = alone / 100 / usual[Math.floor(usual.length / 2)];
  console.log(`median ${percent(more[Math.floor(more.length / 2)])} more`);
  console.log(`the recorder alone is ${percent(share)} of the daemon's CPU`);
}

/** Its children are as far ahead. Only root may; without, others delay it more. */
function startAhead(args, options) {
  const child = start(args, options);
  try {
    setPriority(child.pid, PRIORITY);
  } catch {
    console.log('(not root: it runs at the priority of all others)');
  }
  return child;
}

async function cpuOf(args, seconds) {
  const child = startAhead(args);
  await sleep(WARM_UP_S * 1000);
  const pids = family(child.pid);
  const before = pids.map(pid => cpuS([pid]));
  await sleep(seconds * 1000);
  if (family(child.pid).join() !== pids.join())
    throw new Error('a process ended while it was measured');
  const each = pids.map((pid, i) => (cpuS([pid]) - before[i]) / seconds);
  await stop(child);
  return { each, total: each.reduce((a, b) => a + b, 0) };
}

/** From the start of a tick, when its datagrams are drained, to the packet of the middle universe. */
async function latency(house, file, seconds) {
  console.log(`\nOSC datagram to sACN packet beyond the wait for the tick, ms; ${sizeOf(house)}`);
  const size = house === COMPANY ? 'company' : 'house';
  const floor = await delaysOf(['bench/floor.mjs', size, '--trace-ticks'], seconds);
  const daemon = await delaysOf(
    ['dist/main.js', 'run', file, '--log', 'json', '--trace-ticks'],
    seconds,
  );
  console.log(daemon.how);
  console.log(`floor   ${quantiles(floor.delaysMs)}`);
  console.log(`daemon  ${quantiles(daemon.delaysMs)}`);
  console.log(`  of which the engine's tick  ${quantiles(daemon.ticksMs)}`);
}

async function delaysOf(args, seconds) {
  const probe = await hearProbe();
  const child = startAhead(args, { stdout: 'pipe' });
  const ticks = [];
  createInterface({ input: child.stdout }).on('line', line => {
    const entry = JSON.parse(line);
    if (entry.kind === 'tick') ticks.push(entry);
  });
  await sleep(WARM_UP_S * 1000);
  const since = monotonicS();
  await sleep(seconds * 1000);
  const until = monotonicS();
  const arrivals = await probe.stop();
  await stop(child);
  const kept = ticks.filter(tick => tick.startS > since && tick.startS < until);
  const delaysMs = [];
  let next = 0;
  for (const atS of arrivals) {
    while (next + 1 < kept.length && kept[next + 1].startS <= atS) next += 1;
    const delayS = atS - (kept[next]?.startS ?? Number.NaN);
    if (delayS >= 0 && delayS < 1 / HOUSE.outputHz) delaysMs.push(delayS * 1000);
  }
  return { how: probe.how, delaysMs, ticksMs: kept.map(tick => tick.tookS * 1000) };
}

async function memory(minutes) {
  console.log('\nresident memory, MiB: minute, supervisor, engine');
  const child = start(['dist/main.js', 'run', show, '--log', 'json']);
  await sleep(WARM_UP_S * 1000);
  for (let minute = 0; minute <= minutes; minute++) {
    const sizes = family(child.pid).map(pid => rssMiB(pid).toFixed(0).padStart(6));
    console.log(`${String(minute).padStart(4)} ${sizes.join(' ')}`);
    if (minute < minutes) await sleep(60_000);
  }
  await stop(child);
}

function quantiles(list) {
  const sorted = [...list].sort((a, b) => a - b);
  const at = share =>
    (sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN).toFixed(
      2,
    );
  return `p50 ${at(0.5)}   p95 ${at(0.95)}   p99 ${at(0.99)}   worst ${at(1)}   (${sorted.length})`;
}

function percent(share) {
  return `${(share * 100).toFixed(1)} %`.padStart(7);
}
