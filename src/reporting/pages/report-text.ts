import { listed } from '../../engine/events/event-words.js';
import { feedLines, refusedLines } from '../measures/tracker-feeds.js';
import { cueAskedBy, lostInCue } from '../words/cue-times.js';
import { handOverLines } from '../words/hand-over-words.js';
import { groupInWords, lossGroups } from '../words/loss-groups.js';
import { leftInWords, offStageFor } from '../words/off-stage-times.js';
import { outsideLines } from '../words/outside-words.js';
import { positionToLightLines } from '../words/position-to-light.js';
import type { Report } from '../words/report-data.js';
import { actionsShown, lossesShown } from '../words/shown.js';
import { standbyInWords } from '../words/standby-light.js';
import { batteryInWords, inWords, keepOutInWords } from '../words/words.js';
import { MOST_ROWS, type PageWords } from './report-page.js';

const MOST_LOSSES = 20;
const MOST_ACTIONS = 60;
const MOST_OFF_STAGE = 30;

function lowBatteries(report: Report): string[] {
  return report.lowBatteries.map(one => `  ${batteryInWords(report, one)}: charge or change it`);
}

/** Lines about who was off stage, and an empty line; none if nobody was. */
export function offStageLines(
  { offStage, performers }: Report,
  at: PageWords['at'],
  bold: (text: string) => string,
): string[] {
  if (offStage.length === 0) return [];
  const label = (name: string) => performers.find(one => one.name === name)?.label ?? name;
  return [
    bold('off stage, not lost'),
    ...offStage
      .slice(0, MOST_OFF_STAGE)
      .map(one =>
        `  ${at(one.fromS).padEnd(8)}  ${label(one.performer).padEnd(14)} for ${offStageFor(one).padStart(8)}  ${leftInWords(one)}`.trimEnd(),
      ),
    ...(offStage.length > MOST_OFF_STAGE
      ? [`  and ${offStage.length - MOST_OFF_STAGE} more; --json has them all`]
      : []),
    '',
  ];
}

/** Why a performer was never heard. */
export function neverHeard({ expected, offStageS }: Report['performers'][number]): string {
  if (!expected) return 'not in this scene';
  return offStageS > 0 ? `off stage ${inWords.duration(offStageS)}, never heard` : 'never heard';
}

/** Lines about heads that were dark for a keep-out, and an empty line; none if there were none. */
export function keepOutLines({ keepOuts }: Report, bold: (text: string) => string): string[] {
  if (keepOuts.length === 0) return [];
  return [bold('dark for a keep-out'), ...keepOuts.map(one => `  ${keepOutInWords(one)}`), ''];
}

/** Lines that say when each cue was on, and an empty line; none in a show without cues. */
export function cueLines(
  { cues }: Report,
  at: PageWords['at'],
  bold: (text: string) => string,
): string[] {
  if (cues.length === 0) return [];
  return [
    bold('cues'),
    ...cues.map(one => {
      const forS = inWords.duration(one.untilS - one.fromS);
      const words = [cueAskedBy(one), lostInCue(one)].filter(Boolean).join('; ');
      return `  ${at(one.fromS).padEnd(8)}  ${one.label.padEnd(16)} for ${forS.padStart(8)}  ${words}`;
    }),
    '',
  ];
}

/** Lines that say when the standby had the light, and an empty line; none if it never had. */
function standbyLines(
  { standbyLight }: Report,
  at: PageWords['at'],
  bold: (text: string) => string,
): string[] {
  if (standbyLight.length === 0) return [];
  return [bold('two machines'), ...standbyLight.map(one => `  ${standbyInWords(one, at)}`), ''];
}

