import { expect, it } from 'vitest';
import { NextEngine } from '../../src/daemon/next-engine.js';
import { packedText, packShow } from '../../src/daemon/packed-show.js';
import { createEngine, engineInParts } from '../../src/engine/engine.js';
import { parseShow } from '../../src/show/parse.js';
import { configShow } from '../show/base.js';

const TICK_HZ = 44;

/** Each part takes so long, seconds. */
const PART_S = 0.0025;

const text = configShow('salt-lantern');
const parsed = parseShow(text, 'a.show.yaml');
if (!parsed.ok) throw new Error('not valid');
const { show } = parsed;

/** @param leftS in each tick @returns ticks until it can take over, most parts in one tick, and all of them */
function ticksFor(leftS: number) {
  const packed = packedText(packShow(show));
  // Looked at once before the parts of a call, and after each of them.
  let looks = 0;
  const clock = () => PART_S * looks++;
  const next = new NextEngine({ text, file: 'a', packed }, createEngine(show), clock);
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

it('is made twice, as what takes over is rehearsed', () => {
  let once = 1;
  for (const parts = engineInParts(show); parts.next().done !== true; ) once += 1;
  expect(ticksFor(0.02)?.all).toBeGreaterThan(2 * once);
});
