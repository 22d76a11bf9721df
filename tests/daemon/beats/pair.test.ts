import { describe, expect, it } from 'vitest';
import {
  Pair,
  type PairInputs,
  type PairPhase,
  resumesArtnet,
} from '../../../src/daemon/beats/pair.js';

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

  it('that was killed longer ago leaves Art-Net to the standby, which takes it 2.5 s after the last packet', () => {
    const look = { writtenS: 100 };
    expect(resumesArtnet(undefined, 100)).toBe(false);
    expect(resumesArtnet(look, 101.2)).toBe(true);
    // The last packet may have left 1 s before its end (E1.31 6.6.2): the standby may send from 101.5 s on.
    for (const nowS of [101.4, 102.5, 109]) expect(resumesArtnet(look, nowS)).toBe(false);
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

  it('begins with Art-Net below a standby that waits, once nobody has sent any for 2 s', () => {
    const pair = main();
    run(pair, 0, 1.9, heard);
    expect([pair.phase, pair.holdsArtnet]).toEqual(['joining', true]);
    run(pair, 1.9, 0.2, heard);
    expect([pair.phase, pair.priorityShift, pair.holdsArtnet]).toEqual(['joining', -2, false]);
    // From then on it is the standby that stays silent.
    run(pair, 2.1, 1, { ...heard, artnetHeard: true });
    expect(pair.holdsArtnet).toBe(false);
    const refused = main();
    run(refused, 0, 8, { ...heard, artnetRefused: true });
    expect(refused.holdsArtnet).toBe(true);
    const later = main();
    run(later, 0, 1.5, { ...heard, artnetHeard: true });
    run(later, 1.5, 1.9, heard);
    expect(later.holdsArtnet).toBe(true);
    run(later, 3.4, 0.2, heard);
    expect(later.holdsArtnet).toBe(false);
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

describe('a main machine that was out', () => {
  const led = () => {
    const pair = main();
    run(pair, 0, 5, alone);
    return pair;
  };

  it('for less than what E1.31 and a keep-alive leave goes on; for longer it comes back below the standby', () => {
    const pair = led();
    // 2.5 s (6.7.1), less 1 s for a packet that was due (6.6.2) and what it takes to see a cable go.
    expect(pair.wasOut(1.2, 6, false)).toBe(false);
    expect(pair.phase).toBe('leading');
    expect(pair.wasOut(1.3, 6.1, false)).toBe(true);
    expect([pair.phase, pair.priorityShift, pair.holdsArtnet]).toEqual(['listening', -2, true]);
    // The time to listen begins when it is back.
    for (let nowS = 6.1; nowS < 20; nowS += BEAT_S) {
      pair.wasOut(nowS - 4.8, nowS, false);
      pair.step({ nowS, ...alone });
    }
    expect(pair.phase).toBe('listening');
    expect(pair.holdsArtnet).toBe(true);
    pair.wasOut(0, 20, true);
    expect(run(pair, 20, 5, { ...heard, alike: true })).toEqual([['joining', 20, false]]);
    const last = run(pair, 25, 2, { partnerHeard: true, live: true, alike: true });
    expect(last).toEqual([['leading', expect.closeTo(25.5, 1), false]]);
  });

  it('has its Art-Net out again where all it sends is refused, and nobody is heard in its place', () => {
    const pair = led();
    const beats = (fromS: number, forS: number, outForS: number, inputs: typeof alone) => {
      for (let nowS = fromS; nowS < fromS + forS; nowS += BEAT_S) {
        pair.wasOut(outForS, nowS, true);
        pair.step({ nowS, ...inputs });
      }
      return [pair.phase, pair.priorityShift, pair.holdsArtnet];
    };
    expect(beats(6, 1, 2, alone)).toEqual(['listening', -2, true]);
    expect(beats(7, 1, 3, alone)).toEqual(['listening', -2, false]);
    // A standby has taken its place: sACN may pass at any time, and is below it by then.
    const same = { partnerHeard: true, live: true, alike: true };
    expect(beats(8, 20, 4, same)).toEqual(['joining', -2, true]);
    expect(beats(28, 2, 4, alone)).toEqual(['listening', -2, false]);
    expect(beats(30, 0.1, 0, alone)).toEqual(['leading', 0, false]);
  });

  it('leads again after a moment where there is no standby, and at once where none could be heard', () => {
    const pair = led();
    pair.wasOut(3, 8, false);
    pair.wasOut(0, 8, true);
    expect(run(pair, 8, 5, alone)).toEqual([['leading', expect.closeTo(9.2, 1), false]]);
    const deaf = main(false);
    expect(deaf.wasOut(30, 40, false)).toBe(false);
    expect(deaf.phase).toBe('leading');
  });

  it('while it is joining begins anew, though its Art-Net went on after a crash', () => {
    const pair = new Pair({ standby: false, canHear: true, startS: 0, resumes: true });
    run(pair, 0, 1, heard);
    expect([pair.phase, pair.holdsArtnet]).toEqual(['joining', false]);
    run(pair, 1, 0.4, { partnerHeard: true, live: true, alike: true });
    pair.wasOut(2, 3.4, false);
    pair.wasOut(0, 3.4, true);
    expect([pair.phase, pair.holdsArtnet]).toEqual(['listening', true]);
    expect(run(pair, 3.4, 0.45, { partnerHeard: true, live: true, alike: true })).toHaveLength(1);
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

  it('that stands in where it hears the main machine on another network goes on there while that one is out', () => {
    const pair = new Pair({
      standby: true,
      canHear: true,
      isDeaf: true,
      startS: 0,
      resumes: false,
    });
    run(pair, 0, 5, heard);
    run(pair, 5, 5, alone);
    expect(pair.phase).toBe('standing-in');
    pair.wasOut(5, 10, false);
    expect(run(pair, 10, 5, alone)).toEqual([]);
    expect(run(pair, 15, 1, heard)).toEqual([['standing-by', 15, false]]);
    pair.wasOut(5, 16, false);
    expect(run(pair, 16, 2, alone)).toEqual([]);
  });

  it('that was out itself does not take what it could not hear for silence', () => {
    const pair = standby();
    run(pair, 0, 5, heard);
    pair.wasOut(5, 10, false);
    expect([pair.phase, pair.holdsArtnet]).toEqual(['standing-by', true]);
    expect(run(pair, 10, 2.4, alone)).toEqual([]);
    expect(run(pair, 12.4, 1, alone)).toEqual([['standing-in', expect.closeTo(12.5, 1), false]]);
  });
});
