// What a cue on all fixtures and a reload cost the large house with signals, mappings and cues: its ticks, and the packets of one universe.
import { createSocket } from 'node:dgram';
import { writeFileSync } from 'node:fs';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { monotonicS } from '../dist/daemon/machine/clock.js';
import { encodePacket } from '../dist/protocols/osc/encode.js';
import { HOUSE } from './house.mjs';
import { stop } from './processes.mjs';
import { signalHouse } from './signals.mjs';
import { hearProbe } from './wire.mjs';

const OPERATOR_PORT = 19011;
const WARM_UP_S = 12;
const CROSSFADE_S = 2;
const PERIOD_S = 1 / HOUSE.outputHz;
/** All of it: two looks of every fixture. */
const ALL = ['dim', 'bright'];
/** The first cue of a show is on from the start: a change begins with the other one. */
const ORDER = ['bright', 'dim'];

function bigShow(percent) {
  const every = level =>
    Array.from({ length: HOUSE.fixtures }, (_, i) => {
      const isHead = i < HOUSE.fixtures - HOUSE.performers;
      return `${isHead ? 'head' : 'lamp'}-${i + 1}: { Dimmer: ${level} }`;
    }).join(', ');
  const cues = ALL.map((name, i) => `  ${name}: { fade: 0, base: { ${every(20 + 60 * i)} } }`);
  return `${signalHouse()
    .replace('cues:\n', `cues:\n${cues.join('\n')}\n`)
    .replaceAll(
      'Dimmer: 90',
      `Dimmer: ${percent}`,
    )}operator: { port: ${OPERATOR_PORT} }\nreload: ${CROSSFADE_S}\n`;
}

/**
 * @param file where the show may be written
 * @param startAhead starts a process at the priority that the service gives it
 */
export async function benchReload(file, rounds, startAhead) {
  writeFileSync(file, bigShow(90));
  const probe = await hearProbe();
  const child = startAhead(['dist/main.js', 'run', file, '--log', 'json', '--trace-ticks'], {
    stdout: 'pipe',
  });
  const ticks = [];
  const entries = [];
  createInterface({ input: child.stdout }).on('line', line => {
    const entry = JSON.parse(line);
    if (entry.kind === 'tick') ticks.push(entry);
    else entries.push(entry);
  });
  const loaded = () => entries.filter(({ kind }) => kind === 'reloaded').length;
  const refused = () => entries.find(({ kind }) => kind === 'reload-refused')?.msg;
  const reloads = [];
  const quiet = [];
  const socket = createSocket('udp4');
  const cues = [];
  try {
    await until('the first tick', () => ticks.length > 0);
    await sleep(WARM_UP_S * 1000);
    for (let round = 0; round < rounds; round++) {
      let fromS = monotonicS();
      await sleep(3000);
      quiet.push([fromS, monotonicS()]);
      fromS = monotonicS();
      writeFileSync(file, bigShow(round % 2 === 0 ? 70 : 90));
      child.kill('SIGHUP');
      await until('the reload', () => loaded() > round || refused() !== undefined);
      if (refused() !== undefined) throw new Error(refused());
      await sleep((CROSSFADE_S + 1) * 1000);
      reloads.push([fromS, monotonicS()]);
      for (const name of ORDER) {
        cues.push(monotonicS());
        const order = { address: '/lampwright/cue', args: [{ type: 's', value: name }] };
        socket.send(encodePacket(order), OPERATOR_PORT, '127.0.0.1');
        await sleep(1000);
      }
    }
  } finally {
    socket.close();
    await stop(child);
  }
  const packets = await probe.stop();
  const starts = ticks.map(({ startS }) => startS);
  console.log(
    `\na reload of the large house with all that while it runs, ${rounds} times; ${probe.how}`,
  );
  console.log(`  without one   ${lost(starts, quiet)} ticks lost, packets ${gaps(packets, quiet)}`);
  console.log(
    `  with one      ${lost(starts, reloads)} ticks lost, packets ${gaps(packets, reloads)}`,
  );
  const first = cues.map(atS => ticks.find(({ startS }) => startS >= atS)?.tookS ?? Number.NaN);
  const usual = ticks.filter(({ startS }) =>
    quiet.some(([from, to]) => startS > from && startS < to),
  );
  console.log(
    `a cue on ${HOUSE.fixtures} fixtures: its tick takes ${quantiles(first)}; others ${quantiles(usual.map(({ tookS }) => tookS))}`,
  );
  const done = entries.filter(({ kind }) => kind === 'cue').length;
  if (done !== cues.length) throw new Error(`${done} of ${cues.length} cues came on`);
}

const within = (stamps, windows) =>
  windows.map(([from, to]) => stamps.filter(atS => atS > from && atS < to));

async function until(what, is) {
  for (let i = 0; !is(); i++) {
    if (i > 1200) throw new Error(`${what}: not within a minute`);
    await sleep(50);
  }
}

/** Ticks that were due and never came. */
function lost(starts, windows) {
  let missing = 0;
  for (const some of within(starts, windows)) {
    for (let i = 1; i < some.length; i++)
      missing += Math.round((some[i] - some[i - 1]) / PERIOD_S) - 1;
  }
  return `${missing} of ${within(starts, windows).flat().length}`;
}

function gaps(stamps, windows) {
  const all = within(stamps, windows).flatMap(some => some.slice(1).map((atS, i) => atS - some[i]));
  return `${quantiles(all)} apart`;
}

function quantiles(list) {
  const sorted = [...list].sort((a, b) => a - b);
  const at = share =>
    (
      1000 * (sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN)
    ).toFixed(1);
  return `half within ${at(0.5)} ms, the longest ${at(1)} ms (${sorted.length})`;
}
