import { describe, expect, it } from 'vitest';
import { Pair, type PairInputs, type PairPhase } from '../../src/daemon/pair.js';

const BEAT_S = 0.025;

/** Beats for some seconds; the phases that it went through with their times from the start. */
function run(pair: Pair, fromS: number, forS: number, inputs: Omit<PairInputs, 'nowS'>) {
  const phases: [PairPhase, number, boolean][] = [];
  for (let i = 0; i < Math.round(forS / BEAT_S); i++) {
    const nowS = fromS + i * BEAT_S;
    if (pair.step({ nowS, ...inputs })) phases.push([pair.phase, nowS, pair.crossfades]);
  }
  return phases;
}

const main = (canHear = true) => new Pair({ standby: false, canHear, startS: 0, resumes: false });
const standby = () => new Pair({ standby: true, canHear: true, startS: 0, resumes: false });
const alone = { partnerHeard: false, live: false, alike: false };
const heard = { partnerHeard: true, live: false, alike: false };

describe('the main machine', () => {
  it('leads when nobody is there, after the time in which everybody is heard (E1.31 6.6.2)', () => {
    const pair = main();
    expect([pair.phase, pair.priorityShift, pair.holdsArtnet]).toEqual(['listening', -2, true]);
    expect(run(pair, 0, 5, alone)).toEqual([['leading', expect.closeTo(1.2, 1), false]]);
    expect([pair.priorityShift, pair.holdsArtnet]).toEqual([0, false]);
  });

  it('leads at once where nobody could be heard', () => {
    expect(main(false).priorityShift).toBe(0);
  });

  it('that was killed just now goes on with Art-Net, where nobody has taken its place yet', () => {
    const pair = new Pair({ standby: false, canHear: true, startS: 0, resumes: true });
    expect([pair.priorityShift, pair.holdsArtnet]).toEqual([-2, false]);
    run(pair, 0, 1, heard);
    expect([pair.phase, pair.priorityShift, pair.holdsArtnet]).toEqual(['joining', -2, false]);
  });

  it('stays below a standby that has taken over, until its light is live and the same', () => {
    const pair = main();
    expect(run(pair, 0, 3, heard)).toEqual([['joining', 0, false]]);
    expect(pair.priorityShift).toBe(-2);
    expect(run(pair, 3, 3, { ...heard, live: true })).toEqual([]);
    expect(run(pair, 6, 3, { ...heard, alike: true })).toEqual([]);
    // A moment in which two lights cross is not enough.
    for (let i = 0; i < 10; i++) {
      run(pair, 9 + i, 0.4, { partnerHeard: true, live: true, alike: true });
      run(pair, 9.4 + i, 0.6, heard);
    }
    expect(pair.phase).toBe('joining');
    const last = run(pair, 20, 2, { partnerHeard: true, live: true, alike: true });
    expect(last).toEqual([['leading', expect.closeTo(20.5, 1), false]]);
  });

  it('crossfades where the two lights do not meet, or the standby goes', () => {
    const late = main();
    run(late, 0, 1, heard);
    expect(run(late, 1, 15, { ...heard, live: true })).toEqual([
      ['leading', expect.closeTo(11, 1), true],
    ]);
    const left = main();
    run(left, 0, 1, heard);
    expect(run(left, 1, 1, alone)).toEqual([['leading', 1, true]]);
  });
});

describe('the standby', () => {
  it('is below the main machine always, and holds Art-Net back while that is heard', () => {
    const pair = standby();
    run(pair, 0, 20, heard);
    expect([pair.phase, pair.priorityShift, pair.holdsArtnet]).toEqual(['standing-by', -1, true]);
    expect(run(pair, 20, 1, alone)).toEqual([['standing-in', 20, false]]);
    expect([pair.priorityShift, pair.holdsArtnet]).toEqual([-1, false]);
    expect(run(pair, 21, 1, heard)).toEqual([['standing-by', 21, false]]);
  });

  it('that never heard the main machine takes its part after ten seconds', () => {
    expect(run(standby(), 0, 20, alone)).toEqual([['standing-in', expect.closeTo(10, 1), false]]);
  });
});
