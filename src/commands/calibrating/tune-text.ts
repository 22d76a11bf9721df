import { dropInWords } from '../../engine/events/drop-words.js';
import { counted } from '../../engine/events/event-words.js';
import type { DropReason } from '../../engine/values/counters.js';
import type { Tuning } from '../../rehearsal/tuning/tune.js';
import type { Figures } from '../../rehearsal/tuning/tune-judge.js';
import type { Outcome } from '../../rehearsal/tuning/tune-outcome.js';
import type { Show } from '../../show/model/model.js';
import { styled } from '../terminal/terminal.js';
import { duration } from '../terminal/times.js';

/** JSON has no NaN: JSON.stringify makes it null. */
export function tuningJson(tuning: Tuning, patch: string | undefined): string {
  const { tooShort, changes, ...rest } = tuning;
  return JSON.stringify(
    {
      ok: tooShort === undefined,
      tooShort: tooShort ?? null,
      ...rest,
      changes,
      patch: patch ?? null,
    },
    undefined,
    2,
  );
}

export function tuningText(tuning: Tuning, show: Show): string {
  const { lengthS, walkedS, tooShort, outcomes } = tuning;
  const of = <K extends Outcome['kind']>(kind: K) =>
    outcomes.filter((one): one is Extract<Outcome, { kind: K }> => one.kind === kind);
  return [
    `${styled('bold', `${show.name}: what this stage asks for`)}`,
    `  ${duration(lengthS)} of reports; performers walk for ${duration(walkedS)} of it, all together`,
    ...(tuning.isCut
      ? [
          '  The recording is longer than can be judged at once: the rest is left out. Give another part of it to judge that.',
        ]
      : []),
    '',
    ...trackerLines(tuning, show),
    ...leftOutLines(tuning),
    '',
    ...figureLines(tuning.figures, of('proposed')),
    ...section(
      'proposed',
      of('proposed').map(({ what, now, proposed, why }) => [`${what}: ${now} -> ${proposed}`, why]),
    ),
    ...section(
      'stays',
      of('kept').map(({ what, why }) => [what, why]),
    ),
    ...section(
      'the recording does not tell',
      of('unknown').map(({ what, why }) => [what, why]),
    ),
    ...(tooShort === undefined
      ? []
      : [
          '',
          styled('yellow', `Too short to choose noise and reacquire from: ${tooShort}.`),
          'Record a rehearsal in which everybody walks about as in the show.',
        ]),
  ].join('\n');
}

function leftOutLines({ leftOut }: Tuning): string[] {
  const counts = Object.entries(leftOut).map(([reason, count]) => {
    if (reason === 'spares') return `${counted(count, 'position')} of spares`;
    if (reason === 'invalid') return `${counted(count, 'position')} that can't be right`;
    return dropInWords(reason as DropReason, count);
  });
  return counts.length === 0 ? [] : [`  left out: ${counts.join('; ')}`];
}

function trackerLines({ trackers }: Tuning, show: Show): string[] {
  const label = (name: string) => show.performers.find(one => one.name === name)?.label ?? name;
  const head = ['reports', 'a second', 'scatter', 'off', 'silence', 'repeats', 'frozen'];
  const cell = (text: string) => text.padStart(10);
  return [
    styled('bold', `  ${'tracker'.padEnd(24)}${head.map(cell).join('')}`),
    ...trackers.map(one => {
      const cells = [
        String(one.reports),
        figure(one.rateHz, 1),
        Number.isNaN(one.noiseM) ? '-' : `${one.noiseM.toFixed(3)} m`,
        `${(100 * one.offShare).toFixed(1)} %`,
        `${one.longestSilenceS.toFixed(1)} s`,
        `${one.longestRepeatS.toFixed(1)} s`,
        `${one.longestHangS.toFixed(1)} s`,
      ];
      const name = `${one.tracker} (${label(one.performer)})`;
      return `  ${name.padEnd(24)}${cells.map(cell).join('')}`;
    }),
    '  scatter: standard deviation along one axis; off: left out by the smoother; the longest: silence,',
    '  repeats (the same position, and on from there), frozen (the same position, and on from elsewhere)',
  ];
}

function figureLines(
  now: Figures,
  proposed: readonly Extract<Outcome, { kind: 'proposed' }>[],
): string[] {
  const head = ['off by', 'still', 'rough', 'gated', 'jumps', 'losses', 'false', 'missed'];
  const cell = (text: string) => text.padStart(9);
  const row = (name: string, f: Figures) =>
    `  ${name.padEnd(24)}${[
      Number.isNaN(f.offM) ? '-' : `${f.offM.toFixed(3)} m`,
      Number.isNaN(f.stillM) ? '-' : `${(1e3 * f.stillM).toFixed(1)} mm`,
      figure(f.roughness, 1),
      String(f.gated),
      String(f.jumps),
      String(f.losses),
      String(f.falseAlarms),
      `${f.missedS.toFixed(1)} s`,
    ]
      .map(cell)
      .join('')}`;
  return [
    styled('bold', `  ${'in this recording'.padEnd(24)}${head.map(cell).join('')}`),
    row('as the show is', now),
    ...proposed.map(({ what, figures }) => row(`+ ${shortName(what)}`, figures)),
    '  off by: distance of the aim from where they were; still: its trembling while they stand; rough: its',
    '  acceleration, m/s²; gated: reports kept out; jumps: tracks begun anew elsewhere; losses: how often the',
    '  light was taken from somebody; false: of these, for nothing; missed: light more than a metre off',
  ];
}

function shortName(what: string): string {
  return what
    .replace(/^tracking\./, '')
    .replace(/^performers\.[^:]*: /, '')
    .slice(0, 22);
}

function section(title: string, lines: readonly (readonly [string, string])[]): string[] {
  if (lines.length === 0) return [];
  return [
    '',
    styled('bold', title),
    ...lines.flatMap(([what, why]) => [`  ${what}`, `    ${why}.`]),
  ];
}

function figure(value: number, digits: number): string {
  return Number.isNaN(value) ? '-' : value.toFixed(digits);
}
