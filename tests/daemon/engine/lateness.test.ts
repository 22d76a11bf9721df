import { describe, expect, it } from 'vitest';
import { Lateness } from '../../../src/daemon/engine/lateness.js';

const counted = (lateTicks: number, framesSkipped = 0, messagesDropped = 0) => ({
  lateTicks,
  framesSkipped,
  messagesDropped,
});

describe('what a slow machine shows', () => {
  it('late ticks are told at once when there are many, and then every ten seconds', () => {
    const lateness = new Lateness();
    expect(lateness.take(counted(90), 0, 100)).toEqual([]);
    expect(lateness.take(counted(93), 0, 101)).toEqual([]);
    expect(lateness.take(counted(97), 0, 102)).toEqual([{ kind: 'ticks-late', late: 4, inS: 10 }]);
    for (let s = 103; s < 112; s++) expect(lateness.take(counted(97 + s - 102), 0, s)).toEqual([]);
    expect(lateness.take(counted(107), 0, 112)).toEqual([
      { kind: 'ticks-late', late: 10, inS: 10 },
    ]);
  });

  it('every lost frame and message is told of, and none twice', () => {
    const lateness = new Lateness();
    expect(lateness.take(counted(0, 6, 2), 3, 101)).toEqual([
      { kind: 'frames-lost', late: 3, skipped: 6, messages: 2, inS: 10 },
    ]);
    expect(lateness.take(counted(0, 6, 4), 4, 105)).toEqual([]);
    expect(lateness.take(counted(0, 6, 4), 4, 111)).toEqual([
      { kind: 'frames-lost', late: 1, skipped: 0, messages: 2, inS: 10 },
    ]);
    expect(lateness.take(counted(0, 6, 4), 4, 130)).toEqual([]);
  });

  it('a new engine counts from 0; what was late before it stays told', () => {
    const lateness = new Lateness();
    expect(lateness.take(counted(0, 50), 0, 100)).toHaveLength(1);
    lateness.begin(104);
    expect(lateness.take(counted(30, 1), 0, 105)).toEqual([]);
    expect(lateness.take(counted(30, 2), 0, 111)).toEqual([
      {
        ...{ kind: 'frames-lost', late: 0, skipped: 2, messages: 0, inS: 10 },
        because: 'engine-started',
      },
    ]);
    // By then it is the machine.
    expect(lateness.take(counted(30, 3), 0, 122)).toEqual([
      { kind: 'frames-lost', late: 0, skipped: 1, messages: 0, inS: 10 },
    ]);
  });

  it('is not that of a machine while a process stood still', () => {
    const lateness = new Lateness();
    lateness.take(counted(0), 0, 100);
    lateness.note('engine-stood-still', 104);
    expect(lateness.take(counted(160), 0, 104)).toEqual([
      { kind: 'ticks-late', late: 160, inS: 10, because: 'engine-stood-still' },
    ]);
    lateness.note('daemon-stood-still', 106);
    expect(lateness.take(counted(160), 3, 107)).toEqual([
      {
        ...{ kind: 'frames-lost', late: 3, skipped: 0, messages: 0, inS: 10 },
        because: 'daemon-stood-still',
      },
    ]);
    expect(lateness.take(counted(170), 3, 119)).toEqual([
      { kind: 'ticks-late', late: 10, inS: 10 },
    ]);
  });
});
