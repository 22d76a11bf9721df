import { expect, test } from 'vitest';
import { CueTimes, lostInCue, reportedCues } from '../../../src/reporting/words/cue-times.js';
import { Rig } from '../../engine/harness.js';
import { SOLO } from '../../engine/shows.js';

const SHOW = `${SOLO}cues: { prologue: { label: Prologue }, storm: { fade: 0 } }\n`;

test('each cue that was on, from when to when, who asked for it, and what was lost in it', () => {
  const rig = new Rig(SHOW);
  const times = new CueTimes();
  const run = (seconds: number) =>
    rig.run(seconds, { 1: [2, 6] }, now => {
      const events = now.events.filter(({ atS }) => atS === now.nowS);
      times.ticked(now.view, events, now.nowS);
    });
  run(2);
  const startS = rig.nowS;
  rig.order({ kind: 'cue', to: 'next', cause: 'command', by: 'control socket (user anna uid 7)' });
  run(4);
  const losses = [
    { atS: startS - 1, forS: 2 },
    { atS: startS + 2, forS: 0.5 },
  ];
  const [prologue, storm, ...more] = reportedCues(times.all, losses, startS + 3);
  expect(more).toEqual([]);
  expect(prologue).toMatchObject({ label: 'Prologue', by: undefined, losses: 1 });
  expect(prologue?.lostS).toBeCloseTo(1, 1);
  expect(storm).toMatchObject({ cue: 'storm', by: 'anna', losses: 1, untilS: startS + 3 });
  expect(storm?.lostS).toBeCloseTo(1.5, 1);
  expect(storm && lostInCue(storm)).toMatch(/^1 loss, 1.5 s lost$/);
  // Of several it is a sum, and may be longer than the cue.
  expect(storm && lostInCue({ ...storm, losses: 2, lostS: 66 })).toBe(
    '2 losses, 1:06 min lost for all together',
  );
});
