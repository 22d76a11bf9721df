import { describe, expect, it } from 'vitest';
import { SALT_LANTERN } from '../../../src/rehearsal/scenes/salt-lantern.js';
import { scenePosition } from '../../../src/rehearsal/scenes/scene.js';
import { seededNormal, seededRandom } from '../../../src/rehearsal/sensors/random.js';

const at = { x: 0, y: 0, z: 0 };

describe('a scene', () => {
  it.each(SALT_LANTERN.parts)('$performer is at each mark at its time', part => {
    for (const [atS, x, y] of part.marks.slice(0, -1)) {
      scenePosition(SALT_LANTERN, part, atS, at);
      expect(at.x).toBeCloseTo(x, 9);
      expect(at.y).toBeCloseTo(y, 9);
    }
  });

  it.each(SALT_LANTERN.parts)('$performer never jumps, also not where it begins anew', part => {
    const before = { x: 0, y: 0 };
    scenePosition(SALT_LANTERN, part, 0, at);
    for (let ms = 0; ms <= 2 * SALT_LANTERN.lengthS * 1000; ms += 50) {
      [before.x, before.y] = [at.x, at.y];
      scenePosition(SALT_LANTERN, part, ms / 1000, at);
      // Walking as fast as people can: 2.53 m/s (Bohannon 1997), in 50 ms.
      expect(Math.hypot(at.x - before.x, at.y - before.y)).toBeLessThan(2.53 * 0.05);
    }
  });

  it('is silent in its silences only', () => {
    for (const part of SALT_LANTERN.parts) {
      for (let t = 0; t < SALT_LANTERN.lengthS; t += 0.5) {
        const silent = part.silences.some(([fromS, toS]) => t >= fromS && t < toS);
        expect(scenePosition(SALT_LANTERN, part, t, at)).toBe(!silent);
      }
    }
  });
});

describe('seeded noise', () => {
  it('is the same for a seed, and another for another', () => {
    const take = (seed: number) => Array.from({ length: 5 }, seededRandom(seed));
    expect(take(7)).toEqual(take(7));
    expect(take(7)).not.toEqual(take(8));
  });

  it('has mean 0 and deviation 1', () => {
    const normal = seededNormal(3);
    const values = Array.from({ length: 20_000 }, normal);
    const mean = values.reduce((sum, v) => sum + v, 0) / values.length;
    const variance = values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / values.length;
    // Three standard errors: 3 / sqrt(20000), and about 1.5 of that for the variance.
    expect(Math.abs(mean)).toBeLessThan(0.0213);
    expect(Math.abs(variance - 1)).toBeLessThan(0.03);
  });
});
