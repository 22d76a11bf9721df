// What hand-over costs a tick: 24 heads that share 12 performers, the choice of all of them and the assignment in it.

import { createEngine } from '../dist/engine/engine.js';
import { choose } from '../dist/engine/heads/choices.js';
import { step } from '../dist/engine/step.js';
import { encodePacket } from '../dist/protocols/osc/encode.js';
import { parseShow } from '../dist/show/parse.js';

const [HEADS, PERFORMERS, TICKS, AGAIN] = [24, 12, 4000, 40];
const list = (count, of) => Array.from({ length: count }, (_, i) => of(i)).join('\n');

const SHOW = `lampwright: 1
name: Hand-over
stage: { x: [0, 20], y: [0, 12] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers:
${list(PERFORMERS, i => `  p${i}: { trackers: [${i}] }`)}
groups: { company: [${Array.from({ length: PERFORMERS }, (_, i) => `p${i}`)}], heads: [${Array.from({ length: HEADS }, (_, i) => `h${i}`)}] }
fixtures:
${list(HEADS, i => `  h${i}: { profile: moving-head, universe: 1, address: ${1 + 10 * i}, position: [${(i % 12) * 1.8}, ${i < 12 ? -4 : 6}, 7] }`)}
mappings:
  - { follow: { share: company, hold: 0 }, fixtures: [heads], set: { Dimmer: 80 } }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;

const KEEP_OUT = `keepOut:
  house: { polygon: [[-3, -14], [23, -14], [23, -2], [-3, -2]], height: [0, 2.4] }
  camera: { point: [15.2, 1, 1.6], radius: 0.5 }
`;

export function benchHandOver() {
  bench(SHOW, '');
  bench(`${SHOW}${KEEP_OUT}`, ' and keep out of two');
}

function bench(text, what) {
  const parsed = parseShow(text, 'hand-over');
  if (!parsed.ok) throw new Error(parsed.problems.map(({ message }) => message).join('\n'));
  const engine = createEngine(parsed.show);
  const blocks = [];
  for (let tick = 0; tick < TICKS; tick++) {
    const nowS = 1000 + tick / 40;
    const datagrams = Array.from({ length: PERFORMERS }, (_, p) => {
      const [x, y] = [10 + 9 * Math.sin(p + tick / 400), 6 + 5 * Math.cos(1.7 * p + tick / 300)];
      const args = [x, y, 1.2].map(value => ({ type: 'f', value }));
      return {
        input: 0,
        arrivalS: nowS,
        bytes: encodePacket({ address: `/tracker/${p}/position`, args }),
      };
    });
    step(engine, { datagrams, unixOffsetS: 1.7e9 }, nowS);
    if (tick % 20 !== 19) continue;
    // Again and again, by itself: with no time gone by nothing changes.
    const before = process.cpuUsage();
    for (let i = 0; i < AGAIN; i++) choose(engine.choices, engine, 0, []);
    const { user, system } = process.cpuUsage(before);
    // The first compile.
    if (tick > 400) blocks.push((user + system) / AGAIN);
  }
  blocks.sort((a, b) => a - b);
  const [least, median, p99] = [0, 0.5, 0.99].map(
    share => blocks[Math.floor(share * blocks.length)],
  );
  console.log(
    `hand-over: ${HEADS} heads that share ${PERFORMERS} performers${what}, CPU a tick: least ${least.toFixed(0)} us, median ${median.toFixed(0)} us, 99 of 100 within ${p99.toFixed(0)} us`,
  );
}
