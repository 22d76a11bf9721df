import { describe, expect, test } from 'vitest';
import { type FallbackPhase, nextFallbackPhase } from '../../src/safety/fallback.js';
import { nextPhase, PHASES, type Phase } from '../../src/safety/watchdog.js';

/**
 * The transitions as people drew them (docs/concepts/safety.md), written down here on their own: `-`
 * stands for anything. Each combination of inputs has to match exactly one row.
 */
type Yes = 'yes' | 'no' | '-';
type Row<P extends string> = readonly [from: P | '-', ...inputs: string[], to: P];

// biome-ignore format: a table
const PHASE_ROWS: readonly Row<Phase>[] = [
  // from         seen   lost   well   rearmed  trust   to
  ['waiting',     'no',  '-',   '-',   '-',     '-',    'waiting'],
  ['rearming',    'no',  '-',   '-',   '-',     '-',    'waiting'],
  ['returning',   'no',  '-',   '-',   '-',     '-',    'waiting'],
  ['live',        'no',  '-',   '-',   '-',     '-',    'waiting'],
  ['safe',        'no',  '-',   '-',   '-',     '-',    'waiting'],
  // Never heard, and said to be on stage after all: what they show goes to the safe values first.
  ['losing',      'no',  '-',   '-',   '-',     'none', 'waiting'],
  ['losing',      'no',  '-',   '-',   '-',     'some', 'losing'],
  ['losing',      'no',  '-',   '-',   '-',     'full', 'losing'],
  ['off',         'no',  '-',   '-',   '-',     'none', 'waiting'],
  ['off',         'no',  '-',   '-',   '-',     'some', 'losing'],
  ['off',         'no',  '-',   '-',   '-',     'full', 'losing'],
  ['off',         'yes', 'yes', '-',   '-',     'none', 'safe'],
  ['off',         'yes', 'yes', '-',   '-',     'some', 'losing'],
  ['off',         'yes', 'yes', '-',   '-',     'full', 'losing'],
  ['off',         'yes', 'no',  'no',  '-',     '-',    'off'],
  ['off',         'yes', 'no',  'yes', 'no',    '-',    'off'],
  ['off',         'yes', 'no',  'yes', 'yes',   'none', 'returning'],
  ['off',         'yes', 'no',  'yes', 'yes',   'some', 'returning'],
  ['off',         'yes', 'no',  'yes', 'yes',   'full', 'live'],
  ['waiting',     'yes', 'yes', '-',   '-',     '-',    'waiting'],
  ['waiting',     'yes', 'no',  'no',  '-',     '-',    'waiting'],
  ['waiting',     'yes', 'no',  'yes', 'no',    '-',    'rearming'],
  ['waiting',     'yes', 'no',  'yes', 'yes',   '-',    'returning'],
  ['rearming',    'yes', 'yes', '-',   '-',     'some', 'losing'],
  ['rearming',    'yes', 'yes', '-',   '-',     'full', 'losing'],
  ['rearming',    'yes', 'yes', '-',   '-',     'none', 'safe'],
  ['rearming',    'yes', 'no',  'no',  '-',     'some', 'losing'],
  ['rearming',    'yes', 'no',  'no',  '-',     'full', 'losing'],
  ['rearming',    'yes', 'no',  'no',  '-',     'none', 'safe'],
  ['rearming',    'yes', 'no',  'yes', 'no',    '-',    'rearming'],
  ['rearming',    'yes', 'no',  'yes', 'yes',   '-',    'returning'],
  ['returning',   'yes', 'yes', '-',   '-',     'some', 'losing'],
  ['returning',   'yes', 'yes', '-',   '-',     'full', 'losing'],
  ['returning',   'yes', 'yes', '-',   '-',     'none', 'safe'],
  ['returning',   'yes', 'no',  '-',   '-',     'none', 'returning'],
  ['returning',   'yes', 'no',  '-',   '-',     'some', 'returning'],
  ['returning',   'yes', 'no',  '-',   '-',     'full', 'live'],
  ['live',        'yes', 'yes', '-',   '-',     '-',    'losing'],
  ['live',        'yes', 'no',  '-',   '-',     '-',    'live'],
  ['losing',      'yes', 'yes', '-',   '-',     'some', 'losing'],
  ['losing',      'yes', 'yes', '-',   '-',     'full', 'losing'],
  ['losing',      'yes', 'yes', '-',   '-',     'none', 'safe'],
  ['losing',      'yes', 'no',  'no',  '-',     'some', 'losing'],
  ['losing',      'yes', 'no',  'no',  '-',     'full', 'losing'],
  ['losing',      'yes', 'no',  'no',  '-',     'none', 'safe'],
  ['losing',      'yes', 'no',  'yes', 'no',    '-',    'rearming'],
  ['losing',      'yes', 'no',  'yes', 'yes',   '-',    'returning'],
  ['safe',        'yes', 'yes', '-',   '-',     'some', 'losing'],
  ['safe',        'yes', 'yes', '-',   '-',     'full', 'losing'],
  ['safe',        'yes', 'yes', '-',   '-',     'none', 'safe'],
  ['safe',        'yes', 'no',  'no',  '-',     'some', 'losing'],
  ['safe',        'yes', 'no',  'no',  '-',     'full', 'losing'],
  ['safe',        'yes', 'no',  'no',  '-',     'none', 'safe'],
  ['safe',        'yes', 'no',  'yes', 'no',    '-',    'rearming'],
  ['safe',        'yes', 'no',  'yes', 'yes',   '-',    'returning'],
];

