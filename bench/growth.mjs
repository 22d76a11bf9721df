// node bench/growth.mjs [--write] [--minutes N]: within N minutes (5), on a machine that has nothing else to do; --write puts
// table and picture into docs/reference/sizing.md.
// What a tick costs as a house grows: positions read and tracked, the light computed, its universes sent to sockets that
// exist. In one process, so without the pipe; one process a size. In the processor's time, which other work disturbs least.
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { cpus, loadavg } from 'node:os';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { LightingOutput } from '../dist/daemon/lighting/lighting-output.js';
import { createEngine } from '../dist/engine/engine.js';
import { step } from '../dist/engine/step.js';
import { encodePacket } from '../dist/protocols/osc/encode.js';
import { drawCharts, evenMarks } from '../dist/rehearsal/charts/chart.js';
import { parseShow } from '../dist/show/parse.js';
import { houseShow } from './house.mjs';
import { start, stop } from './processes.mjs';

const HZ = 40;
const WARM_UP_TICKS = 240;
const PASSES = { least: 1, most: 5 };
const PAGE = 'docs/reference/sizing.md';
const PICTURE = 'docs/reference/pictures/growth.svg';
const [BLOCKS, BLOCK_TICKS] = [16, 20];
/** What is not varied stays as large as the largest of the other axis needs it. */
const AXES = [
  { what: 'performers', sizes: [10, 50, 100, 200, 400], fixtures: 1000, universes: 64 },
  { what: 'universes', sizes: [8, 64, 128, 256, 512], performers: 100, fixtures: 200 },
  // With fewer fixtures most universes stand still, and are not sent in each tick: the line begins where all are.
  {
    what: 'fixtures',
    sizes: [40, 500, 1000, 2000, 4000],
    lineFrom: 500,
    performers: 20,
    universes: 160,
  },
];

if (process.argv[2] === 'one') await measure(JSON.parse(process.argv[3]));
else {
  const { values } = parseArgs({
    options: { write: { type: 'boolean' }, minutes: { type: 'string', default: '5' } },
  });
  await grow(values.write === true, Number(values.minutes) * 60);
}

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

async function grow(isWritten, withinS) {
  const sink = start(['bench/sink.mjs']);
  const busy = [loadavg()[0]];
  const least = AXES.map(({ sizes }) =>
    sizes.map(size => ({ size, us: Number.POSITIVE_INFINITY })),
  );
  const startS = performance.now() / 1e3;
  let passes = 0;
  let longestS = 0;
  // All sizes in turn, again and again: what else the machine does is in all of them.
  for (; passes < PASSES.most; passes++) {
    const nowS = performance.now() / 1e3;
    if (passes >= PASSES.least && nowS + longestS > startS + withinS) break;
    for (const [axis, { what, sizes, lineFrom: _, ...rest }] of AXES.entries()) {
      for (const [i, size] of sizes.entries()) {
        const one = inItsOwn({ ...rest, [what]: size });
        if (one.us < least[axis][i].us) least[axis][i] = { size, ...one };
      }
    }
    longestS = Math.max(longestS, performance.now() / 1e3 - nowS);
    busy.push(loadavg()[0]);
  }
  await stop(sink);
  const rows = AXES.map(({ lineFrom = 0, ...axis }, i) => {
    const onLine = least[i].filter(({ size }) => size >= lineFrom);
    return { ...axis, points: least[i], onLine, line: straightLine(onLine) };
  });
  const most = Math.max(...busy).toFixed(1);
  const how = `On ${cpus().length} cores of ${cpus()[0].model.trim()}, Node ${process.versions.node}, at a load of ${most} at most (its own is 1): ${passes === 1 ? 'one pass' : `the least of ${passes} passes`}.`;
  const text = `${how}\n\n${tableOf(rows)}`;
  console.log(text);
  if (!isWritten) return;
  writeFileSync(PICTURE, drawCharts(rows.map(chartOf)));
  const page = readFileSync(PAGE, 'utf8');
  const written = page.replace(
    /<!-- growth -->\n[\s\S]*?\n<!-- end -->/,
    `<!-- growth -->\n\n${text}\n\n<!-- end -->`,
  );
  writeFileSync(PAGE, written);
}

function tableOf(rows) {
  const cells = rows.map(({ what, points, onLine, line, ...rest }) => {
    const ms = points.map(({ us }) => (us / 1e3).toFixed(1)).join(', ');
    const held = points.map(({ heldMiB }) => heldMiB);
    const off = Math.max(...onLine.map(({ size, us }) => Math.abs(us / valueAt(line, size) - 1)));
    return [
      `${what} (${othersOf(rest)})`,
      points.map(({ size }) => size).join(', '),
      ms,
      `${(line.at / 1e3).toFixed(1)} ms and ${line.each.toFixed(1)} µs each`,
      `${(100 * off).toFixed(0)} %`,
      `${Math.min(...held).toFixed(0)} to ${Math.max(...held).toFixed(0)}`,
    ];
  });
  const head = ['', 'of them', 'a tick, ms', 'straight line', 'off it by at most', 'MiB held'];
  return [head, head.map(() => '---'), ...cells].map(row => `| ${row.join(' | ')} |`).join('\n');
}

function valueAt({ at, each }, size) {
  return at + each * size;
}

function othersOf({ performers, fixtures, universes }) {
  return Object.entries({ performers, fixtures, universes })
    .filter(([, n]) => n !== undefined)
    .map(([key, n]) => `${n} ${key}`)
    .join(', ');
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

function chartOf({ what, points, line, ...rest }) {
  const high = Math.max(...points.map(({ us }) => us)) / 1e3;
  const most = points.at(-1).size;
  return {
    title: `A tick by ${what} (${othersOf(rest)})`,
    across: { label: what, low: 0, high: most, marks: points.map(({ size }) => size).slice(1) },
    up: { label: 'ms of processor', low: 0, high: high * 1.1, marks: evenMarks(0, high, 4) },
    draw: ({ x, y }) =>
      [
        `<line x1="${x(0)}" y1="${y(line.at / 1e3)}" x2="${x(most)}" y2="${y(valueAt(line, most) / 1e3)}" stroke="#888" stroke-dasharray="4 3"/>`,
        ...points.map(
          ({ size, us }) =>
            `<circle cx="${x(size).toFixed(1)}" cy="${y(us / 1e3).toFixed(1)}" r="4" fill="#1f5f8b"/>`,
        ),
      ].join('\n'),
  };
}
