import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { delayOf } from '../../../src/rehearsal/assessing/offset.js';
import { parseRecording } from '../../../src/rehearsal/assessing/recording.js';
import type { Truth } from '../../../src/rehearsal/sensors/truth.js';

function path(place: (t: number) => [number, number], rateHz = 40, seconds = 20): Truth {
  const timesS = Float64Array.from({ length: rateHz * seconds }, (_, i) => i / rateHz);
  return {
    timesS,
    xs: timesS.map(t => place(t)[0]),
    ys: timesS.map(t => place(t)[1]),
    zs: new Float64Array(timesS.length),
  };
}

const circle = (t: number): [number, number] => [3 * Math.cos(t / 2), 3 * Math.sin(t / 2)];

test.each([-0.31, -0.08, 0, 0.13, 0.5])('a path that comes %d s late is found to', lateS => {
  const series = path(t => circle(t - lateS));
  expect(delayOf([{ series, truth: path(circle, 100) }])).toBeCloseTo(lateS, 2);
});

test('neither outliers nor a place that is off all along change it', () => {
  const series = path(t => {
    const [x, y] = circle(t - 0.2);
    return Math.floor(t * 40) % 7 === 0 ? [x + 9, y - 4] : [x + 0.1, y + 0.05];
  });
  expect(delayOf([{ series, truth: path(circle, 100) }])).toBeCloseTo(0.2, 1);
});

test('who stands tells no time, and a path farther off in time is none', () => {
  const still = path(() => [1, 2]);
  expect(delayOf([{ series: still, truth: still }])).toBeNaN();
  const series = path(t => circle(t - 0.9));
  expect(delayOf([{ series, truth: path(circle, 100) }])).toBeNaN();
});

test('the walks lag their truth by about 0.18 s, and the trolley leads it', () => {
  const lagOf = (name: string) => {
    const file = new URL(`../../fixtures/data/tracking/${name}.csv`, import.meta.url);
    const result = parseRecording(readFileSync(file, 'utf8'));
    if (!result.ok || result.value.kind !== 'measured') throw new Error(name);
    const { truth, sightings } = result.value.passage;
    const series = {
      timesS: Float64Array.from(sightings, ({ timeS }) => timeS),
      xs: Float64Array.from(sightings, ({ x }) => x),
      ys: Float64Array.from(sightings, ({ y }) => y),
      zs: new Float64Array(sightings.length),
    };
    return delayOf([{ series, truth }]);
  };
  expect(lagOf('uwb_walk_los_B4')).toBeCloseTo(0.18, 1);
  expect(lagOf('uwb_walk_nlos_B4')).toBeCloseTo(0.18, 1);
  // Seen by others in its cross-correlation: 0.06 to 0.08 s.
  expect(lagOf('uwb_trolley_fast_8anchor_cal')).toBeCloseTo(-0.07, 1);
});
