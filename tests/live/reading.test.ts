import { expect, it } from 'vitest';
import { refusedInWords, wornInWords } from '../../src/live/reading.js';
import type { LiveSnapshot } from '../../src/live/schema.js';

const wearing = (
  trackers: readonly { id: string; silentForS?: number | undefined }[],
  frozen: readonly string[] = [],
  state = 'live',
) =>
  wornInWords(
    {
      engine: { trackers: trackers.map(one => ({ ...one, performer: 'ines' })) },
      status: {
        frozenTrackers: frozen.map(tracker => ({ tracker })),
        performers: [{ name: 'ines', state }],
      },
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
  // An engine that was restarted has not heard it; the one before had.
  expect(wearing([{ id: '2' }], [], 'lost')).toBe('tracker 2, silent');
});

it('says why an enable that is held is refused, and what to do', () => {
  const told = (status: object, hazards: object[]) =>
    refusedInWords(
      {
        status: {
          stops: { everybody: false },
          supervisor: { phase: 'live' },
          feed: { silent: false },
          performers: [{ label: 'Ines', state: 'live' }],
          ...status,
        },
        engine: { hazards },
      } as unknown as LiveSnapshot,
      'atmospheric',
    );
  const haze = { hazard: 'atmospheric', gate: 'latched-off', heldBy: ['panel at 10.0.0.5'] };
  const all = [haze];
  expect(told({ stops: { everybody: true } }, all)).toBe(
    'everybody is stopped. Release, and press again once they are resumed.',
  );
  expect(told({ feed: { silent: true } }, all)).toMatch(/^tracking is silent\. Release/);
  expect(told({ supervisor: { phase: 'safe' } }, all)).toMatch(/^all light is at the safe look\./);
  expect(told({ performers: [{ label: 'Ines', state: 'lost' }] }, all)).toBe(
    'Ines is lost. Release, and press again once that is over.',
  );
  expect(told({}, [{ ...haze, heldBy: ['a', 'b'] }])).toMatch(/^one of 2 hands has released it\./);
  expect(told({}, all)).toBe('it had gone off while it was held. Release, and press again.');
  expect(told({}, [{ ...haze, gate: 'on' }])).toBeUndefined();
  expect(told({}, [{ ...haze, gate: 'off' }])).toBeUndefined();
  expect(told({}, [haze, { ...haze, gate: 'on' }])).toBeUndefined();
  expect(told({}, [{ ...haze, hazard: 'strobe' }])).toBeUndefined();
});
