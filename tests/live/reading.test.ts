import { expect, it } from 'vitest';
import { wornInWords } from '../../src/live/reading.js';
import type { LiveSnapshot } from '../../src/live/schema.js';

const wearing = (
  trackers: readonly { id: string; silentForS?: number | undefined }[],
  frozen: readonly string[] = [],
) =>
  wornInWords(
    {
      engine: { trackers: trackers.map(one => ({ ...one, performer: 'ines' })) },
      status: { frozenTrackers: frozen.map(tracker => ({ tracker })) },
    } as unknown as LiveSnapshot,
    'ines',
  );

it('says which of several trackers is silent, or repeats itself, and of one what it is', () => {
  const heard = (id: string) => ({ id, silentForS: 0.03 });
  expect(wearing([heard('2'), heard('5')])).toBe('tracker 2, 5');
  expect(wearing([heard('2'), { id: '5', silentForS: 12 }])).toBe('tracker 2, 5 (silent for 0:12)');
  expect(wearing([heard('2'), { id: '5' }])).toBe('tracker 2, 5 (never heard)');
  expect(wearing([heard('2'), heard('5')], ['2'])).toBe('tracker 2 (repeats itself), 5');
  expect(wearing([heard('2')], ['2'])).toBe('tracker 2, repeats itself');
  expect(wearing([{ id: '2' }, { id: '5' }])).toBe('tracker 2, 5, never heard');
  expect(wearing([])).toBe('wears no tracker');
});
