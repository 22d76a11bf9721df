// npm run fuzz -- --help
// Malformed relatives of good packets for every parser that reads what others send, and for the tick of the
// whole engine; show files, which are texts and slow, in a number of their own. Says what threw, and which
// ticks took longer than a period. Exit code 1: something did.
import { readFileSync } from 'node:fs';
import { mutate, randomInts } from '../fuzz/mutate.mjs';
import { targetsOf } from '../fuzz/targets.mjs';
import { readOptions } from './options.mjs';

const USAGE = `
npm run fuzz [-- OPTIONS]

Malformed relatives of good packets for every parser and for the tick of the whole engine; show files in a number of
their own. Says what threw, and which ticks took longer than a period. Exit code 1: something did.

  --count N   packets, 1000000 unless said
  --texts N   show files, 20000 unless said
  --seed N    other ones, 1 unless said
  --help      this

  npm run fuzz -- --count 10000000 --seed 7
`;
const { values } = readOptions(USAGE, {
  count: { type: 'string', default: '1000000', least: 0 },
  texts: { type: 'string', default: '20000', least: 0 },
  seed: { type: 'string', default: '1', least: 0 },
});
const { count, seed, texts } = values;
const LONGEST_BYTES = 1600;
const TICK_MS = 25;
const A_TICK = 125;

const modules = [
  'daemon/asking/request-words', 'daemon/memory/memory', 'daemon/pipe/reader', 'daemon/pipe/writer', 'engine/engine',
  'engine/step', 'protocols/artnet/controller-reply', 'protocols/artnet/dmx-packet', 'protocols/artnet/incoming',
  'protocols/artnet/poll', 'protocols/artnet/poll-reply', 'protocols/osc/address', 'protocols/osc/decode',
  'protocols/osc/encode', 'protocols/osc/read-positions', 'protocols/osc/route', 'protocols/psn/decode',
  'protocols/psn/encode', 'protocols/psn/position', 'protocols/sacn/data-packet', 'protocols/sacn/decode',
  'protocols/sacn/discovery', 'show/parse',
]; // biome-ignore format: a list of modules
const library = Object.assign(
  {},
  ...(await Promise.all(modules.map(name => import(`../dist/${name}.js`)))),
);
const targets = targetsOf(library);
let failures = 0;

function fail(what, bytes, error) {
  failures += 1;
  if (failures <= 20)
    console.error(`FAILED: ${what}: ${error.message}\n  ${bytes.toString('hex')}`);
}

/** Milliseconds. */
function timed(name, read, bytes) {
  const before = performance.now();
  try {
    read(bytes);
  } catch (error) {
    fail(name, bytes, error);
  }
  return performance.now() - before;
}

for (const { name, corpus, read } of targets) {
  const random = randomInts(seed);
  const out = Buffer.alloc(LONGEST_BYTES);
  const began = performance.now();
  let slowest = 0;
  for (let i = 0; i < count; i++) {
    const bytes = out.subarray(0, mutate(random, corpus, out));
    const took = timed(name, read, bytes);
    // Once more: the machine may have had something else to do, or the collector.
    if (took > slowest) slowest = Math.max(slowest, Math.min(took, timed(name, read, bytes)));
  }
  line(name, count, began, `slowest ${slowest.toFixed(2)} ms`);
}

for (const protocol of ['osc', 'psn']) fuzzTicks(protocol);
fuzzTexts();
process.exit(failures > 0 ? 1 : 0);

/** A tick that takes too long is run once more on a twin: the machine may have had something else to do. */
function fuzzTicks(protocol) {
  const osc = readFileSync('config/salt-lantern.show.yaml', 'utf8');
  const psn = osc.replace(
    /^inputs:\n(?: {2}.*\n)+/m,
    'inputs: { tracking: { protocol: psn, axes: [x, z, y] } }\n',
  );
  const text = protocol === 'psn' ? psn : osc;
  const parsed = library.parseShow(text, 'salt-lantern.show.yaml');
  const engine = library.createEngine(parsed.show);
  const random = randomInts(seed + 1);
  const room = Array.from({ length: A_TICK }, () => Buffer.alloc(LONGEST_BYTES));
  const wanted = protocol === 'psn' ? 'PosiStageNet' : 'OSC datagram';
  const { corpus } = targets.find(({ name }) => name.startsWith(wanted));
  const began = performance.now();
  const times = [];
  let late = 0;
  let nowS = 1000;
  for (let sent = 0; sent < count; sent += A_TICK) {
    nowS += 0.025;
    const datagrams = room.map(out => ({
      input: 0,
      bytes: out.subarray(0, mutate(random, corpus, out)),
      arrivalS: nowS - 0.01,
    }));
    const cpu = process.cpuUsage();
    const before = performance.now();
    try {
      library.step(engine, { datagrams, unixOffsetS: 1_768_261_400 }, nowS);
    } catch (error) {
      fail('tick', Buffer.concat(datagrams.map(one => one.bytes)), error);
    }
    const took = performance.now() - before;
    times.push(took);
    if (took <= TICK_MS) continue;
    const { user, system } = process.cpuUsage(cpu);
    // All threads of the process, its collector's too: less than a period of work is the machine's delay.
    if ((user + system) / 1000 > TICK_MS) late += 1;
  }
  times.sort((a, b) => a - b);
  if (late > 0)
    fail(`${late} ticks worked longer than ${TICK_MS} ms`, Buffer.alloc(0), new Error('late'));
  const at = share =>
    times[Math.min(times.length - 1, Math.floor(times.length * share))].toFixed(2);
  line(
    `tick of ${A_TICK} datagrams, ${protocol}`,
    count,
    began,
    `p50 ${at(0.5)} ms, p99 ${at(0.99)} ms, slowest ${at(1)} ms, over ${TICK_MS} ms by its own work: ${late}`,
  );
}

/** Show files with profiles: a good one with parts of it broken. */
function fuzzTexts() {
  const corpus = ['minimal', 'salt-lantern'].map(name => readFileSync(`config/${name}.show.yaml`));
  const random = randomInts(seed + 2);
  const out = Buffer.alloc(Math.max(...corpus.map(one => one.length)) + 256);
  const began = performance.now();
  let refused = 0;
  for (let i = 0; i < texts; i++) {
    const bytes = out.subarray(0, mutate(random, corpus, out));
    try {
      if (!library.parseShow(bytes.toString('utf8'), 'a.show.yaml').ok) refused += 1;
    } catch (error) {
      fail('show file', bytes, error);
    }
  }
  line('show file with profiles (YAML)', texts, began, `${refused} refused`);
}

function line(name, number, began, note) {
  const seconds = ((performance.now() - began) / 1000).toFixed(0);
  console.log(
    `${name.padEnd(34)} ${String(number).padStart(9)} in ${seconds.padStart(4)} s  ${note}`,
  );
}