/** The report for a terminal. */
export function reportText(
  report: Report,
  { day, at, exactly = at }: PageWords,
  bold: (text: string) => string,
): string[] {
  const { performers, places, latency, dropped, recommendations, fromS, toS, notes } = report;
  const groups = lossGroups(report).sort((a, b) => b.longestS - a.longestS || a.atS - b.atS);
  const losses = lossesShown(groups, MOST_LOSSES);
  const labels = performers.map(({ label }) => label);
  const actions = actionsShown(report.actions, labels, MOST_ACTIONS);
  const lines = [
    `${bold(report.show)}, ${day(fromS)} to ${at(toS)} (${inWords.duration(toS - fromS)})`,
    ...notes.map(note => `  note: ${note}`),
    '',
    bold('fix first'),
    ...(recommendations.length === 0 ? ['  nothing cost light for half a second or more'] : []),
    ...recommendations.flatMap(({ what, act }, i) => [`  ${i + 1}. ${what}`, `     ${act}`]),
    '',
    `${bold('performer'.padEnd(18))}${'followed'.padStart(10)}${'losses'.padStart(8)}${'longest'.padStart(11)}${'confidence'.padStart(12)}${'reports/s'.padStart(11)}`,
    ...performers.map(one =>
      one.firstS === undefined
        ? `  ${one.label.padEnd(16)}     ${neverHeard(one)}`
        : `  ${one.label.padEnd(16)}${inWords.share(one.availability).padStart(10)}${String(one.losses).padStart(8)}${(one.losses > 0 ? inWords.duration(one.longestLossS) : '').padStart(11)}${one.meanConfidence.toFixed(2).padStart(12)}${one.reportHz.toFixed(1).padStart(11)}${one.offStageS >= 1 ? `  off stage ${inWords.duration(one.offStageS)}` : ''}${one.stops > 0 ? `  stopped ${inWords.times(one.stops)}` : ''}`,
    ),
    '',
    ...[...feedLines(report.trackerFeeds), ...refusedLines(report.dropped)].flatMap(
      (line, i, all) => [
        ...(i === 0 ? [bold('who sent the positions')] : []),
        `  ${line}`,
        ...(i === all.length - 1 ? [''] : []),
      ],
    ),
    bold(groups.length > 1 ? 'losses, the longest first' : 'losses'),
    ...(groups.length === 0
      ? [
          `  nobody was lost${report.unrecordedS === undefined ? '' : ' before the recording ended'}`,
        ]
      : []),
    ...losses.shown.map(
      group =>
        `  ${at(group.atS)}  ${listed(group.performers).padEnd(14)} for ${group.forS.padStart(8)}  ${groupInWords(group)}`,
    ),
    ...losses.rest.map(line => `  ${line}; --json has them all, --html the first ${MOST_ROWS}`),
    '',
    ...offStageLines(report, at, bold),
    ...handOverLines(report, bold),
    ...outsideLines(report, at, bold),
    ...keepOutLines(report, bold),
    ...lowBatteries(report).flatMap((line, i) =>
      i === 0 ? [bold('low batteries'), line] : [line],
    ),
    ...(report.lowBatteries.length > 0 ? [''] : []),
    ...cueLines(report, at, bold),
    ...standbyLines(report, exactly, bold),
    bold('what happened'),
    ...(report.actions.length === 0
      ? ['  nothing went to its safe values, and nobody changed anything']
      : []),
    ...actions.shown.map(({ atS, what }) => `  ${at(atS)}  ${what}`),
    ...actions.rest.map(line => `  ${line}`),
    '',
    bold('weakest places'),
    ...(places.weakest.length === 0 ? ['  none'] : []),
    ...places.weakest.map(
      ({ place, heldS, weakS, losses: count }) =>
        `  ${place}: weak for ${inWords.duration(weakS)} of ${inWords.duration(heldS)}${count > 0 ? `, lost ${inWords.times(count)}` : ''}`,
    ),
    '',
  ];
  if (latency.count > 0) {
    lines.push(
      `inside this machine, from a position received to its levels ready: median ${inWords.ms(latency.p50S)}, 95 % within ${inWords.ms(latency.p95S)}, 99 % within ${inWords.ms(latency.p99S)}; ${report.lateTicks} of ${report.ticks} ticks late`,
    );
  }
  lines.push(...positionToLightLines(report.positionToLight));
  lines.push(
    dropped.length === 0
      ? 'no input was dropped'
      : `dropped: ${dropped.map(({ count, reason, what, from }) => `${count} ${reason} (${what}${from === undefined ? '' : `; the last from ${from}`})`).join(', ')}`,
  );
  return lines;
}
