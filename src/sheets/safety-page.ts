import { captioned, list, page, paragraphs, table } from '../drawing/page.js';
import type { Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { escaped } from '../stage/markup.js';
import { besidePlan } from './beside-plan.js';
import {
  actsText,
  type CueSheet,
  comesText,
  LEFT_ALONE,
  leavesAloneText,
  valuesText,
} from './cue-sheets.js';
import { deskLossText, deskOrdersText, groundText } from './desk-sheet.js';
import { keepOutText } from './keep-out-sheet.js';
import { safeLights } from './safe-lights.js';
import { safeKey, safePlan } from './safe-plan.js';
import {
  ALLOWANCE_S,
  type ConditionSheet,
  calledIn,
  type FixtureSheet,
  type SafetySheet,
} from './safety-sheet.js';

/** The sheet as one HTML file to print and to keep; nothing in it comes from anywhere else. */
export function safetyPage(show: Show, sheet: SafetySheet, printed: string): string {
  return page(`${sheet.show}: when something fails`, [
    `<h1>${escaped(sheet.show)}: what the light does when something fails</h1>`,
    `<p class="quiet">For the venue's records. Printed by lampwright on ${escaped(printed)} from the show file; print it again when the show changes.</p>`,
    list(sheet.cautions, 'caution'),
    ...safeLookPart(show, sheet),
    ...conditionPart(sheet),
    ...fixturePart(sheet),
    ...cuePart(show, sheet),
    '<h2>Off stage is not lost</h2>',
    ...paragraphs(offStageText(sheet)),
    ...titled('Where no lit beam goes', keepOutText(sheet.keepOuts)),
    '<h2>Hazard classes in this show</h2>',
    table(
      ['class', 'fixtures', 'enable', 'drops', 'who decides'].map(head => ({ head })),
      sheet.hazards.map(row => [
        row.hazard,
        row.fixtures.map(name => calledIn(sheet, name)).join(', '),
        row.needsEnable ? 'only while it is held' : 'none',
        row.drop,
        row.deferTo,
      ]),
    ),
    ...titled('What passes from the desk', groundText(sheet.desk)),
    ...titled('What the loss of the desk does', deskLossText(sheet.desk)),
    '<h2>Limits on the output, in every state</h2>',
    list([
      `At most ${sheet.limits.flashesPerSecond} flashes a second over all fixtures together (WCAG 2.3.1; a flash is counted where its rise begins). Light that goes down is never delayed.`,
      `Shortest time for the whole range: an intensity ${seconds(sheet.limits.intensityS)}, a movement ${seconds(sheet.limits.movementS)}, anything else with a scale ${seconds(sheet.limits.otherS)}.`,
    ]),
    '<h2>Who can stop the light</h2>',
    ...paragraphs([ordersText(sheet), ...deskOrdersText(sheet.desk)]),
    '<h2>Who decides</h2>',
    list(sheet.whoDecides),
    ...valuePart(sheet),
    '<div class="signed"><p>Read by, for the venue:</p><p>Date:</p><p>For the production:</p><p>Date:</p></div>',
  ]);
}

function titled(title: string, text: readonly string[]): string[] {
  return text.length === 0 ? [] : [`<h2>${title}</h2>`, ...paragraphs(text)];
}

/** The look on the stage, and a sentence for each fixture. */
function safeLookPart(show: Show, { cues, unpatched, fixtures }: SafetySheet): string[] {
  const plan = safePlan(show, NO_CUE);
  const picture = plan.svg('the safe look on the stage');
  const lights = safeLights(show, NO_CUE);
  const unplaced = lights.filter(({ position }) => position === undefined);
  return [
    `<h2>The safe look${cues.length > 0 ? ', unless a cue has its own' : ''}</h2>`,
    `<p class="quiet">${escaped(safeKey(show))}</p>`,
    picture,
    ...besidePlan(plan.numbered, unplaced),
    list(
      sentences(lights.map(({ name, sentence }) => [calledIn({ fixtures }, name), sentence])),
      'columns',
    ),
    ...(unpatched.length === 0 ? [] : paragraphs([unpatchedText({ unpatched })])),
  ];
}

/** Of no cue: the safe values of the fixtures themselves. */
const NO_CUE = -1;

/** "front 1, front 2 and front 3: dark, parked at The pool" */
function sentences(all: readonly (readonly [label: string, sentence: string])[]): string[] {
  const groups = new Map<string, string[]>();
  for (const [label, sentence] of all)
    groups.set(sentence, [...(groups.get(sentence) ?? []), label]);
  return [...groups].map(([sentence, labels]) => `${enumerated(labels, 60)}: ${sentence}`);
}

function conditionPart(sheet: SafetySheet): string[] {
  const unused = sheet.conditions.filter(({ inUse }) => !inUse).map(({ title }) => title);
  return [
    '<h2>What can fail, and what happens then</h2>',
    ...paragraphs([
      `Worst first: if several apply at once, the log names the first as the cause, and the shortest fade is used. After a loss the light comes back only once tracking has been good for ${seconds(sheet.rearmS)}, over ${seconds(sheet.returnS)}.`,
      ...(unused.length > 0 ? [`Not in use in this show: ${enumerated(unused)}.`] : []),
    ]),
    table(
      ['condition', 'when', 'acts after, fade', 'action', 'clears', 'usual cause'].map(head => ({
        head,
      })),
      sheet.conditions
        .filter(({ inUse }) => inUse)
        .map(row => [
          `${row.title} (${row.scope})`,
          row.when,
          row.actsAfterS === undefined || row.fadeS === undefined
            ? 'takes no light'
            : `${actsAfter(row)}; fade ${seconds(row.fadeS)}`,
          row.action,
          row.clears,
          row.cause,
        ]),
    ),
  ];
}

function fixturePart({ fixtures }: SafetySheet): string[] {
  return [
    '<h2>Each fixture, and how fast</h2>',
    ...paragraphs([
      `The times run from the moment at which something in the table above begins until the fixture is at its safe values; “at most” is the longest of them, except for a frozen feed. Ticks, packets and the limits below add up to ${seconds(ALLOWANCE_S)}. A lit safe look can come up a second later if the flash limit has been reached. “Driven by” says whose loss takes it there; an OSC number does so when it has been silent for its timeout, with the same fade.`,
    ]),
    table(
      [
        ...['fixture', 'patch', 'class', 'driven by', 'way to safe'].map(head => ({ head })),
        ...['engine gone', 'tracker silent', 'at most'].map(head => ({ head, number: true })),
      ],
      fixtures.map(one => [
        calledIn({ fixtures }, one.name),
        one.patch,
        classOf(one),
        one.drivenBy.join(', ') || 'nobody',
        one.way,
        within(one.safeWithinS['engine-dead']),
        within(one.safeWithinS['tracker-silent']),
        seconds(one.atMostS),
      ]),
    ),
  ];
}

/** Folded away on a screen: what the sentences say, attribute by attribute. */
function valuePart(sheet: SafetySheet): string[] {
  const named = ({ name, label }: { readonly name: string; readonly label: string }) =>
    label === name ? name : `${label} (${name})`;
  const changed = sheet.cues.flatMap(cue =>
    cue.safe.map(({ fixture: name, label, values }) => [
      named({ name, label }),
      `in ${cue.label}`,
      valuesText(values),
    ]),
  );
  return [
    '<details><summary>Safe values, attribute by attribute</summary>',
    table(
      [{ head: 'fixture' }, { head: 'when' }, { head: 'safe values' }],
      [...sheet.fixtures.map(one => [named(one), 'always', valuesText(one.safe)]), ...changed],
    ),
    '</details>',
  ];
}

/** Names the fixtures that hang and are sent nothing. */
export function unpatchedText({ unpatched }: Pick<SafetySheet, 'unpatched'>): string {
  const names = unpatched.map(({ name, label }) => (label === name ? name : `${label} (${name})`));
  return `Not patched, so nothing is sent to ${unpatched.length === 1 ? 'it' : 'them'} and no time above holds: ${names.join(', ')}.`;
}

function cuePart(show: Show, { cues, fixtures }: SafetySheet): string[] {
  if (cues.length === 0) return [];
  const usual = safeLights(show, NO_CUE);
  const saysOf = (cue: CueSheet, index: number) => {
    if (cue.safe.length === 0) return 'as above';
    const lights = safeLights(show, index);
    return cue.safe
      .map(({ fixture: name }) => {
        const at = lights.findIndex(one => one.name === name);
        const { sentence = '' } = lights[at] ?? {};
        const isSame = sentence === usual[at]?.sentence;
        return `${calledIn({ fixtures }, name)} ${isSame ? 'as above, except for details' : sentence}`;
      })
      .join('; ');
  };
  const own = cues.flatMap((cue, index) => (cue.safe.length === 0 ? [] : [{ cue, index }]));
  return [
    '<h2>Each cue, and its safe look</h2>',
    ...paragraphs([
      `A cue crossfades from what is lit, never through the safe look. A loss goes to the safe look of the cue that is on, or coming: the one above, except for what is named here. During a crossfade the safe values crossfade too.${cues.every(one => one.lossLeavesAlone.length === 0) ? '' : ` ${LEFT_ALONE}`}`,
    ]),
    table(
      ['cue', 'comes on', 'mappings that act', 'its safe look'].map(head => ({ head })),
      cues.map((cue, index) => {
        const alone = leavesAloneText(cue);
        return [
          cue.label === cue.name ? cue.name : `${cue.label} (${cue.name})`,
          comesText(cue),
          `${actsText(cue)}${alone === '' ? '' : `; ${alone}`}`,
          saysOf(cue, index),
        ];
      }),
    ),
    ...(own.length === 0
      ? []
      : [
          '<div class="small">',
          ...own.map(({ cue, index }) =>
            captioned(
              `Safe look of ${cue.label}`,
              safePlan(show, index, true).svg(`the safe look of ${cue.label} on the stage`),
            ),
          ),
          '</div>',
        ]),
  ];
}

/** What the exits of the show do, and who else is off stage; one sentence or two in each. */
export function offStageText({ exits, orders }: SafetySheet): readonly string[] {
  const names = exits.map(({ name, label }) => (label === name ? name : `${label} (${name})`));
  return [
    exits.length === 0
      ? 'This show has no exits: a performer who is no longer heard is lost, wherever they were.'
      : `${exits.length === 1 ? 'Exit' : 'Exits'}: ${names.join(', ')}. A performer who was last heard well inside ${exits.length === 1 ? 'it' : 'one'} and is no longer heard is off stage, and not lost; anywhere else they are lost.`,
    `A performer who is sent off stage (lampwright tell${orders === undefined ? '' : ', or /lampwright/off'}) is off stage too.`,
    'There is no alarm for performers who are off stage. Their light goes as if they had left the zones, to the base values and not to the safe ones; heads that follow them go dark. They come back when they are heard on the stage.',
    'A stop, the loss of a required desk, and anything that the supervisor detects still take their light to its safe values.',
  ];
}

export function classOf({ hazard, enabledChannels }: FixtureSheet): string {
  return enabledChannels.length === 0
    ? hazard
    : `${hazard}; ${enabledChannels.join(', ')} only while enabled`;
}

/** The show file doesn't say how it will be run. */
const PANEL_STOPS =
  'Run with a state folder (--state-dir), the daemon also serves the panel, unless it was started with --panel off: any browser with its token can stop and resume the light.';

export function ordersText({ orders }: SafetySheet): string {
  if (orders === undefined) {
    return `This show has no operator input: the light is stopped at the machine (lampwright tell, or by ending the daemon, which fades to the safe look). ${PANEL_STOPS}`;
  }
  const { listen, port, allow, enableTimeoutS, desk } = orders;
  return `OSC to ${listen}:${port} from ${allow.join(', ')}: /lampwright/stop and /lampwright/resume, for everybody or by name; /lampwright/enable/CLASS, to be repeated within ${seconds(enableTimeoutS)}. The desk's heartbeat is ${desk}. Also at the machine: lampwright tell. ${PANEL_STOPS}`;
}

/** "1.33 s, at most 99.5 s" */
export function actsAfter({ actsAfterS = 0, actsAtMostAfterS }: ConditionSheet): string {
  const atMost = actsAtMostAfterS === undefined ? '' : `, at most ${seconds(actsAtMostAfterS)}`;
  return `${seconds(actsAfterS)}${atMost}`;
}

export function seconds(value: number): string {
  return `${rounded(value)} s`;
}

function within(value: number | undefined): string {
  return value === undefined ? '–' : seconds(value);
}

export function rounded(value: number): string {
  return String(Number(value.toFixed(2)));
}
