import { expect, it } from 'vitest';
import { NextEngine } from '../../../src/daemon/engine/next-engine.js';
import { packedText, packShow } from '../../../src/daemon/engine/packed-show.js';
import { createEngine, engineInParts } from '../../../src/engine/engine.js';
import { parseShow } from '../../../src/show/parse.js';
import { configShow } from '../../show/base.js';

const TICK_HZ = 44;

/** Each part takes so long, seconds. */
const PART_S = 0.0025;

const text = configShow('salt-lantern');
const parsed = parseShow(text, 'a.show.yaml');
if (!parsed.ok) throw new Error('not valid');
const { show } = parsed;

/** Nothing to collect. */
const calm = { bytes: () => 0, collect: () => undefined };

/** @param leftS in each tick @returns ticks until it can take over, most parts in one tick, and all of them */
function ticksFor(leftS: number) {
  const packed = packedText(packShow(show));
  // Looked at once before the parts of a call, and after each of them.
  let looks = 0;
  const clock = () => PART_S * looks++;
  const next = new NextEngine({ text, file: 'a', packed }, createEngine(show), clock, calm);
  let most = 0;
  let all = 0;
  for (let tick = 1; tick < 10 * TICK_HZ; tick++) {
    let parts = 0;
    for (let left = leftS; ; left = leftS - parts * PART_S) {
      const before = looks;
      const made = next.work(left);
      if (typeof made === 'object') return { tick, most, all };
      if (made === 'no time') break;
      parts += looks - before - 1;
      all += looks - before - 1;
      most = Math.max(most, parts);
    }
  }
  return undefined;
}

it('is made in what a tick leaves; where it leaves nothing, for a moment in each third, well within 10 s', () => {
  const { tick: roomy = 0, most: parts } = ticksFor(0.02) ?? {};
  expect(roomy).toBeGreaterThan(1);
  expect(parts).toBeGreaterThan(3);
  for (const leftS of [0.0075, 0.002, 0, -0.01]) {
    const { tick = Number.POSITIVE_INFINITY, most } = ticksFor(leftS) ?? {};
    expect(tick).toBeLessThanOrEqual(10 * roomy);
    expect(most).toBe(3);
  }
});

it('has the young collected as soon as there are many, each time in a turn of its own', () => {
  const packed = packedText(packShow(show));
  const clock = () => 0;
  let [bytes, collected, most, turns] = [0, 0, 0, 0];
  // Each look finds 1 MiB more, as the parts in between made them.
  const young = {
    bytes: () => {
      bytes += 1024 ** 2;
      most = Math.max(most, bytes);
      return bytes;
    },
    collect: () => {
      collected += 1;
      bytes = 0;
    },
  };
  const next = new NextEngine({ text, file: 'a', packed }, createEngine(show), clock, young);
  for (; next.work(0.02) === 'not yet'; turns++);
  expect(most).toBe(5 * 1024 ** 2);
  // Four turns with a part, and one without.
  expect(collected).toBe(Math.floor(turns / 6));
});

it('goes on where the young stay many', () => {
  const packed = packedText(packShow(show));
  const young = { bytes: () => 1024 ** 3, collect: () => undefined };
  const next = new NextEngine({ text, file: 'a', packed }, createEngine(show), () => 0, young);
  let made = next.work(0.02);
  for (let turn = 0; made === 'not yet' && turn < 10_000; turn++) made = next.work(0.02);
  expect(made).toBeTypeOf('object');
});

it('is made twice, as what takes over is rehearsed', () => {
  let once = 1;
  for (const parts = engineInParts(show); parts.next().done !== true; ) once += 1;
  expect(ticksFor(0.02)?.all).toBeGreaterThan(2 * once);
});
