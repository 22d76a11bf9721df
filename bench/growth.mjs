// node bench/growth.mjs [FILE.svg]
// What a tick costs as a house grows: positions read and tracked, the light computed, its universes sent to sockets that
// exist. In one process, so without the pipe; one process a size. In the processor's time, which other work disturbs least.
import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { loadavg } from 'node:os';
import { fileURLToPath } from 'node:url';
import { LightingOutput } from '../dist/daemon/lighting/lighting-output.js';
import { createEngine } from '../dist/engine/engine.js';
import { step } from '../dist/engine/step.js';
import { encodePacket } from '../dist/protocols/osc/encode.js';
import { drawCharts, evenMarks } from '../dist/rehearsal/chart.js';
import { parseShow } from '../dist/show/parse.js';
import { houseShow } from './house.mjs';
import { start, stop } from './processes.mjs';

const HZ = 40;
const WARM_UP_TICKS = 240;
const PASSES = 3;
const [BLOCKS, BLOCK_TICKS] = [16, 20];
/** What is not varied stays as large as the largest of the other axis needs it. */
const AXES = [
  { what: 'performers', sizes: [10, 50, 100, 200, 400], fixtures: 1000, universes: 64 },
  { what: 'universes', sizes: [8, 64, 128, 256, 512], performers: 100, fixtures: 200 },
  { what: 'fixtures', sizes: [40, 500, 1000, 2000, 4000], performers: 20, universes: 160 },
];

if (process.argv[2] === 'one') await measure(JSON.parse(process.argv[3]));
else await grow(process.argv[2]);

/** Prints microseconds a tick, and the memory that is held. */
async function measure(house) {
  const parsed = parseShow(houseShow({ ...house, outputHz: HZ }), 'house.show.yaml');
  if (!parsed.ok) throw new Error(parsed.problems.map(({ message }) => message).join('\n'));
  const { show } = parsed;
  const engine = createEngine(show);
  let nowS = 1000;
  const opened = await LightingOutput.open({
    outputs: show.outputs,
    universeCount: show.universes.length,
    sourceName: 'growth',
    partnerName: 'none',
    mayBePartner: () => false,
    cid: new Uint8Array(16),
    beatS: 1 / HZ,
    admits: () => true,
    onEvent: () => undefined,
    now: () => nowS,
  });
  if (!opened.ok) throw new Error(opened.problems.join('\n'));
  const costs = [];
  for (let block = -WARM_UP_TICKS / BLOCK_TICKS; block < BLOCKS; block++) {
    const ticks = Array.from({ length: BLOCK_TICKS }, (_, i) =>
      datagramsAt(house, nowS + (i + 1) / HZ),
    );
    const before = process.cpuUsage();
    for (const datagrams of ticks) {
      nowS += 1 / HZ;
      const { levels } = step(engine, { datagrams, unixOffsetS: 0, operator: [] }, nowS);
      opened.output.send(levels, nowS);
      await new Promise(setImmediate);
    }
    const { user, system } = process.cpuUsage(before);
    if (block >= 0) costs.push((user + system) / BLOCK_TICKS);
  }
  const { heapUsed, arrayBuffers } = process.memoryUsage();
  await opened.output.close();
  // The least: others on the machine only make it more.
  const us = Math.min(...costs);
  console.log(JSON.stringify({ us, heldMiB: (heapUsed + arrayBuffers) / 2 ** 20 }));
}

/** Everybody walks in a circle, and is heard in each tick. */
function datagramsAt({ performers }, nowS) {
  return Array.from({ length: performers }, (_, p) => {
    const angle = nowS * (0.2 + (p % 7) * 0.03) + p;
    const place = [15 + 12 * Math.cos(angle), 10 + 8 * Math.sin(angle), 1.5, 1];
    const args = place.map(value => ({ type: 'f', value }));
    const bytes = encodePacket({ address: `/tracker/${p + 1}/position`, args });
    return { input: 0, arrivalS: nowS, bytes: Buffer.from(bytes) };
  });
}

async function grow(file) {
  const sink = start(['bench/sink.mjs']);
  const charts = [];
  for (const { what, sizes, ...rest } of AXES) {
    const others = Object.entries(rest)
      .map(([key, n]) => `${n} ${key}`)
      .join(', ');
    const points = leastOf(PASSES, () =>
      sizes.map(size => ({ size, ...inItsOwn({ ...rest, [what]: size }) })),
    );
    const line = straightLine(points);
    const offs = points.map(({ size, us }) => us / (line.at + line.each * size) - 1);
    const most = Math.max(...offs.map(Math.abs));
    console.log(
      `\n${what} (${others}): ${line.at.toFixed(0)} us a tick, and ${line.each.toFixed(2)} each; off the line by ${(100 * most).toFixed(0)} % at most; load ${loadavg()[0].toFixed(1)}`,
    );
    points.forEach(({ size, us, heldMiB }, i) => {
      const share = `${((us * HZ) / 1e4).toFixed(1)} % of a core at ${HZ} Hz`;
      console.log(
        `  ${String(size).padStart(5)}  ${us.toFixed(0).padStart(6)} us (${share}), ${heldMiB.toFixed(0)} MiB, ${(100 * offs[i]).toFixed(0)} % off`,
      );
    });
    charts.push(chartOf(what, others, points, line));
  }
  await stop(sink);
  if (file !== undefined) writeFileSync(file, drawCharts(charts));
}

/** In turn, so that what else the machine does is in all of them. */
function leastOf(passes, measureAll) {
  const all = Array.from({ length: passes }, measureAll);
  return all[0].map((_, i) =>
    all.map(points => points[i]).reduce((least, one) => (one.us < least.us ? one : least)),
  );
}

function inItsOwn(house) {
  const args = [fileURLToPath(import.meta.url), 'one', JSON.stringify(house)];
  return JSON.parse(execFileSync(process.execPath, args, { encoding: 'utf8' }));
}

/** A straight line; each point counts by how far it is off in proportion. */
function straightLine(points) {
  let [w, x, y, xx, xy] = [0, 0, 0, 0, 0];
  for (const { size, us } of points) {
    const weight = 1 / us ** 2;
    w += weight;
    x += weight * size;
    y += weight * us;
    xx += weight * size * size;
    xy += weight * size * us;
  }
  const each = (w * xy - x * y) / (w * xx - x * x);
  return { each, at: (y - each * x) / w };
}

function chartOf(what, others, points, { at, each }) {
  const high = Math.max(...points.map(({ us }) => us)) / 1e3;
  const most = points.at(-1).size;
  return {
    title: `A tick by ${what} (${others})`,
    across: { label: what, low: 0, high: most, marks: points.map(({ size }) => size).slice(1) },
    up: { label: 'ms of processor', low: 0, high: high * 1.1, marks: evenMarks(0, high, 4) },
    draw: ({ x, y }) =>
      [
        `<line x1="${x(0)}" y1="${y(at / 1e3)}" x2="${x(most)}" y2="${y((at + each * most) / 1e3)}" stroke="#888" stroke-dasharray="4 3"/>`,
        ...points.map(
          ({ size, us }) =>
            `<circle cx="${x(size).toFixed(1)}" cy="${y(us / 1e3).toFixed(1)}" r="4" fill="#1f5f8b"/>`,
        ),
      ].join('\n'),
  };
}
