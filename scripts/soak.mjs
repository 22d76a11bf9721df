// npm run soak -- --help
// A day of show time by a simulated clock, and an hour of the real processes under faults: do memory, handles, delay and
// state stay flat? Exit code 1: something did not, or a bout of the walk did not hold.
import {
  appendFileSync,
  existsSync,
  mkdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { cpus } from 'node:os';
import { dirname, join } from 'node:path';
import { simulateDay } from '../campaign/day.mjs';
import { buildShims } from '../campaign/shims.mjs';
import { writeShow } from '../campaign/show.mjs';
import { sayExcused, walkAbout } from '../campaign/walk.mjs';
import { ENDS_ENGINE, ENDS_SUPERVISOR } from '../campaign/walk-deeds.mjs';
import { DELAY_BINS_S, delayWithinS } from '../dist/live/light-delays.js';
import { drawCharts, polyline } from '../dist/rehearsal/charts/chart.js';
import { readOptions } from './options.mjs';

process.setMaxListeners(0);

const USAGE = `
npm run soak [-- OPTIONS]

A day of show time by a simulated clock (the engine and the pure parts of the supervisor; some 12 minutes of a processor), then an
hour of the real processes while faults, orders, cues and reloads are drawn by a seed (npm run campaign -- --walk): memory,
descriptors, delay and state are looked at all the while (docs/reference/soak.md). The second part needs root, as the campaign does.
Exit code 1: something grew, or did not hold.

  --hours N        of show time, 24 unless said; 0: only the real processes
  --minutes N      of the real processes, 60 unless said; 0: only the simulated clock
  --seed N         1 unless said
  --results DIR    what is seen is added here as it is seen, a line each (soak-results); --write reads it from here
  --write FILE     the figures into this page, below its mark, and the pictures beside it; with --hours 0 --minutes 0 of what is there
  --help           this

  npm run soak
  npm run soak -- --hours 24 --minutes 0
  npm run soak -- --hours 0 --minutes 0 --write docs/reference/soak.md
`;
const { values } = readOptions(USAGE, {
  hours: { type: 'string', default: '24', least: 0 },
  minutes: { type: 'string', default: '60', least: 0 },
  seed: { type: 'string', default: '1', least: 1 },
  results: { type: 'string', default: 'soak-results' },
  write: { type: 'string' },
});
const files = {
  day: join(values.results, 'day.jsonl'),
  real: join(values.results, 'real.jsonl'),
};
/** Until then engines are killed too; after it both processes are to live on. */
const ENGINES_END_S = 600;
const INK = ['#1f5f8b', '#b3541e'];
/** What may come of the caches that fill in the first minutes, as a share of the whole. */
const FLAT = 0.05;
const FLAT_MIB = 4;

mkdirSync(values.results, { recursive: true });
let wrong = 0;
if (values.hours > 0) await runDay();
if (values.minutes > 0) await runReal();
const [day, real] = [readLines(files.day), readLines(files.real)];
const verdicts = [...dayVerdicts(), ...realVerdicts()];
for (const { what, isFlat, words } of verdicts) {
  console.log(`${isFlat ? 'flat ' : 'GROWS'}  ${what}: ${words}`);
}
if (values.write !== undefined) writePage(values.write);
wrong += slowWays(day.at(-1));
wrong += verdicts.filter(({ isFlat }) => !isFlat).length;
process.exit(wrong > 0 ? 1 : 0);

async function runDay() {
  rmSync(files.day, { force: true });
  const onSample = sample => {
    appendFileSync(files.day, `${JSON.stringify(sample)}\n`);
    console.error(
      `${sample.hour.toFixed(1)} h of ${values.hours}: ${sample.heapMiB.toFixed(1)} MiB`,
    );
  };
  await simulateDay({ hours: values.hours, seed: values.seed, onSample });
}

async function runReal() {
  rmSync(files.real, { force: true });
  const show = writeShow(0);
  const shims = buildShims(show.folder);
  let before;
  const onBout = ({
    index,
    atS,
    sizes,
    status,
    done,
    wrong: found,
    excused,
    late,
    load,
    fromS,
    toS,
  }) => {
    const { delays } = status ?? {};
    const since = delays && whole(delays, before);
    before = delays ?? before;
    const line = {
      ...{ index, minute: atS / 60, load, done, ...sizes },
      ...{ wrong: found.map(({ what }) => what), excused: excused.map(({ what }) => what) },
      ...{ lateS: late.reduce((sum, { byS }) => sum + byS, 0), lastedS: toS - fromS },
      half: since && delayWithinS(since, 0.5),
      most: since && delayWithinS(since, 0.99),
      averageMs:
        since &&
        (1e3 * since.sumS) /
          Math.max(
            1,
            since.counts.reduce((a, b) => a + b, 0),
          ),
    };
    appendFileSync(files.real, `${JSON.stringify(line)}\n`);
    console.error(
      `${line.minute.toFixed(1)} min: ${found.length > 0 ? `WRONG ${line.wrong.join('; ')}` : 'held'}`,
    );
  };
  const leftOut = elapsedS =>
    elapsedS < ENGINES_END_S
      ? ENDS_SUPERVISOR
      : [...ENDS_SUPERVISOR, ...ENDS_ENGINE, 'show renamed'];
  try {
    const { seed, minutes } = values;
    const sum = await walkAbout({ show, shims, seed, minutes, leftOut, onBout });
    console.log(sayExcused(sum));
    wrong += sum.bad;
  } finally {
    rmSync(show.folder, { recursive: true, force: true });
  }
}

/** Of positions that reached the light since the last time; counts are since the start of the supervisor. */
function whole(delays, before) {
  const of = all => all?.find(({ part }) => part === 'whole');
  const [now, then] = [of(delays), of(before)];
  if (then === undefined) return now;
  return {
    counts: now.counts.map((count, i) => count - then.counts[i]),
    sumS: now.sumS - then.sumS,
  };
}

function readLines(file) {
  if (!existsSync(file)) return [];
  return readFileSync(file, 'utf8')
    .split('\n')
    .filter(line => line.startsWith('{"'))
    .map(line => JSON.parse(line));
}

function mean(values) {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** The last quarter beside the second: in the first one code is compiled and caches fill. */
function verdict(what, all, unit, { least = 0, digits = 1 } = {}) {
  const numbers = all.filter(value => typeof value === 'number' && Number.isFinite(value));
  if (numbers.length < 8) return [];
  const quarter = Math.floor(numbers.length / 4);
  const [then, now] = [numbers.slice(quarter, 2 * quarter), numbers.slice(-quarter)].map(mean);
  const isFlat = now - then <= Math.max(FLAT * then, least);
  const words = `${now.toFixed(digits)}${unit} in the last quarter, ${then.toFixed(digits)}${unit} in the second; ${Math.min(...numbers).toFixed(digits)} to ${Math.max(...numbers).toFixed(digits)} in all`;
  return [{ what, isFlat, words }];
}

function dayVerdicts() {
  const of = key => day.map(one => one[key]);
  return [
    ...verdict('simulated: heap', of('heapMiB'), ' MiB', { least: 1 }),
    ...verdict('simulated: objects and numbers held', of('state'), '', { digits: 0 }),
    ...verdict('simulated: age of the position behind the light', of('delayMs'), ' ms'),
    ...verdict('simulated: distance from where they are, 95 %', of('off95M'), ' m', { digits: 3 }),
    ...verdict('simulated: a tick', of('tickUs'), ' us', { least: 20, digits: 0 }),
    ...verdict('simulated: losses told of in 10 minutes', of('losses'), '', { least: 4 }),
  ];
}

/** @returns 1 where a way to the safe look took longer than is promised, else 0 */
function slowWays(last) {
  if (last === undefined) return 0;
  const { ways, promisedS } = last;
  const isSlow = Math.max(ways.aloneS, ways.fromCueS) > promisedS;
  console.log(`${isSlow ? 'SLOW ' : 'held '}  simulated: ${waysInWords(last)}`);
  return isSlow ? 1 : 0;
}

function waysInWords({ ways, promisedS }) {
  const { alone, aloneS, withCue, fromCueS } = ways;
  const cues =
    withCue === 0
      ? 'a cue came in none of them'
      : `of the ${withCue} in which a cue came, from that cue on, ${fromCueS.toFixed(2)} s`;
  return `The slowest of ${alone} ways to the safe look took ${aloneS.toFixed(2)} s; ${cues}. ${promisedS.toFixed(2)} s are promised.`;
}

function realVerdicts() {
  const of = (process, key) => real.map(one => one[process]?.[key]);
  return ['supervisor', 'engine']
    .flatMap(one => [
      ...verdict(`${one}: memory`, of(one, 'rssMiB'), ' MiB', { least: FLAT_MIB }),
      ...verdict(`${one}: descriptors`, of(one, 'descriptors'), '', { least: 1 }),
      ...verdict(`${one}: threads`, of(one, 'threads'), '', { least: 1 }),
    ])
    .concat(
      verdict(
        'from the sensor to the packet, average',
        real.map(({ averageMs }) => averageMs),
        ' ms',
        { least: 5 },
      ),
    );
}

/** From 0 on, at most seven. */
function roundSteps(most) {
  const step = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100].find(one => most / one <= 6) ?? most;
  return Array.from({ length: Math.floor(most / step) + 1 }, (_, i) =>
    Number((i * step).toFixed(1)),
  );
}

/** @param lines [name, points] each */
function chart(title, across, unit, lines) {
  const all = lines.flatMap(([, points]) => points);
  const [right, top] = [
    Math.max(...all.map(([x]) => x)),
    Math.max(...all.map(([, y]) => y)) * 1.15,
  ];
  return {
    title,
    across: { label: across, low: 0, high: right, marks: roundSteps(right) },
    up: { label: unit, low: 0, high: top, marks: roundSteps(top) },
    draw: ({ x, y }) =>
      lines
        .flatMap(([name, points], i) => {
          const [lastX, lastY] = points.at(-1);
          return [
            polyline(
              points.map(([a, b]) => [x(a), y(b)]),
              INK[i],
            ),
            `<text x="${x(lastX)}" y="${y(lastY) - 6}" text-anchor="end" fill="${INK[i]}">${name}</text>`,
          ];
        })
        .join('\n'),
  };
}

function writePage(file) {
  const pictures = join(dirname(file), 'pictures');
  const [intro, before = ''] = readFileSync(file, 'utf8').split('<!-- figures -->');
  const parts = [];
  if (day.length <= 1) parts.push(...kept(before, '## The simulated day'));
  else {
    const of = key => day.map(one => [one.hour, one[key]]);
    const charts = [
      chart('Heap after a collection', 'hours of show time', 'MiB', [
        ['engine and supervisor', of('heapMiB')],
      ]),
      chart('Age of the position behind the light', 'hours of show time', 'ms', [
        ['median', of('delayMs')],
      ]),
      chart('Objects and numbers held', 'hours of show time', 'thousands', [
        ['state', of('state').map(([h, n]) => [h, n / 1e3])],
      ]),
    ];
    writeFileSync(join(pictures, 'soak-day.svg'), drawCharts(charts));
    const { hour, evenings, engines, reloads } = day.at(-1);
    parts.push(
      '## The simulated day',
      '![Heap, age of the position and state over the simulated day](pictures/soak-day.svg)',
      `${hour.toFixed(1)} hours of show time: ${evenings} evenings, in each of which an engine died (${engines}), and ${reloads} reloads. ${waysInWords(day.at(-1))}`,
    );
    parts.push(tableOf(dayVerdicts()));
  }
  if (real.length <= 1) parts.push(...kept(before, '## The real processes'));
  else {
    const bouts = real.filter(({ supervisor }) => supervisor !== undefined);
    const of = (process, key) => bouts.map(one => [one.minute, one[process][key]]);
    const delays = bouts
      .filter(({ averageMs }) => averageMs > 0)
      .map(one => [one.minute, one.averageMs]);
    const both = key => ['supervisor', 'engine'].map(name => [name, of(name, key)]);
    const charts = [
      chart('Memory (RSS)', 'minutes', 'MiB', both('rssMiB')),
      chart('Open descriptors', 'minutes', '', both('descriptors')),
      chart('From the sensor to the packet', 'minutes', 'ms', [['average', delays]]),
    ];
    writeFileSync(join(pictures, 'soak-real.svg'), drawCharts(charts));
    const loads = bouts.map(({ load }) => load);
    const notHeld = bouts.filter(one => one.wrong.length > 0).length;
    const all = of => bouts.reduce((sum, one) => sum + of(one), 0);
    const excused = sayExcused({
      excused: all(one => one.excused.length),
      lateS: all(({ lateS }) => lateS),
      lastedS: all(({ lastedS }) => lastedS),
    });
    const deeds = bouts.reduce((sum, { done }) => sum + done.length, 0);
    parts.push(
      '## The real processes',
      '![Memory, descriptors and delay of the real processes](pictures/soak-real.svg)',
      `${bouts.at(-1).minute.toFixed(0)} minutes on ${cpus().length} cores, at a load of ${Math.min(...loads).toFixed(0)} to ${Math.max(...loads).toFixed(0)}: ${bouts.length} bouts with ${deeds} faults, orders, cues and reloads; ${notHeld === 0 ? 'all bouts held' : `${notHeld} bouts did not hold`}. ${excused}. The supervisor lived all the time; engines were killed in the first ${ENGINES_END_S / 60} minutes. The delay is that of all positions between two looks at the status, as the daemon counts it (bins up to ${DELAY_BINS_S.at(-1)} s).`,
    );
    parts.push(tableOf(realVerdicts()));
  }
  writeFileSync(file, `${intro}<!-- figures -->\n\n${parts.join('\n\n')}\n`);
}

/** Of a part that was not run this time the page keeps what it has. */
function kept(figures, heading) {
  const part = figures.split(/^(?=## )/m).find(one => one.startsWith(`${heading}\n`));
  return part === undefined ? [] : [part.trim()];
}

function tableOf(verdicts) {
  const line = cells => `| ${cells.join(' | ')} |`;
  const head = [line(['what', 'flat', 'figures']), line(['---', '---', '---'])];
  return [
    ...head,
    ...verdicts.map(({ what, isFlat, words }) => line([what, isFlat ? 'yes' : 'no', words])),
  ].join('\n');
}
