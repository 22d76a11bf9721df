import { describe, expect, it } from 'vitest';
import { createFeedRecord, type Heard, noteReport, rhythmOf } from '../../src/readiness/feed.js';
import { seededNormal, seededRandom } from '../../src/rehearsal/sensors/random.js';

function heardAt(timesS: readonly number[], quality?: number): Heard {
  const record = createFeedRecord();
  for (const timeS of timesS)
    noteReport(record, { tracker: '1', timeS, x: 1, y: 2, z: 3, quality });
  const heard = record.trackers.get('1');
  if (heard === undefined) throw new Error('nothing was heard');
  return heard;
}

/** A minute at 30 Hz from a server whose packets take a while, and sometimes get lost. */
function minute(lossShare: number, jitterS: number, seed = 5) {
  const random = seededRandom(seed);
  const normal = seededNormal(seed);
  const times: number[] = [];
  let sent = 0;
  for (let i = 0; i < 1800; i++) {
    // The first and the last arrive, so that what was sent between them is known.
    if (i > 0 && i < 1799 && random() < lossShare) continue;
    sent++;
    times.push(1000 + i / 30 + Math.abs(jitterS * normal()));
  }
  return { times: times.sort((a, b) => a - b), lost: 1800 - sent };
}

describe('the rhythm of a feed', () => {
  it('of a perfect one is its rate, and nothing is lost', () => {
    const { intervalS, jitterS, missing, loss } = rhythmOf(heardAt(minute(0, 0).times));
    expect(1 / (intervalS ?? 0)).toBeCloseTo(30, 6);
    expect(jitterS).toBeCloseTo(0, 6);
    expect([missing, loss]).toEqual([0, 0]);
  });

  it.each([0.01, 0.05, 0.2])('counts what is lost: %d', share => {
    const { times, lost } = minute(share, 0.004);
    const { missing, loss } = rhythmOf(heardAt(times));
    expect(Math.abs(missing - lost)).toBeLessThanOrEqual(Math.max(4, 0.05 * lost));
    expect(loss).toBeCloseTo(lost / 1800, 2);
  });

  it('takes late reports for late, not for lost', () => {
    // 8 ms of 33: a late report and an early one after it.
    const { missing, jitterS } = rhythmOf(heardAt(minute(0, 0.008).times));
    expect(missing).toBeLessThanOrEqual(9); // half a per cent
    expect(jitterS).toBeGreaterThan(0.008);
  });

  it('tells the longest silence, and counts it as lost', () => {
    const { times } = minute(0, 0);
    const without = times.filter(timeS => timeS < 1010 || timeS > 1012);
    const { longestGapS, missing } = rhythmOf(heardAt(without));
    expect(longestGapS).toBeCloseTo(2.03, 1);
    expect(missing).toBe(times.length - without.length);
  });

  it('of a few reports is not told', () => {
    const { reports, intervalS, jitterS, loss } = rhythmOf(heardAt([1, 2, 3]));
    expect([reports, intervalS, jitterS, loss]).toEqual([3, undefined, undefined, 0]);
  });

  it('has a quality where the feed gives one', () => {
    expect(rhythmOf(heardAt([1, 2])).quality).toBeUndefined();
    expect(rhythmOf(heardAt([1, 2], 0.7)).quality).toEqual({ mean: 0.7, least: 0.7 });
  });
});

describe('the record', () => {
  it('is bounded in trackers, and counts what it leaves out', () => {
    const record = createFeedRecord();
    for (let i = 0; i < 2000; i++) {
      noteReport(record, { tracker: `t${i}`, timeS: 1, x: 0, y: 0, z: 0, quality: undefined });
    }
    expect(record.trackers.size).toBe(1024);
    expect(record.dropped).toBe(2000 - 1024);
  });
});
