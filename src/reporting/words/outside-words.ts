import { table } from '../../drawing/page.js';
import type { OutsideBeam } from '../measures/outside-beam.js';
import type { Report } from './report-data.js';
import { inWords } from './words.js';

type Outside = Pick<Report, 'outsideBeam'>;
type At = (atS: number) => string;

const TITLE = 'heads on the middle of several: who was outside the beam';

/** Lines for a terminal, and an empty line; none if no head followed the middle of several. */
export function outsideLines({ outsideBeam }: Outside, at: At, bold: (text: string) => string) {
  if (outsideBeam.length === 0) return [];
  return [
    bold(TITLE),
    ...outsideBeam.map(
      one => `  ${one.label.padEnd(20)}${one.performerLabel.padEnd(12)} ${outsideInWords(one, at)}`,
    ),
    '',
  ];
}

/** "outside 3 times, 12.3 s of 1:02 min, 4.0 s at a time (at 0:23)" */
function outsideInWords(one: OutsideBeam, at: At): string {
  const { litS, outsideS, times, longestS, longestFromS } = one;
  if (longestFromS === undefined) return `always in it, ${inWords.duration(litS)}`;
  return `outside ${inWords.times(times)}, ${inWords.duration(outsideS)} of ${inWords.duration(litS)}; the longest ${inWords.duration(longestS)}, from ${at(longestFromS)}`;
}

/** The same on a page. @param placed where the positions come from, such as "Where they truly are" */
export function outsidePart({ outsideBeam }: Outside, at: At, placed: string): string[] {
  if (outsideBeam.length === 0) return [];
  return [
    '<h2>Heads on the middle of several</h2>',
    table(
      [
        { head: 'head' },
        { head: 'performer' },
        { head: 'lit on them', number: true },
        { head: 'outside the beam', number: true },
        { head: 'times', number: true },
        { head: 'longest', number: true },
        { head: 'from', number: true },
      ],
      outsideBeam.map(one => [
        one.label,
        one.performerLabel,
        inWords.duration(one.litS),
        inWords.duration(one.outsideS),
        String(one.times),
        one.times > 0 ? inWords.duration(one.longestS) : '',
        one.longestFromS === undefined ? '' : at(one.longestFromS),
      ]),
    ),
    `<p class="quiet">${placed}, beside the cone of the beam angle. The beam leaves anybody who is lost; that counts only as lost.</p>`,
  ];
}
