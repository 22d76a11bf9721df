import { expect, test } from 'vitest';
import {
  ReliabilitySheet,
  reliabilityFigures,
} from '../../../src/rehearsal/assessing/reliability.js';
import { drawReliability } from '../../../src/rehearsal/charts/reliability-picture.js';

test('moments are counted by the confidence that they had', () => {
  const sheet = new ReliabilitySheet();
  for (const error of [0.1, 0.4, 0.7, 3]) sheet.add(1, error);
  for (const error of [0.2, 0.5, 1]) sheet.add(0.999, error);
  sheet.add(0.3, 0.1);
  sheet.add(0, 9);
  const bins = sheet.bins();
  expect(bins).toHaveLength(9);
  expect(bins.at(-1)).toEqual({
    from: 1,
    to: 1,
    moments: 4,
    confidence: 1,
    within50cm: 0.5,
    within1m: 0.75,
  });
  expect(bins.at(-2)).toMatchObject({ from: 0.875, to: 1, moments: 3, within1m: 1 });
  expect(bins.at(-2)?.within50cm).toBeCloseTo(2 / 3, 12);
  expect(bins[0]).toMatchObject({ moments: 1, within1m: 0 });
  expect(bins[1]?.within1m).toBeNaN();
  // One of four at full confidence is off; one of the five good moments had 0.3.
  expect(reliabilityFigures(bins)).toEqual({ offAtFull: 0.25, goodLost: 0.2 });
});

test('sheets of several recordings add up', () => {
  const [one, other] = [new ReliabilitySheet(), new ReliabilitySheet()];
  one.add(1, 0.1);
  other.add(1, 2);
  one.addAll(other);
  expect(one.bins().at(-1)).toMatchObject({ moments: 2, within1m: 0.5 });
});

test('the picture has a dot for each figure, and none for what is seldom', () => {
  const sheet = new ReliabilitySheet();
  for (let i = 0; i < 40; i++) sheet.add(1, 0.1);
  for (let i = 0; i < 10; i++) sheet.add(0.6, 0.7);
  for (let i = 0; i < 9; i++) sheet.add(0.2, 2);
  const svg = drawReliability(sheet.bins());
  expect(svg.match(/<circle/g)).toHaveLength(4);
  expect(svg).not.toMatch(/NaN|Infinity/);
});
