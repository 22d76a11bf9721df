import { expect, test } from 'vitest';
import { ScoreSheet } from '../../../src/rehearsal/assessing/scores.js';

test('the figures of a handful of errors, by hand', () => {
  const sheet = new ScoreSheet(1 / 40);
  // Errors of 3, 4, 0 and 5 m: mean square (9 + 16 + 0 + 25) / 4 = 12.5.
  sheet.add(3, 0, 0, 0, false, true);
  sheet.add(0, 4, 0, 0, false, false);
  sheet.add(1, 1, 1, 1, false, true);
  sheet.add(3, 4, 0, 0, false, false);
  const scores = sheet.scores(0);
  expect(scores.rmse).toBeCloseTo(Math.sqrt(12.5), 12);
  expect(scores.median).toBe(4);
  expect(scores.p95).toBe(5);
  expect(scores.max).toBe(5);
  expect(scores.containment90).toBe(0.5);
  expect(scores.jitter).toBeNaN();
  expect(scores.roughness).toBeNaN();
});

test('jitter counts only movement while the truth stands, and not across a break', () => {
  const sheet = new ScoreSheet(1 / 40);
  for (let i = 0; i < 30; i++) sheet.add(0.01 * (i % 2), 0, 0, 0, true, undefined);
  expect(sheet.scores(0).jitter).toBeCloseTo(0.01, 12);
  sheet.add(7, 0, 7, 0, false, undefined);
  sheet.add(0, 0, 0, 0, true, undefined);
  sheet.breakOff();
  sheet.add(50, 0, 0, 0, true, undefined);
  expect(sheet.scores(0).jitter).toBeCloseTo(0.01, 12);
  expect(sheet.scores(0).containment90).toBeNaN();
});

test('a few movements are too few to tell jitter', () => {
  const sheet = new ScoreSheet(1 / 40);
  for (let i = 0; i < 20; i++) sheet.add(0.01 * (i % 2), 0, 0, 0, true, undefined);
  expect(sheet.scores(0).jitter).toBeNaN();
  sheet.add(0, 0, 0, 0, true, undefined);
  expect(sheet.scores(0).jitter).not.toBeNaN();
});

test('roughness is the acceleration of what is predicted, and not across a break', () => {
  const sheet = new ScoreSheet(0.1);
  // x = 3 t² accelerates by 6 m/s² at all times.
  for (let i = 0; i < 40; i++) sheet.add(3 * (0.1 * i) ** 2, 5, 0, 0, false, undefined);
  expect(sheet.scores(0).roughness).toBeCloseTo(6, 9);
  sheet.breakOff();
  for (let i = 0; i < 40; i++) sheet.add(900 + 3 * (0.1 * i) ** 2, 5, 0, 0, false, undefined);
  expect(sheet.scores(0).roughness).toBeCloseTo(6, 9);
});
