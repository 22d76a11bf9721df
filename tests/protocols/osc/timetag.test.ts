import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { isEarlier, timeTagFromNtp, timeTagToNtp } from '../../../src/protocols/osc/timetag.js';

describe('time tags', () => {
  // RFC 868 gives 2208988800 s from 1900 to 1970; the rest computed.
  it.each([
    ['Unix 0', 0x83aa7e80, 0, 0],
    ['Unix 1.5', 0x83aa7e81, 0x80000000, 1.5],
    [
      'the last half second of era 0',
      0xffffffff,
      0x80000000,
      Date.UTC(2036, 1, 7, 6, 28, 15, 500) / 1000,
    ],
    ['one second into era 1', 1, 0, Date.UTC(2036, 1, 7, 6, 28, 17) / 1000],
    ['the pivot in 1968', 0x80000000, 0, Date.UTC(1968, 0, 20, 3, 14, 8) / 1000],
    [
      'the second before the pivot comes round',
      0x7fffffff,
      0,
      Date.UTC(2104, 1, 26, 9, 42, 23) / 1000,
    ],
  ])('%s', (_, seconds, fraction, unix) => {
    expect(timeTagFromNtp(seconds, fraction)).toBe(unix);
    expect(timeTagToNtp(unix)).toEqual([seconds, fraction]);
  });

  it('knows "immediately" (OSC 1.0) and takes the unset NTP time for it', () => {
    expect(timeTagFromNtp(0, 1)).toBe('immediately');
    expect(timeTagFromNtp(0, 0)).toBe('immediately');
    expect(timeTagFromNtp(0, 2)).not.toBe('immediately');
    expect(timeTagToNtp('immediately')).toEqual([0, 1]);
  });

  it('carries a fraction that rounds up to a second', () => {
    expect(timeTagToNtp(1 - 2 ** -40)).toEqual([0x83aa7e81, 0]);
  });

  it('round trip within half a microsecond from 1968 to 2104', () => {
    fc.assert(
      fc.property(fc.double({ min: -6e7, max: 4.2e9, noNaN: true }), unix => {
        const back = timeTagFromNtp(...timeTagToNtp(unix));
        expect(Math.abs(Number(back) - unix)).toBeLessThan(5e-7);
      }),
      { seed: 7 },
    );
  });

  it('orders enclosed and enclosing tags', () => {
    expect(isEarlier(1, 2)).toBe(true);
    expect(isEarlier(2, 2)).toBe(false);
    expect(isEarlier(2, 'immediately')).toBe(false);
    expect(isEarlier('immediately', 'immediately')).toBe(false);
    expect(isEarlier('immediately', 2)).toBe(true);
  });
});
