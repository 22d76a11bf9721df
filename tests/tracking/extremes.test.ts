/** The track far beyond the noise of any sensor: a show file may ask for any above 0, up to 10 m. */
import fc from 'fast-check';
import { test } from 'vitest';
import { observe } from '../../src/tracking/observe.js';
import { optionsForNoise } from '../../src/tracking/options.js';
import { predict } from '../../src/tracking/predict.js';
import { createEstimate } from '../../src/tracking/sighting.js';
import { createTrack, SLOT } from '../../src/tracking/track.js';
import { demand } from '../demand.js';
import { sighting } from './support.js';

const SEED = 20260115;

const small = fc.double({ min: -20, max: 20, noNaN: true });
const report = fc.record({
  intervalS: fc.oneof(
    fc.constant(0),
    fc.double({ min: 0, max: 2, noNaN: true }),
    fc.double({ min: 0, max: 1e6, noNaN: true }),
  ),
  at: fc.tuple(small, small, small),
  tracker: fc.nat({ max: 1 }),
  quality: fc.double({ min: 0, max: 1, noNaN: true }),
});

/** @param least and most powers of ten, drawn evenly where fc.double would seldom go */
function staysFinite(least: number, most: number): void {
  fc.assert(
    fc.property(
      fc.double({ min: least, max: most, noNaN: true }),
      fc.array(report, { minLength: 1, maxLength: 40 }),
      (power, reports) => {
        const track = createTrack(optionsForNoise(10 ** power), 2);
        const estimate = createEstimate();
        let timeS = 0;
        for (const { intervalS, at, tracker, quality } of reports) {
          timeS += intervalS;
          observe(track, { ...sighting(timeS, at, tracker), quality });
          demand(track.numbers[SLOT.started] === 1, () => 'not started');
          for (const { weight, mean, cov } of [track.floor, track.height]) {
            for (const numbers of [weight, mean, cov]) {
              demand(numbers.every(Number.isFinite), () => numbers.join());
            }
          }
          const isKnown = predict(track, timeS + 0.1, estimate);
          const isWhole = Object.values(estimate).every(Number.isFinite);
          demand(isKnown && isWhole, () => JSON.stringify(estimate));
        }
      },
    ),
    { seed: SEED, numRuns: 500 },
  );
}

test('finite from a millimetre to ten metres', () => staysFinite(-3, 1));

test('finite down to what nothing could measure', () => staysFinite(-100, -3));
