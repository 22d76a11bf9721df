import { expect, it } from 'vitest';
import { comparisonText } from '../../../src/commands/files/comparison-text.js';
import { HOUSE } from '../../engine/shows.js';
import { showOf } from '../../show/show-of.js';

it('calls performers and fixtures by label', () => {
  const other = showOf(
    HOUSE.replace('ines: { trackers: [1] }', 'ines: { trackers: [1], label: Ines Lind }').replace(
      'head: { profile: spot, universe: 2, address: 1,',
      '$& label: Head one,',
    ),
  );
  const result = {
    runFromS: 0,
    unixOffsetS: 0,
    lengthS: 60,
    differences: [
      {
        fixture: 'head',
        attribute: 'Dimmer',
        unit: '%',
        totalS: 3,
        periods: [{ fromS: 1, toS: 4, worstAtS: 2, recorded: 100, other: 60 }],
        periodsLeftOut: 0,
      },
    ],
    followed: [{ performer: 'ines', recordedOnlyS: 12, otherOnlyS: 0, firstS: 1 }],
    onlyRecorded: ['ines'],
    onlyOther: [],
    unheardInputs: ['head'],
    failed: undefined,
  };
  const text = comparisonText(result, other, undefined).join('\n');
  expect(text).toMatch(/^with the show "Test house"\n/);
  expect(text).toContain('\n  Ines Lind: not followed for 12.0 s');
  expect(text).toContain('\n  Head one\n    Dimmer: different');
  // What is no fixture of that show keeps its name, whatever else is called so.
  expect(text).toContain('fixtures it does not have: ines\n  inputs it does not have: head');
});
