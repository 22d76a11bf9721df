import { expect, test } from 'vitest';
import { ReportBook } from '../../src/calibration/report-book.js';

function heard(tracker: string, timeS = 0) {
  return { tracker, timeS, x: 1, y: 2, z: 3, quality: undefined };
}

test('keeps what is heard by tracker, until it is cleared', () => {
  const book = new ReportBook();
  book.note(heard('7', 1));
  book.note(heard('gull', 1.1));
  book.note(heard('7', 1.2));
  expect(book.of('7').map(report => report.timeS)).toEqual([1, 1.2]);
  expect(book.of('8')).toEqual([]);
  expect(book.names).toBe('7, gull');
  book.clear();
  expect(book.trackers).toEqual([]);
});

test('a flood of trackers or of reports is bounded', () => {
  const book = new ReportBook();
  for (let i = 0; i < 1000; i++) book.note(heard(String(i)));
  expect(book.trackers).toHaveLength(256);
  expect(book.names).toBe('0, 1, 2, 3, 4, 5, 6, 7 ...');
  for (let i = 0; i < 70_000; i++) book.note(heard('0', i));
  expect(book.of('0')).toHaveLength(60_000);
});
