import { describe, expect, it } from 'vitest';
import { BeatClock } from '../../../src/daemon/beats/beat-clock.js';

describe('until when a loss counts', () => {
  it('is now, and the last beat where the process stood still since', () => {
    const clock = new BeatClock();
    clock.start(100);
    expect(clock.countsUntilS(100.2, 0.025, 0.25)).toBe(100.2);
    expect(clock.countsUntilS(101.5, 0.025, 0.25)).toBe(100);
  });
});
