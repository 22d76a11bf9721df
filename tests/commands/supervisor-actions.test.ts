import { describe, expect, it } from 'vitest';
import { endsInWords, lapsesInWords } from '../../src/commands/supervisor-actions.js';

const at = (atS: number) => `20:${atS}`;

describe('the times when the machine was too slow', () => {
  it('are one line, with all that was late', () => {
    const lapses = [
      { atS: 10, ticks: 6, frames: 0 },
      { atS: 11, ticks: 0, frames: 1 },
      { atS: 40, ticks: 11, frames: 0 },
    ];
    expect(lapsesInWords(lapses, at)).toEqual({
      atS: 10,
      what: 'the machine was too slow or busy: 17 ticks and 1 frame late or lost in all, the last time at 20:40',
    });
    expect(lapsesInWords([], at)).toBeUndefined();
  });
});

describe('engines that ended when they should not have', () => {
  it('are told by how they ended, with the reason', () => {
    const hung = { how: 'hung', reason: 'no frame came for 1.1 s, so it was killed' } as const;
    const crashed = { how: 'crashed', reason: 'it was ended by SIGKILL' } as const;
    const unable = { how: 'did not start', reason: 'port 9010 is taken.' } as const;
    const ends = [crashed, hung, ...Array.from({ length: 7 }, () => unable)];
    expect(endsInWords(ends.map((end, atS) => ({ ...end, atS })))).toEqual([
      'The engine crashed once and was restarted (it was ended by SIGKILL).',
      'The engine hung once and was restarted (no frame came for 1.1 s, so it was killed).',
      'The engine did not start 7 times before it ran (port 9010 is taken).',
    ]);
  });
});