/** Of somebody who is known to be off stage, and whom no operator or lost desk takes the light. */
// biome-ignore format: a table
const OFF_ROWS: readonly Row<Phase>[] = [
  // from         settled trust   to
  ['waiting',     '-',    '-',    'off'],
  ['returning',   '-',    '-',    'off'],
  ['live',        '-',    '-',    'off'],
  ['off',         '-',    '-',    'off'],
  ['rearming',    '-',    'some', 'losing'],
  ['rearming',    '-',    'full', 'losing'],
  ['rearming',    'no',   'none', 'safe'],
  ['rearming',    'yes',  'none', 'off'],
  ['losing',      '-',    'some', 'losing'],
  ['losing',      '-',    'full', 'losing'],
  ['losing',      'no',   'none', 'safe'],
  ['losing',      'yes',  'none', 'off'],
  ['safe',        '-',    'some', 'losing'],
  ['safe',        '-',    'full', 'losing'],
  ['safe',        'no',   'none', 'safe'],
  ['safe',        'yes',  'none', 'off'],
];

// biome-ignore format: a table
const FALLBACK_ROWS: readonly Row<FallbackPhase>[] = [
  // from         well   rearmed  all safe  all live  to
  ['live',        'yes', '-',     '-',      '-',      'live'],
  ['live',        'no',  '-',     '-',      '-',      'losing'],
  ['returning',   'no',  '-',     '-',      '-',      'losing'],
  ['returning',   'yes', '-',     '-',      'yes',    'live'],
  ['returning',   'yes', '-',     '-',      'no',     'returning'],
  ['losing',      '-',   '-',     'no',     '-',      'losing'],
  ['losing',      'yes', '-',     'yes',    '-',      'rearming'],
  ['losing',      'no',  '-',     'yes',    '-',      'safe'],
  ['safe',        'no',  '-',     '-',      '-',      'safe'],
  ['safe',        'yes', 'no',    '-',      '-',      'rearming'],
  ['safe',        'yes', 'yes',   '-',      '-',      'returning'],
  ['rearming',    'no',  '-',     '-',      '-',      'safe'],
  ['rearming',    'yes', 'no',    '-',      '-',      'rearming'],
  ['rearming',    'yes', 'yes',   '-',      '-',      'returning'],
];
const FALLBACK_PHASES = ['safe', 'rearming', 'returning', 'live', 'losing'] as const;
const TRUSTS = { none: 0, some: 0.4, full: 1 } as const;
const YES_NO: readonly Yes[] = ['yes', 'no'];

function product(...choices: readonly (readonly string[])[]): string[][] {
  return choices.reduce<string[][]>(
    (made, choice) => made.flatMap(start => choice.map(one => [...start, one])),
    [[]],
  );
}

/** What the one row says that matches. */
function expected<P extends string>(rows: readonly Row<P>[], combination: readonly string[]): P {
  const matching = rows.filter(row =>
    combination.every((value, i) => row[i] === '-' || row[i] === value),
  );
  expect(matching, combination.join(' ')).toHaveLength(1);
  return matching[0]?.at(-1) as P;
}

describe("a performer's phases", () => {
  const all = product(PHASES, YES_NO, YES_NO, YES_NO, YES_NO, Object.keys(TRUSTS));

  test(`all ${all.length} combinations go where the table says`, () => {
    expect(all).toHaveLength(7 * 16 * 3);
    for (const combination of all) {
      const [from, seen, lost, well, rearmed, trust] = combination;
      for (const [off, settled] of product(YES_NO, YES_NO)) {
        const to = nextPhase(from as Phase, {
          seen: seen === 'yes',
          off: off === 'yes',
          settled: settled === 'yes',
          lost: lost === 'yes',
          well: well === 'yes',
          rearmed: rearmed === 'yes',
          trust: TRUSTS[trust as keyof typeof TRUSTS],
        });
        const should =
          off === 'yes' && lost === 'no'
            ? expected(OFF_ROWS, [from, settled, trust] as string[])
            : expected(PHASE_ROWS, combination);
        expect(to, `${combination.join(' ')} off ${off}`).toBe(should);
      }
    }
  });

  test('every row of the table is reached', () => {
    for (const row of PHASE_ROWS) {
      expect(all.some(one => one.every((value, i) => row[i] === '-' || row[i] === value))).toBe(
        true,
      );
    }
  });
});

describe('the phases of the fallback', () => {
  const all = product(FALLBACK_PHASES, YES_NO, YES_NO, YES_NO, YES_NO);

  test(`all ${all.length} combinations go where the table says`, () => {
    for (const combination of all) {
      const [from, well, rearmed, settledSafe, settledLive] = combination;
      const to = nextFallbackPhase(from as FallbackPhase, {
        well: well === 'yes',
        rearmed: rearmed === 'yes',
        settledSafe: settledSafe === 'yes',
        settledLive: settledLive === 'yes',
      });
      expect(to, combination.join(' ')).toBe(expected(FALLBACK_ROWS, combination));
    }
  });
});
