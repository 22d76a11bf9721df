import { describe, expect, it } from 'vitest';
import { createShowLevels, takeOverLevels } from '../../src/daemon/show-levels.js';
import { stepFallback } from '../../src/safety/fallback.js';
import { stepLeaving } from '../../src/safety/leaving.js';
import { parseShow } from '../../src/show/parse.js';
import { configShow } from '../show/base.js';

function showOf(text: string) {
  const parsed = parseShow(text, 'a.show.yaml');
  if (!parsed.ok) throw new Error(parsed.problems.map(problem => problem.message).join());
  return parsed.show;
}

const MINIMAL = configShow('minimal');
const BEAT_S = 0.025;
const old = showOf(MINIMAL); // a dimmer at 1/1, safe at 20 per cent

describe('another show takes over', () => {
  it('from what was sent, in steps that no eye sees, to its safe look; what it does not use goes out', () => {
    const before = createShowLevels(old);
    before.out[0] = 255;
    const next = showOf(
      MINIMAL.replace('address: 1,', 'address: 3,').replace('Dimmer: 20', 'Dimmer: 60'),
    );
    const levels = takeOverLevels(next, before);
    const { out, fallback, plan, leaving } = levels;
    expect([out[0], out[2]]).toEqual([255, 0]);
    let beats = 0;
    for (; fallback.phase === 'losing' && beats < 1000; beats++) {
      const last = Uint8Array.from(out);
      stepFallback(fallback, plan, plan.safeLook, false, BEAT_S, out);
      stepLeaving(leaving, out, BEAT_S, beats * BEAT_S);
      for (let slot = 0; slot < 4; slot++) {
        // A fade of 2 s: 255 in 80 beats are 3.2 each.
        expect(Math.abs((out[slot] ?? 0) - (last[slot] ?? 0))).toBeLessThanOrEqual(4);
      }
    }
    expect([...out.subarray(0, 4)]).toEqual([0, 0, 153, 0]);
    expect(beats * BEAT_S).toBeCloseTo(2, 0);
  });

  it('with a universe that was not sent before, at its safe look there', () => {
    const before = createShowLevels(old);
    before.out[0] = 200;
    const next = showOf(
      MINIMAL.replaceAll('universe: 1', 'universe: 5').replace(
        'universes: [1]',
        'universes: [1, 5]',
      ),
    );
    const { out } = takeOverLevels(next, before);
    expect(out[0]).toBe(200);
    expect(out[512]).toBe(51);
  });
});
