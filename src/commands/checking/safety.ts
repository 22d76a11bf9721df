import {
  actsText,
  comesText,
  LEFT_ALONE,
  leavesAloneText,
  valuesText,
} from '../../sheets/cue-sheets.js';
import { deskOrdersText, groundText } from '../../sheets/desk-sheet.js';
import { keepOutText } from '../../sheets/keep-out-sheet.js';
import {
  actsAfter,
  classOf,
  offStageText,
  ordersText,
  rounded,
  safetyPage,
  seconds,
  unpatchedText,
} from '../../sheets/safety-page.js';
import { ALLOWANCE_S, calledIn, type SafetySheet, safetySheet } from '../../sheets/safety-sheet.js';
import { loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { refuse } from '../terminal/refuse.js';
import { print, styled } from '../terminal/terminal.js';
import { writeText } from '../terminal/text-files.js';
import { wrapped } from '../terminal/wrapped.js';

export const SAFETY_HELP = `usage: lampwright safety SHOW [--json] [--html FILE] [--force]

Says what the light of a show does when something fails: what each fixture does and how fast, which outputs
are hazardous, which limits apply, who can stop it, and who decides. For the venue's records.

  --html FILE   also writes it as one page to print and to sign
  --json        everything, for programs

examples:
  lampwright safety config/salt-lantern.show.yaml
  lampwright safety config/salt-lantern.show.yaml --html safety.html
  lampwright safety my.show.yaml --json | jq '.fixtures[] | {name, atMostS}'

exit codes: 0 ok, 1 the show has errors, 2 bad usage, no such file, or a page that can't be written

The venue's safety staff, local codes and licensed people decide what may be used.`;

const misuse = misuseOf('safety');

export async function safety(args: Arguments): Promise<number> {
  const loaded = loadShow(args.positionals[0] ?? '');
  if (!loaded.ok) return refuse(loaded.problems);
  const sheet = safetySheet(loaded.show);
  const page = args.values.html;
  if (typeof page === 'string') {
    const why = writeText(
      page,
      safetyPage(loaded.show, sheet, new Date().toISOString().slice(0, 10)),
    );
    if (why !== undefined) {
      return misuse(`can't write ${page}: ${why}.`);
    }
  }
  if (args.values.json === true) print(JSON.stringify(sheet, undefined, 2));
  else print(text(sheet));
  return EXIT.ok;
}

function text(sheet: SafetySheet): string {
  const title = (words: string) => ['', styled('bold', words)];
  const longest = Math.max(...sheet.fixtures.map(one => calledIn(sheet, one.name).length));
  const width = Math.max(20, Math.min(34, longest + 2));
  return [
    styled('bold', `${sheet.show}: what the light does when something fails`),
    ...sheet.cautions.flatMap(one => wrapped(one, '  ')),
    ...title('conditions, worst first'),
    ...sheet.conditions.flatMap(row => {
      const times =
        row.actsAfterS === undefined || row.fadeS === undefined
          ? 'takes no light anywhere'
          : !row.inUse
            ? 'not in use in this show'
            : `acts after ${actsAfter(row)}, fade ${seconds(row.fadeS)}`;
      return [
        `  ${styled('bold', row.title.padEnd(26))}${row.scope}; ${times}`,
        ...wrapped(`when ${row.when}`, '      '),
        ...wrapped(row.action, '      '),
        ...wrapped(`clears: ${row.clears}`, '      '),
      ];
    }),
    ...wrapped(
      `After a loss the light comes back once all has been well for ${seconds(sheet.rearmS)}, over ${seconds(sheet.returnS)}.`,
      '  ',
    ),
    ...title('fixtures'),
    `  ${'fixture'.padEnd(width)}${'patch'.padEnd(10)}${'class'.padEnd(13)}${'safe within'.padEnd(13)}driven by`,
    ...sheet.fixtures.flatMap(one => [
      `  ${column(calledIn(sheet, one.name), width)}${column(one.patch, 10)}${one.hazard.padEnd(13)}${timesOf(one).padEnd(13)}${one.drivenBy.join(', ') || 'nobody'}`,
      ...wrapped(
        `${one.way}${one.enabledChannels.length > 0 ? `; ${classOf(one)}` : ''}; safe: ${valuesText(one.safe)}`,
        '      ',
      ),
    ]),
    ...(sheet.unpatched.length === 0 ? [] : wrapped(unpatchedText(sheet), '  ')),
    ...wrapped(
      `Safe within: seconds from a tracker's last report / from the engine's end; ticks, packets and limits add up to ${seconds(ALLOWANCE_S)}. A dash: no tracker drives it. Driven by: whose loss takes it to its safe values. A number by OSC that has been silent for its timeout does the same, over the same fade.`,
      '  ',
    ),
    ...cueText(sheet, title),
    ...title('off stage'),
    ...offStageText(sheet).flatMap(one => wrapped(one, '  ')),
    ...keepOutLines(sheet, title),
    ...title('hazard classes'),
    ...sheet.hazards.flatMap(row => [
      ...wrapped(
        `${row.hazard}: ${row.needsEnable ? 'only while its enable is held; drops at once' : 'fades'}: ${row.fixtures.map(name => calledIn(sheet, name)).join(', ')}`,
        '  ',
      ),
      ...wrapped(`who decides: ${row.deferTo}`, '      '),
    ]),
    ...groundLines(sheet, title),
    ...title('limits on what leaves'),
    `  ${sheet.limits.flashesPerSecond} flashes a second over all fixtures (WCAG 2.3.1)`,
    `  whole range of an intensity in ${seconds(sheet.limits.intensityS)}, of a movement in ${seconds(sheet.limits.movementS)}, of the rest in ${seconds(sheet.limits.otherS)}`,
    ...title('who can stop the light'),
    ...[ordersText(sheet), ...deskOrdersText(sheet.desk)].flatMap(one => wrapped(one, '  ')),
    ...title('who decides'),
    ...sheet.whoDecides.flatMap(one => wrapped(one, '  ')),
  ].join('\n');
}

function groundLines({ desk }: SafetySheet, title: (text: string) => string[]): string[] {
  const text = groundText(desk);
  return text.length === 0
    ? []
    : [...title('what passes from the desk'), ...text.flatMap(one => wrapped(one, '  '))];
}

function keepOutLines({ keepOuts }: SafetySheet, title: (text: string) => string[]): string[] {
  const text = keepOutText(keepOuts);
  return text.length === 0
    ? []
    : [...title('where no lit beam goes'), ...text.flatMap(one => wrapped(one, '  '))];
}

function cueText(
  sheet: SafetySheet,
  title: (words: string) => readonly string[],
): readonly string[] {
  const { cues } = sheet;
  if (cues.length === 0) return [];
  const width = Math.max(20, Math.min(34, Math.max(...cues.map(one => one.label.length)) + 2));
  return [
    ...title('cues'),
    ...wrapped(
      'A cue crossfades from what is lit, never through the safe look. A loss goes to the safe look of the cue that is on, or coming.',
      '  ',
    ),
    ...(cues.every(one => one.lossLeavesAlone.length === 0) ? [] : wrapped(LEFT_ALONE, '  ')),
    ...cues.flatMap(cue => [
      `  ${styled('bold', column(cue.label, width))}${comesText(cue)}; acts: ${actsText(cue)}`,
      ...(cue.safe.length === 0
        ? ['      safe look: as the fixtures have it']
        : cue.safe.flatMap(one =>
            wrapped(
              `safe look of ${calledIn(sheet, one.fixture)}: ${valuesText(one.values)}`,
              '      ',
            ),
          )),
      ...(cue.lossLeavesAlone.length === 0 ? [] : wrapped(leavesAloneText(cue), '      ')),
    ]),
  ];
}

/** A label that is longer than its column is not run into the next. */
function column(label: string, width: number): string {
  return `${label}  `.padEnd(width);
}

function timesOf({ safeWithinS }: SafetySheet['fixtures'][number]): string {
  const of = (value: number | undefined) => (value === undefined ? '-' : rounded(value));
  return `${of(safeWithinS['tracker-silent'])} / ${of(safeWithinS['engine-dead'])}`;
}
