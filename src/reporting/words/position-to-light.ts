import { DELAY_PARTS, type DelayPart } from '../../live/light-delays.js';
import type { RecordedDelays } from '../../live/recorded-delays.js';
import type { PositionToLight } from './report-data.js';
import { inWords } from './words.js';

/** Adds up the recorded times; empty if there are none. */
export function positionToLight(recorded: readonly RecordedDelays[]): PositionToLight[] {
  return DELAY_PARTS.flatMap(part => {
    const counts = new Map<number, number>();
    for (const { delays } of recorded) {
      for (const [upToMs, count] of delays[part] ?? []) {
        const upToS = upToMs === null ? Number.POSITIVE_INFINITY : upToMs / 1e3;
        counts.set(upToS, (counts.get(upToS) ?? 0) + count);
      }
    }
    const bins = [...counts].map(([upToS, count]) => ({ upToS, count }));
    bins.sort((a, b) => a.upToS - b.upToS);
    const count = bins.reduce((sum, one) => sum + one.count, 0);
    if (count === 0) return [];
    const within = (share: number) => {
      let seen = 0;
      const bin = bins.find(one => {
        seen += one.count;
        return seen >= share * count;
      });
      return bin?.upToS ?? Number.POSITIVE_INFINITY;
    };
    return [{ part, count, p50S: within(0.5), p95S: within(0.95), p99S: within(0.99), bins }];
  });
}

const PARTS: Readonly<Record<DelayPart, string>> = {
  network: 'the network',
  wait: 'the wait for the tick',
  tick: 'the tick',
  pipe: 'the pipe to the supervisor',
  send: 'the sending',
  whole: "end to end, from the sensor's reading to the last packet sent",
};

/** Rows of a table: what, median, 95 %, 99 %; the whole way first. */
export function positionToLightRows(all: readonly PositionToLight[]): string[][] {
  return [...all.filter(isWhole), ...all.filter(one => !isWhole(one))].map(one => [
    isWhole(one) ? PARTS.whole : `of that, ${PARTS[one.part]}`,
    ...[one.p50S, one.p95S, one.p99S].map(upTo),
  ]);
}

/** Two lines; none if nothing was recorded. */
export function positionToLightLines(all: readonly PositionToLight[]): string[] {
  const whole = all.find(isWhole);
  if (whole === undefined) return [];
  const parts = all
    .filter(one => !isWhole(one))
    .map(({ part, p95S }) => `${PARTS[part]} ${upTo(p95S)}`);
  return [
    `end to end, from the sensor's reading to the last packet sent: median ${upTo(whole.p50S)}, 95 % within ${upTo(whole.p95S)}, 99 % within ${upTo(whole.p99S)}`,
    `  of that, 95 % within: ${parts.join(', ')}`,
  ];
}

const isWhole = ({ part }: PositionToLight) => part === 'whole';

function upTo(seconds: number): string {
  return Number.isFinite(seconds) ? inWords.ms(seconds) : 'more than a second';
}
