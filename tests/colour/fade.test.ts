import { expect, test } from 'vitest';
import {
  distanceOf,
  scaled,
  sumOf,
  uvOf,
  type Xy,
  type Xyz,
  xyOf,
  xyOfUv,
} from '../../src/colour/chromaticity.js';
import { mixOf } from '../../src/colour/mix.js';
import { planckian } from '../../src/colour/temperature.js';
import { LAMP_NAMES, LAMPS, lampOf } from './lamps.js';

/*
 * A fade between two colours goes by the levels of the emitters, as two lamps do when one goes up and the other down.
 * Measured here: how far it leaves the straight line in u'v', whether its luminance dips, and where it is half way.
 */

const COLOURS: Readonly<Record<string, Xy>> = {
  candle: planckian(1900),
  tungsten: planckian(3200),
  cold: planckian(8000),
  amber: { x: 0.53, y: 0.42 },
  rose: { x: 0.45, y: 0.28 },
  red: { x: 0.66, y: 0.32 },
  green: { x: 0.28, y: 0.6 },
  sea: { x: 0.2, y: 0.35 },
  blue: { x: 0.16, y: 0.09 },
};

const STEPS = 50;

interface Measured {
  /** Farthest from the straight line in u'v'. */
  off: number;
  /** Farthest below the straight line of the luminance, as a share of the lower end. */
  dip: number;
}

function measure(emitters: readonly Xyz[], a: Xy, b: Xy): Measured {
  const [from, to] = [mixOf(emitters, a).levels, mixOf(emitters, b).levels];
  const lightAt = (t: number) =>
    sumOf(
      emitters.map((one, i) => {
        const [low, high] = [from[i] as number, to[i] as number];
        return scaled(one, low + t * (high - low));
      }),
    );
  const [first, last] = [lightAt(0), lightAt(1)];
  const measured = { off: 0, dip: 0 };
  for (let i = 0; i <= STEPS; i++) {
    const t = i / STEPS;
    const light = lightAt(t);
    const xy = xyOf(light);
    // On the straight line both ways add up to the whole.
    const [p, q] = [xyOf(first), xyOf(last)];
    measured.off = Math.max(measured.off, distanceOf(p, xy) + distanceOf(xy, q) - distanceOf(p, q));
    const straight = first.Y + t * (last.Y - first.Y);
    measured.dip = Math.max(measured.dip, (straight - light.Y) / Math.min(first.Y, last.Y));
  }
  return measured;
}

const PAIRS = Object.keys(COLOURS).flatMap((a, i) =>
  Object.keys(COLOURS)
    .slice(i + 1)
    .map(b => [COLOURS[a] as Xy, COLOURS[b] as Xy] as const),
);

test.each(LAMP_NAMES)("%s emitters: the straight line in u'v', luminance without a dip", name => {
  const emitters = lampOf(...LAMPS[name]);
  for (const [a, b] of PAIRS) {
    const { off, dip } = measure(emitters, a, b);
    expect(off).toBeLessThan(1e-12);
    expect(dip).toBeLessThan(1e-9);
  }
});

test("at an even pace in u'v' the luminance half way is out of reach for a third of the pairs", () => {
  const shares: number[] = [];
  for (const kinds of Object.values(LAMPS)) {
    const emitters = lampOf(...kinds);
    for (const [a, b] of PAIRS) {
      const [p, q] = [uvOf(a), uvOf(b)];
      const half = xyOfUv({ u: (p.u + q.u) / 2, v: (p.v + q.v) / 2 });
      const straight = (mixOf(emitters, a).luminance + mixOf(emitters, b).luminance) / 2;
      shares.push(mixOf(emitters, half).luminance / straight);
    }
  }
  const short = shares.filter(share => share < 0.98);
  expect(short.length / shares.length).toBeGreaterThan(0.3);
  expect(Math.min(...shares)).toBeLessThan(0.5);
});
