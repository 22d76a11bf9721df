import { describe, expect, it } from 'vitest';
import { createCounters } from '../../../src/engine/values/counters.js';
import { CountsWithin, sumOf } from '../../../src/reporting/measures/input-counts.js';

describe('input that was no use, within a time', () => {
  it('is what the counters grew by between the first moment inside and the first after it', () => {
    const counters = createCounters();
    const counted = new CountsWithin(counters);
    counters.duplicates = 5;
    counted.at(false);
    counted.shell({ 'inbox-full': 2 });
    counted.at(true);
    counters.duplicates = 12;
    counters.drops['no-route'] = 3;
    counted.shell({ 'inbox-full': 9 });
    counted.at(true);
    counted.at(false);
    counters.duplicates = 100;
    counted.shell({ 'inbox-full': 900 });
    counted.at(false);
    const { drops, duplicates } = counted.counts();
    expect(duplicates).toBe(7);
    expect(drops['no-route']).toBe(3);
    expect(drops['inbox-full']).toBe(7);
  });

  it('is nothing of an engine that ran at another time, and goes to the end of one that ran on', () => {
    const [early, late] = [createCounters(), createCounters()];
    const [before, within] = [new CountsWithin(early), new CountsWithin(late)];
    before.at(false);
    early.invalid = 4;
    within.at(true);
    late.invalid = 3;
    expect(sumOf([before.counts(), within.counts()]).invalid).toBe(3);
  });
});
