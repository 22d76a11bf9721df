import type { AttributeDifference, ComparisonResult, Period } from '../../recording/comparison.js';
import { labelsOf } from '../../show/model/labels.js';
import type { Show } from '../../show/model/model.js';
import { styled } from '../terminal/terminal.js';
import { clock, duration } from '../terminal/times.js';

const MOST_FIXTURES = 40;
const MOST_PERIODS = 3;

/** What another show would have done, in plain words. */
export function comparisonText(
  result: ComparisonResult,
  other: Show,
  run: number | undefined,
): string[] {
  const { differences, followed, unixOffsetS } = result;
  const at = (atS: number) => clock(atS + unixOffsetS);
  const labels = labelsOf(other);
  const lines = [
    styled('bold', `with the show "${other.name}"${run === undefined ? '' : `, run ${run}`}`),
  ];
  if (result.failed !== undefined) lines.push(`  its engine fails: ${result.failed}`);
  const notThere = [
    ['fixtures it does not have', result.onlyRecorded],
    ['fixtures only it has', result.onlyOther.map(labels.fixture)],
    ['inputs it does not have', result.unheardInputs],
  ] as const;
  for (const [what, names] of notThere) {
    if (names.length > 0) lines.push(`  ${what}: ${names.join(', ')}`);
  }
  for (const { performer, recordedOnlyS, otherOnlyS, firstS } of followed) {
    const parts = [
      ...(recordedOnlyS > 0
        ? [`not followed for ${duration(recordedOnlyS)} in which they were in the recording`]
        : []),
      ...(otherOnlyS > 0
        ? [`followed for ${duration(otherOnlyS)} in which they were not in the recording`]
        : []),
    ];
    lines.push(
      `  ${labels.performer(performer)}: ${parts.join(', ')}${firstS === undefined ? '' : `, first at ${at(firstS)}`}`,
    );
  }
  if (differences.length === 0) {
    lines.push('  no attribute would ever have differed by a per cent or a degree');
    return lines;
  }
  const fixtures = new Map<string, AttributeDifference[]>();
  for (const difference of differences) {
    const of = fixtures.get(difference.fixture) ?? [];
    of.push(difference);
    fixtures.set(difference.fixture, of);
  }
  for (const [fixture, of] of [...fixtures].slice(0, MOST_FIXTURES)) {
    lines.push(`  ${styled('bold', labels.fixture(fixture))}`);
    for (const difference of of) {
      const { attribute, totalS, periods, periodsLeftOut } = difference;
      const times = periods.length + periodsLeftOut;
      lines.push(
        `    ${attribute}: different for ${duration(totalS)} in all, ${times === 1 ? 'once' : `${times} times`}`,
      );
      const worst = [...periods].sort((a, b) => apart(b) - apart(a)).slice(0, MOST_PERIODS);
      for (const period of worst.sort((a, b) => a.fromS - b.fromS)) {
        const { fromS, toS, worstAtS, recorded, other } = period;
        const unit = difference.unit === 'degrees' ? '°' : ' %';
        lines.push(
          `      ${at(fromS)} to ${at(toS)}: ${other.toFixed(0)}${unit} instead of ${recorded.toFixed(0)}${unit} at ${at(worstAtS)}`,
        );
      }
    }
  }
  if (fixtures.size > MOST_FIXTURES) {
    lines.push(`  and ${fixtures.size - MOST_FIXTURES} more fixtures; --json has them all`);
  }
  return lines;
}

function apart({ recorded, other }: Period): number {
  return Math.abs(other - recorded);
}
