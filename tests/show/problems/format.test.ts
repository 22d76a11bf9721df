import { describe, expect, it } from 'vitest';
import {
  FORMAT_STEPS,
  FORMAT_VERSION,
  type FormatStep,
  upgradeFormat,
} from '../../../src/show/problems/format.js';

/** Steps of a format that never was: a key renamed at the top, then one in each of a block, with another unit. */
const STEPS: readonly FormatStep[] = [
  {
    to: 2,
    changes: [
      {
        write: '`hall` instead of `room`',
        apply: values => {
          if (!('room' in values)) return [];
          values.hall = values.room;
          delete values.room;
          return [['room']];
        },
      },
    ],
  },
  {
    to: 3,
    changes: [
      {
        write: '`fadeMs` in milliseconds',
        apply: values =>
          Object.entries(Object(values.lamps)).flatMap(([name, lamp]) => {
            const own = Object(lamp) as Record<string, unknown>;
            if (typeof own.fade !== 'number') return [];
            own.fadeMs = 1000 * own.fade;
            delete own.fade;
            return [['lamps', name, 'fade']];
          }),
      },
    ],
  },
];

describe('a show of an older format', () => {
  it('is read in the terms of today, and says at each place how to write that', () => {
    const old = { lampwright: 1, room: 'large', lamps: { stove: { fade: 2 }, window: {} } };
    const upgraded = upgradeFormat(old, STEPS);
    expect(upgraded).toEqual({
      ok: true,
      value: { lampwright: 3, hall: 'large', lamps: { stove: { fadeMs: 2000 }, window: {} } },
      findings: [
        {
          code: 'older-format',
          message:
            'this is format 1, and is read as such. Write `hall` instead of `room` (format 2).',
          path: ['room'],
        },
        {
          code: 'older-format',
          message:
            'this is format 1, and is read as such. Write `fadeMs` in milliseconds (format 3).',
          path: ['lamps', 'stove', 'fade'],
        },
        {
          code: 'older-format',
          message:
            'the show has format 1, which is still read as before. Make the changes in these warnings, then write `lampwright: 3`.',
          path: ['lampwright'],
        },
      ],
    });
    // The file's own values are as they were.
    expect(old).toEqual({
      lampwright: 1,
      room: 'large',
      lamps: { stove: { fade: 2 }, window: {} },
    });
  });

  it('begins with the step behind its own version, and may have nothing to change', () => {
    expect(upgradeFormat({ lampwright: 2, room: 'mine' }, STEPS)).toMatchObject({
      value: { lampwright: 3, room: 'mine' },
      findings: [{ message: expect.stringContaining('Nothing in it needs a change') }],
    });
  });

  it('of today is as it is; of a later one it is refused; what is no version is for the schema', () => {
    const today = { lampwright: 3, room: 1 };
    expect(upgradeFormat(today, STEPS)).toEqual({ ok: true, value: today, findings: [] });
    expect(upgradeFormat({ lampwright: 4 }, STEPS)).toMatchObject({
      ok: false,
      finding: { code: 'newer-format', path: ['lampwright'] },
    });
    for (const odd of [
      undefined,
      null,
      7,
      'x',
      [],
      {},
      { lampwright: '1' },
      { lampwright: 0 },
      { lampwright: 1.5 },
    ]) {
      expect(upgradeFormat(odd, STEPS)).toEqual({ ok: true, value: odd, findings: [] });
    }
  });
});

it('each step leads to the next version, up to that of today', () => {
  expect(FORMAT_STEPS.map(({ to }) => to)).toEqual(FORMAT_STEPS.map((_, index) => index + 2));
  expect(FORMAT_VERSION).toBe(1 + FORMAT_STEPS.length);
});
