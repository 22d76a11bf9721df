import { describe, expect, it } from 'vitest';
import {
  clock,
  duration,
  isTimeOfDay,
  nextTimeOfDay,
  timeOfDayIn,
} from '../../../src/commands/terminal/times.js';

/** Local times, whatever the zone of the machine; a day without a change of the clock. */
const at = (hours: number, minutes: number, day = 14) =>
  new Date(2026, 0, day, hours, minutes).getTime() / 1e3;

describe('a time of day', () => {
  it('is of the day of the recording', () => {
    expect(nextTimeOfDay('19:30', at(17, 0))).toBe(at(19, 30));
    expect(nextTimeOfDay('19:30:15', at(17, 0))).toBe(at(19, 30) + 15);
  });

  it('is of the next day where the show passes midnight', () => {
    expect(nextTimeOfDay('0:20', at(21, 0))).toBe(at(0, 20, 15));
  });

  it('is not tomorrow for a recording that began some seconds later', () => {
    expect(nextTimeOfDay('19:30', at(19, 30) + 5)).toBe(at(19, 30));
  });

  it('before a recording began is before it, and not of the next evening', () => {
    expect(timeOfDayIn('19:00', at(19, 30))).toBe(at(19, 0));
    expect(timeOfDayIn('21:45', at(19, 30))).toBe(at(21, 45));
    expect(timeOfDayIn('0:20', at(21, 0))).toBe(at(0, 20, 15));
  });

  it('is told from what is none', () => {
    expect(['7:05', '07:05', '23:59:59'].map(isTimeOfDay)).toEqual([true, true, true]);
    expect(['24:00', '7', '7:5', '19.30', ''].map(isTimeOfDay)).not.toContain(true);
  });

  it('is shown as people read it', () => {
    expect(clock(at(9, 5))).toBe('09:05:00');
    expect([0.26, 59.94, 125, 3723].map(duration)).toEqual(['0.3 s', '59.9 s', '2:05', '1:02:03']);
  });
});
