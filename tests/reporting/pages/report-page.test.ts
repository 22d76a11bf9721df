import { expect, test } from 'vitest';
import { followedFigures } from '../../../src/reporting/pages/report-page.js';
import type { Report } from '../../../src/reporting/words/report-data.js';

test('a stop of everybody is one stop, and no loss', () => {
  const losses = [
    ...[10, 10, 10.02].map(atS => ({ atS, cause: 'operator-stop' })),
    { atS: 20, cause: 'tracker-silent' },
    { atS: 30, cause: 'operator-stop' },
  ];
  const performers = [{ sinceS: 100, followedS: 90 }];
  const [, lost, stops, ...more] = followedFigures({ performers, losses } as unknown as Report);
  expect(more).toEqual([]);
  expect(lost).toMatch(/>1<.*>loss</);
  expect(stops).toMatch(/>2<.*>operator stops</);
});
