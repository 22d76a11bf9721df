import { expect, it } from 'vitest';
import { NextEngine } from '../../src/daemon/next-engine.js';
import { packShow } from '../../src/daemon/packed-show.js';
import { createEngine } from '../../src/engine/engine.js';
import { parseShow } from '../../src/show/parse.js';
import { configShow } from '../show/base.js';

const TICK_HZ = 44;

/** @param leftS in each tick @returns ticks until it can take over, and most parts in one tick */
function ticksFor(leftS: number) {
  const text = configShow('salt-lantern');
  const parsed = parseShow(text, 'a.show.yaml');
  if (!parsed.ok) throw new Error('not valid');
  const { show } = parsed;
  const packed = packShow(show).map(part => Buffer.from(part).toString('base64'));
  const next = new NextEngine({ text, file: 'a', packed }, createEngine(show));
  let most = 0;
  for (let tick = 1; tick < 10 * TICK_HZ; tick++) {
    // Each part takes all that there was time for.
    for (let parts = 0, left = leftS; ; parts++, left = 0) {
      const made = next.work(left);
      if (typeof made === 'object') return { tick, most };
      if (made === 'no time') break;
      most = Math.max(most, parts + 1);
    }
  }
  return undefined;
}

it('is made within 10 s where a tick leaves less time than a part may take, or none, one part in three ticks', () => {
  const { tick: roomy = 0 } = ticksFor(0.015) ?? {};
  expect(roomy).toBeGreaterThan(1);
  for (const leftS of [0.0115, 0.002, 0, -0.01]) {
    const { tick = Number.POSITIVE_INFINITY, most } = ticksFor(leftS) ?? {};
    expect(tick).toBeLessThanOrEqual(3 * roomy);
    expect(most).toBe(1);
  }
});
