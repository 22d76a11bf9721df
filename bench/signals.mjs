// What signals, conditions, the mappings that they drive and cues cost a tick: the large house without and with them, in turn.
import { loadavg } from 'node:os';
import { createEngine } from '../dist/engine/engine.js';
import { step } from '../dist/engine/step.js';
import { encodePacket } from '../dist/protocols/osc/encode.js';
import { parseShow } from '../dist/show/parse.js';
import { HOUSE, houseShow } from './house.mjs';

const SIGNALS = 200;
const CONDITIONS = 100;
const MAPPINGS = 400;
const CUES = 40;
/** Short blocks in turn: what else the machine does is then in both. */
const TICKS = 40;
const BLOCKS = 100;
const WARM_UP_BLOCKS = 15;

const list = (count, of) => Array.from({ length: count }, (_, i) => of(i)).join('\n');

/** One of eight kinds each. */
function signal(i) {
  const [p, zone] = [((i * 7) % HOUSE.performers) + 1, (i % 20) + 1];
  const other = (p % HOUSE.performers) + 1;
  const kinds = [
    `presence: { zone: zone-${zone}, of: any }`,
    `distance: [p${p}, p${other}], range: [6, 1], curve: smooth, attack: 0.2, release: 1`,
    `along: { of: p${p}, line: [[0, 2], [20, 2], [30, 10]] }, range: [0, 30]`,
    `count: { zone: zone-${zone}, of: any }`,
    `wave: { shape: sine, period: ${2 + (i % 5)} }`,
    `product: [s${i - 1}, s${i - 4}]`,
    `speed: p${p}, range: [0, 2], release: 1`,
    `distance: [p${p}, zone-${zone}], range: [4, 0]`,
  ];
  return `  s${i}: { ${kinds[i % kinds.length]} }`;
}

function condition(i) {
  if (i % 4 === 3) return `  c${i}: { any: [c${i - 1}, { not: c${i - 2} }], hold: 2 }`;
  return `  c${i}: { signal: s${(2 * i) % 8 === 4 ? 2 * i + 1 : 2 * i}, on: 0.6, off: 0.4, for: 0.5 }`;
}

function mapping(i) {
  // All but the counts, which are no shares.
  const by = `s${8 * (i % 25) + [0, 1, 2, 4, 5, 6, 7][i % 7]}`;
  const heads = HOUSE.fixtures - HOUSE.performers;
  const on = i % 2 === 0 ? `lamp-${heads + 1 + ((i / 2) % 100)}` : `head-${1 + ((i * 3) % heads)}`;
  const mix = i % 10 === 9 ? ', mix: add' : '';
  return `  - { name: m${i}, always: ${i % 2 === 0}, when: c${i % CONDITIONS}, by: ${by}, fixtures: [${on}], set: { Dimmer: ${40 + (i % 50)} }, fade: { in: 0.5, out: 1 }${mix} }`;
}

/** The large house with all of that on top. */
export function signalHouse() {
  let n = 0;
  const named = houseShow().replace(
    / {2}- \{ (follow|zone):/g,
    (_, kind) => `  - { name: n${n++}, always: true, ${kind}:`,
  );
  const cues = list(
    CUES,
    i =>
      `  cue-${i}: { mappings: [${[1, 3, 5, 7].map(k => `m${(10 * i + k) % MAPPINGS}`).join(', ')}], fade: 1 }`,
  );
  return named.replace(
    'mappings:\n',
    `signals:\n${list(SIGNALS, signal)}\nconditions:\n${list(CONDITIONS, condition)}\ncues:\n${cues}\nmappings:\n${list(MAPPINGS, mapping)}\n`,
  );
}

function engineOf(yaml) {
  const parsed = parseShow(yaml, 'house.show.yaml');
  if (!parsed.ok) throw new Error(parsed.problems.map(({ message }) => message).join('\n'));
  return createEngine(parsed.show);
}

/** Everybody walks in a circle, and is heard in each tick. */
function datagramsAt(nowS) {
  return Array.from({ length: HOUSE.performers }, (_, p) => {
    const angle = nowS * (0.2 + (p % 7) * 0.03) + p;
    const [x, y] = [
      3 + (p % 5) * 6 + 2 * Math.cos(angle),
      2.5 + (Math.floor(p / 5) % 4) * 5 + 2 * Math.sin(angle),
    ];
    const args = [x, y, 1.5].map(value => ({ type: 'f', value }));
    return {
      input: 0,
      arrivalS: nowS,
      bytes: encodePacket({ address: `/tracker/${p + 1}/position`, args }),
    };
  });
}

export function benchSignals() {
  const engines = [engineOf(houseShow()), engineOf(signalHouse())];
  const costs = [[], []];
  let nowS = 1000;
  for (let block = -WARM_UP_BLOCKS; block < BLOCKS; block++) {
    const ticks = Array.from({ length: TICKS }, () => {
      nowS += 1 / HOUSE.outputHz;
      return { nowS, datagrams: datagramsAt(nowS) };
    });
    for (const i of block % 2 === 0 ? [0, 1] : [1, 0]) {
      const before = process.cpuUsage();
      for (const { nowS: atS, datagrams } of ticks)
        step(engines[i], { datagrams, unixOffsetS: 0, operator: [] }, atS);
      const { user, system } = process.cpuUsage(before);
      if (block >= 0) costs[i].push((user + system) / TICKS);
    }
  }
  const quartiles = all => {
    const sorted = [...all].sort((a, b) => a - b);
    return [0.25, 0.5, 0.75].map(share => sorted[Math.floor(share * sorted.length)]);
  };
  const [low, ratio, high] = quartiles(costs[0].map((cost, i) => costs[1][i] / cost));
  const [plain, full] = costs.map(all => quartiles(all)[1]);
  console.log(
    `step: ${plain.toFixed(0)} us a tick; with ${SIGNALS} signals, ${CONDITIONS} conditions, ${MAPPINGS} mappings and ${CUES} cues ${full.toFixed(0)} us (medians); ` +
      `ratio of ${BLOCKS} pairs of blocks: median ${ratio.toFixed(2)}, half of them ${low.toFixed(2)} to ${high.toFixed(2)}; load ${loadavg()[0].toFixed(1)}`,
  );
}
