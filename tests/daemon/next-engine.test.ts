import { expect, it } from 'vitest';
import { NextEngine } from '../../src/daemon/next-engine.js';
import { packShow } from '../../src/daemon/packed-show.js';
import { createEngine } from '../../src/engine/engine.js';
import { parseShow } from '../../src/show/parse.js';
import { configShow } from '../show/base.js';

const TICK_HZ = 44;

/** Each part takes so long, seconds. */
const PART_S = 0.0025;

/** @param leftS in each tick @returns ticks until it can take over, and most parts in one tick */
function ticksFor(leftS: number, isFirst = false) {
  const text = configShow('salt-lantern');
  const parsed = parseShow(text, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  const { show } = parsed;
  const packed = packShow(show).map(part => Buffer.from(part).toString('base64'));
  // Looked at once before the parts of a call, and after each of them.
  let looks = 0;
  const clock = () => PART_S * looks++;
  const next = new NextEngine({ text, file: 'a', packed }, createEngine(show), isFirst, clock);
  let most = 0;
  for (let tick = 1; tick < 10 * TICK_HZ; tick++) {
    let parts = 0;
    for (let left = leftS; ; left = leftS - parts * PART_S) {
      const before = looks;
      const made = next.work(left);
      if (typeof made === 'object') return { tick, most };
      if (made === 'no time') break;
      parts += looks - before - 1;
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

it('the first time what takes over is rehearsed, which takes longer', () => {
  const { tick = 0 } = ticksFor(0.02, true) ?? {};
  expect(tick).toBeGreaterThan(ticksFor(0.02)?.tick ?? Number.POSITIVE_INFINITY);
});
