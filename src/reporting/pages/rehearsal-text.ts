import { listed } from '../../engine/events/event-words.js';
import { messageWords, signalRange } from '../measures/signal-watch.js';
import type { RehearsalReport } from '../rehearsal.js';
import { handOverLines } from '../words/hand-over-words.js';
import { groupInWords, lossGroups } from '../words/loss-groups.js';
import { outsideLines } from '../words/outside-words.js';
import { lossesShown } from '../words/shown.js';
import { flashesInWords, inWords } from '../words/words.js';
import { cueLines, keepOutLines, offStageLines } from './report-text.js';

const MOST_LOSSES = 30;

/** The rehearsal for a terminal. */
export function rehearsalText(
  rehearsal: RehearsalReport,
  at: (atS: number) => string,
  bold: (text: string) => string,
): string[] {
  const { scene, lengthS, rounds, lights, flashes, heads, zones, report } = rehearsal;
  const { recommendations, notes } = report;
  const groups = lossGroups(report);
  const losses = lossesShown(
    [...groups].sort((a, b) => b.longestS - a.longestS),
    MOST_LOSSES,
  );
  const kept = new Set(losses.shown);
  return [
    `${bold(scene)} with ${bold(report.show)}, ${inWords.duration(lengthS)}${rounds > 1 ? ` ${rounds} times over` : ''}`,
    ...notes.map(note => `  note: ${note}`),
    '',
    `${bold('light'.padEnd(22))}${'lit for'.padStart(11)}${'highest'.padStart(9)}${'rises'.padStart(7)}${'turned in the dark'.padStart(20)}`,
    ...lights
      .filter(({ hasIntensity }) => hasIntensity)
      .map(
        one =>
          `  ${one.fixture.padEnd(20)}${inWords.duration(one.litS).padStart(11)}${percent(one.highest).padStart(9)}${String(one.rises).padStart(7)}${(one.turns > 0 ? inWords.times(one.turns) : '').padStart(20)}`,
      ),
    '',
    ...(flashes.times > 0 ? [flashesInWords(flashes), ''] : []),
    `${bold('head'.padEnd(22))}${'follows'.padEnd(12)}${'off by'.padStart(9)}${'95 %'.padStart(11)}${'worst'.padStart(9)}  ${'at'.padEnd(8)}${'timing'.padStart(14)}`,
    ...heads.map(head =>
      head.litS === 0
        ? `  ${head.fixture.padEnd(20)}${head.performer.padEnd(12)} gave no light`
        : `  ${head.fixture.padEnd(20)}${head.performer.padEnd(12)}${inWords.metres(head.meanM).padStart(9)}${inWords.metres(head.p95M).padStart(11)}${inWords.metres(head.worstM).padStart(9)}  ${at(head.worstAtS + report.fromS).padEnd(8)}${late(head.trailsS).padStart(14)}${head.cues.length > 0 ? `  in ${head.cues.join(', ')}` : ''}`,
    ),
    '',
    `${bold('zone'.padEnd(22))}${'performer'.padEnd(12)}${'visits'.padStart(9)}${'timing'.padStart(14)}${'worst'.padStart(14)}  ${'at'.padEnd(8)}`,
    ...zones.map(zone => {
      const faults = [
        ...(zone.missed > 0 ? [`missed ${inWords.times(zone.missed)}`] : []),
        ...(zone.duringLoss > 0
          ? [`${inWords.times(zone.duringLoss)} while the watchdog had their light, not counted`]
          : []),
        ...(zone.comingOn > 0
          ? [`${inWords.times(zone.comingOn)} as they came on, not counted`]
          : []),
        ...(zone.falseEntries > 0
          ? [`seen ${inWords.times(zone.falseEntries)} when nobody was there`]
          : []),
      ];
      const when = Number.isNaN(zone.worstAtS) ? '' : at(zone.worstAtS + report.fromS);
      return `  ${zone.zone.padEnd(20)}${zone.performer.padEnd(12)}${String(zone.visits).padStart(9)}${late(zone.meanS).padStart(14)}${late(zone.worstS).padStart(14)}  ${when.padEnd(8)}${faults.length > 0 ? `  ${faults.join(', ')}` : ''}`;
    }),
    '',
    ...drivenLines(rehearsal, at, bold),
    ...cueLines(report, at, bold),
    bold('where the watchdog acted'),
    ...(groups.length === 0 ? ['  nowhere'] : []),
    ...groups
      .filter(group => kept.has(group))
      .map(
        group =>
          `  ${at(group.atS).padEnd(8)}${listed(group.performers).padEnd(12)} for ${group.forS.padStart(8)}  ${groupInWords(group)}`,
      ),
    ...losses.rest.map(line => `  ${line}; --json has them all`),
    '',
    ...offStageLines(report, at, bold),
    ...handOverLines(report, bold),
    ...outsideLines(report, at, bold),
    ...keepOutLines(report, bold),
    bold('fix first'),
    ...(recommendations.length === 0 ? ['  nothing cost light for half a second or more'] : []),
    ...recommendations.flatMap(({ what, act }, i) => [`  ${i + 1}. ${what}`, `     ${act}`]),
  ].map(line => line.trimEnd());
}

/** Lines for signals, conditions and messages, each group followed by an empty line; none if the show has none. */
function drivenLines(
  { signals, conditions, messages, report }: RehearsalReport,
  at: (atS: number) => string,
  bold: (text: string) => string,
): string[] {
  const head = (title: string, columns: string) => bold(`${title.padEnd(22)}${columns}`);
  const unknown = (forS: number) => (forS > 0 ? `unknown for ${inWords.duration(forS)}` : '');
  const lines: string[] = [];
  if (signals.length > 0) {
    lines.push(head('signal', 'was'));
    for (const one of signals) {
      lines.push(
        `  ${one.signal.padEnd(20)}${signalRange(one).padEnd(24)}${unknown(one.unknownS)}`.trimEnd(),
      );
    }
    lines.push('');
  }
  if (conditions.length > 0) {
    lines.push(head('condition', 'yes for'));
    for (const { condition, yesS, times, unknownS } of conditions) {
      const yes = times === 0 ? 'never yes' : `${inWords.duration(yesS)}, ${inWords.times(times)}`;
      lines.push(`  ${condition.padEnd(20)}${yes.padEnd(24)}${unknown(unknownS)}`.trimEnd());
    }
    lines.push('');
  }
  if (messages.length > 0) {
    lines.push(bold('messages that would be sent'));
    for (const one of messages) {
      const first = `${one.times > 1 ? 'first ' : ''}at ${at(one.firstS + report.fromS)}`;
      lines.push(`  ${messageWords(one).padEnd(42)}  ${inWords.times(one.times)}, ${first}`);
    }
    lines.push('');
  }
  return lines;
}

export function percent(value: number): string {
  return `${value.toFixed(0)} %`;
}

/** "0.12 s late"; a light that predicts across a turn is early. */
export function late(seconds: number): string {
  if (Number.isNaN(seconds)) return '-';
  const figure = Math.abs(seconds).toFixed(2);
  if (Number(figure) === 0) return `${figure} s`;
  return `${figure} s ${seconds < 0 ? 'early' : 'late'}`;
}
