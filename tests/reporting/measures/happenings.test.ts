import { expect, it } from 'vitest';
import { happeningOf } from '../../../src/reporting/measures/happenings.js';
import { NAMES_AS_LABELS } from '../../../src/show/model/labels.js';

it('a stop that is asked for again is told, with who asked', () => {
  const action = { kind: 'stop', performer: undefined, cause: 'command', id: 2 } as const;
  const done = {
    kind: 'operator-done',
    action: { ...action, by: '10.0.0.5' },
    stillStopped: ['ines'],
    stopOfEverybody: true,
  } as const;
  const told = (changed: boolean) => happeningOf({ ...done, changed }, NAMES_AS_LABELS);
  expect(told(false)).toBe('stop everybody (asked by 10.0.0.5): already stopped');
  expect(told(true)).toBeUndefined();
});

it('who has one of two trackers taken off wears one again: nothing is left to agree with', () => {
  const event = { kind: 'trackers-apart', performer: 'bram', trackers: [], apartM: 0 } as const;
  const labels = { ...NAMES_AS_LABELS, performer: () => 'Bram' };
  expect(happeningOf({ ...event, wearsOne: true }, labels)).toBe('Bram: wore one tracker again');
  expect(happeningOf(event, labels)).toBe('Bram: the trackers agreed again');
});
