import type { StandbyTime } from '../causes/held-light.js';
import { inWords } from './words.js';

/** "the standby had the light from 20:14:03 to 20:14:41 (38.0 s): the main machine was silent" */
export function standbyInWords(
  { interface: where, fromS, untilS, why }: StandbyTime,
  at: (atS: number) => string,
): string {
  const to =
    untilS === undefined ? ' on' : ` to ${at(untilS)} (${inWords.duration(untilS - fromS)})`;
  const on = where === undefined ? '' : ` on ${where}`;
  return `the standby had the light${on} from ${at(fromS)}${to}: ${why}`;
}

/** The parts of these times that lie within another. */
export function standbyWithin(
  times: readonly StandbyTime[],
  fromS: number,
  toS: number,
): StandbyTime[] {
  return times.flatMap(one => {
    const beganS = Math.max(one.fromS, fromS);
    if (beganS > toS || (one.untilS ?? toS) < fromS) return [];
    const isOver = one.untilS !== undefined && one.untilS <= toS;
    return [{ ...one, fromS: beganS, untilS: isOver ? one.untilS : undefined }];
  });
}
