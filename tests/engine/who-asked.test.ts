import { expect, test } from 'vitest';
import { askedBy } from '../../src/engine/events/event-words.js';

test('who asked is said as people say it', () => {
  const said = (by: string | undefined) => askedBy({ by });
  expect(said('control socket (user anna uid 1000)')).toBe(' (asked by anna)');
  expect(said('control socket (user panel at 127.0.0.1)')).toBe(
    ' (asked by the panel at 127.0.0.1)',
  );
  expect(said('10.0.0.5')).toBe(' (asked by 10.0.0.5)');
  expect(said(undefined)).toBe('');
});
