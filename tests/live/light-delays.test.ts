import { expect, it } from 'vitest';
import { DELAY_BINS_S, delayWithinS, LightDelays } from '../../src/live/light-delays.js';

const times = {
  stampS: 10,
  arrivalS: 10.004,
  tickS: 10.0217,
  handedS: 10.0223,
  receivedS: 10.0225,
};
const binOf = (seconds: number) => DELAY_BINS_S.findIndex(end => seconds <= end);

it('has each part of the way in its bin, and the whole of it', () => {
  const delays = new LightDelays();
  delays.add(times, 10.0249);
  const expected = { network: 0.004, wait: 0.0177, tick: 0.0006, pipe: 0.0002, send: 0.0024 };
  for (const { part, counts, sumS } of delays.told) {
    const s = part === 'whole' ? 0.0249 : expected[part];
    expect(sumS).toBeCloseTo(s, 9);
    expect(counts.indexOf(1)).toBe(binOf(s));
    expect(counts).toHaveLength(DELAY_BINS_S.length + 1);
  }
});

it('leaves out a frame without a new position', () => {
  const delays = new LightDelays();
  delays.add({ ...times, stampS: Number.NaN }, 10.03);
  for (const { counts } of delays.told) expect(Math.max(...counts)).toBe(0);
});

it('counts what arrived within the tick as not having waited, and what took over a second beyond all bins', () => {
  const delays = new LightDelays();
  delays.add({ ...times, arrivalS: 10.0225 }, 12);
  const of = (part: string) => delays.told.find(one => one.part === part);
  expect(of('wait')).toMatchObject({ sumS: 0 });
  expect(of('whole')?.counts.at(-1)).toBe(1);
  expect(delayWithinS({ counts: of('whole')?.counts ?? [] }, 0.5)).toBe(Number.POSITIVE_INFINITY);
});

it('says within what time a share of them lies', () => {
  const counts = new Array(DELAY_BINS_S.length + 1).fill(0);
  expect(delayWithinS({ counts }, 0.5)).toBeUndefined();
  counts[binOf(0.03)] = 98;
  counts[binOf(0.05)] = 2;
  expect(delayWithinS({ counts }, 0.5)).toBe(0.03);
  expect(delayWithinS({ counts }, 0.98)).toBe(0.03);
  expect(delayWithinS({ counts }, 0.99)).toBe(0.05);
});
