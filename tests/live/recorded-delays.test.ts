import { expect, test } from 'vitest';
import { LightDelays } from '../../src/live/light-delays.js';
import { delaysSince, readDelays } from '../../src/live/recorded-delays.js';

/** Measured at 0, arrived after 5 ms, taken in at 20, handed on at 20.9, received at 21.3, sent at `sentS`. */
const TIMES = { stampS: 0, arrivalS: 0.005, tickS: 0.02, handedS: 0.0209, receivedS: 0.0213 };

test('each record holds what is new since the one before, by part, in bins that say their upper end', () => {
  const delays = new LightDelays();
  delays.add(TIMES, 0.022);
  const first = delays.told;
  expect(delaysSince(first, [], 10)).toEqual({
    atS: 10,
    delays: {
      ...{ network: [[5, 1]], wait: [[15, 1]], tick: [[1, 1]] },
      ...{ pipe: [[0.5, 1]], send: [[1, 1]], whole: [[25, 1]] },
    },
  });
  expect(delaysSince(delays.told, first, 20)).toBeUndefined();
  delays.add(TIMES, 3);
  delays.add(TIMES, 0.022);
  const { whole, send } = delaysSince(delays.told, first, 20)?.delays ?? {};
  expect(whole).toEqual([
    [25, 1],
    [null, 1],
  ]);
  expect(send).toEqual([
    [1, 1],
    [null, 1],
  ]);
});

test('it is read as it was written; parts of a later version are passed over, and what makes no sense is no record', () => {
  const delays = new LightDelays();
  delays.add(TIMES, 3);
  const written = delaysSince(delays.told, [], 10);
  expect(readDelays(JSON.parse(JSON.stringify(written)))).toEqual(written);
  expect(readDelays({ atS: 1, delays: { cable: [[1, 1]], tick: [[1, 2]] } })).toEqual({
    atS: 1,
    delays: { tick: [[1, 2]] },
  });
  for (const wrong of [{}, { atS: 1, delays: [] }, { atS: 1, delays: { tick: [[1, -2]] } }]) {
    expect(readDelays(wrong)).toBeUndefined();
  }
});
