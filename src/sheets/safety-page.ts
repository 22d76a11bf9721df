import { escaped } from '../stage/markup.js';
import { actsText, comesText, LEFT_ALONE, leavesAloneText, valuesText } from './cue-sheets.js';
import { deskOrdersText, groundText } from './desk-sheet.js';
import { keepOutText } from './keep-out-sheet.js';
import {
  ALLOWANCE_S,
  type ConditionSheet,
  calledIn,
  type FixtureSheet,
  type SafetySheet,
} from './safety-sheet.js';

/** The sheet as one HTML file to print and to keep; nothing in it comes from anywhere else. */
export function safetyPage(sheet: SafetySheet, printed: string): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>${escaped(sheet.show)}: when something fails</title>
<style>${STYLE}</style>
</head>
<body>
<h1>${escaped(sheet.show)}: what the light does when something fails</h1>
<p>For the venue's file. Printed by lampwright on ${escaped(printed)} from the show file; print it anew when the show changes.</p>
<ul class="caution">${sheet.cautions.map(one => `<li>${escaped(one)}</li>`).join('')}</ul>

<h2>What can fail, and what is done</h2>
<p>Worst first: where several hold at once, the first is the cause that the log names, and the shortest fade is taken.
After a loss the light comes back only once all has been well for ${seconds(sheet.rearmS)}, over ${seconds(sheet.returnS)}.</p>
${table(
  ['condition', 'whose light', 'when', 'acts after', 'fade', 'what is done', 'clears', 'mostly'],
  sheet.conditions.map(row => [
    row.inUse ? row.title : `${row.title} (not in use in this show)`,
    row.scope,
    row.when,
    row.actsAfterS === undefined ? '–' : actsAfter(row),
    row.fadeS === undefined ? '–' : seconds(row.fadeS),
    row.action,
    row.clears,
    row.cause,
  ]),
)}

<h2>Each fixture</h2>
<p>The times are from the moment at which something in the table above begins, until the fixture is at its safe values; “at
most” is the longest of them, a frozen feed apart. Ticks, packets and the limits below add up to ${seconds(ALLOWANCE_S)}. A safe look that is lit can come up a second later where the
flash limit is exhausted. “Driven by”: whose loss takes it there; a number by OSC does when it has been silent for its timeout, over the same
fade.</p>
${table(
  [
    'fixture',
    'patch',
    'class',
    'driven by',
    'its way to safe',
    'engine gone',
    'tracker silent',
    'at most',
    'safe values',
  ],
  sheet.fixtures.map(one => [
    one.label === one.name ? one.name : `${one.label} (${one.name})`,
    one.patch,
    classOf(one),
    one.drivenBy.join(', ') || 'nobody',
    one.way,
    within(one.safeWithinS['engine-dead']),
    within(one.safeWithinS['tracker-silent']),
    seconds(one.atMostS),
    valuesText(one.safe),
  ]),
)}
${unpatchedPart(sheet)}${cuePart(sheet)}
<h2>Off stage is not lost</h2>
${offStageText(sheet)
  .map(one => `<p>${escaped(one)}</p>`)
  .join('\n')}
${keepOutPart(sheet)}
<h2>Hazard classes in this show</h2>
${table(
  ['class', 'fixtures', 'enable', 'drops', 'who decides'],
  sheet.hazards.map(row => [
    row.hazard,
    row.fixtures.map(name => calledIn(sheet, name)).join(', '),
    row.needsEnable ? 'only while it is held' : 'none',
    row.drop,
    row.deferTo,
  ]),
)}

${groundPart(sheet)}<h2>Limits on what leaves, in every state</h2>
<ul>
<li>At most ${sheet.limits.flashesPerSecond} flashes a second over all fixtures together (WCAG 2.3.1; a flash is counted where its rise begins). Falls of light are never held up.</li>
<li>Shortest way through its whole range: an intensity ${seconds(sheet.limits.intensityS)}, a movement ${seconds(sheet.limits.movementS)}, anything else with a scale ${seconds(sheet.limits.otherS)}.</li>
</ul>

<h2>Who can stop the light</h2>
<p>${escaped(ordersText(sheet))}</p>
${deskOrdersText(sheet.desk)
  .map(one => `<p>${escaped(one)}</p>`)
  .join('\n')}

<h2>Who decides</h2>
<ul>${sheet.whoDecides.map(one => `<li>${escaped(one)}</li>`).join('')}</ul>

<div class="signed"><p>Read by, for the venue:</p><p>Date:</p><p>For the production:</p><p>Date:</p></div>
</body>
</html>
`;
}

function groundPart({ desk }: SafetySheet): string {
  const text = groundText(desk);
  if (text.length === 0) return '';
  const lines = text.map(one => `<p>${escaped(one)}</p>`).join('\n');
  return `<h2>What passes from the desk</h2>\n${lines}\n\n`;
}

const STYLE = `
body { font: 10pt/1.35 sans-serif; margin: 2em auto; max-width: 75em; color: #111; background: #fff; }
h1 { font-size: 1.5em; } h2 { font-size: 1.15em; margin-top: 1.6em; break-after: avoid; }
table { border-collapse: collapse; width: 100%; } tr { break-inside: avoid; }
th, td { border: 1px solid #777; padding: .25em .45em; text-align: left; vertical-align: top; }
th { background: #e6e6e6; } thead { display: table-header-group; }
.caution { border: 2px solid #111; padding: .6em 2em; font-weight: bold; }
.signed { display: grid; grid-template-columns: 2fr 1fr; margin-top: 3em; gap: 2em; break-inside: avoid; }
.signed p { border-bottom: 1px solid #111; padding-bottom: 2em; margin: 0; }
@page { size: A4 landscape; margin: 12mm; }
`;

function table(head: readonly string[], rows: readonly (readonly string[])[]): string {
  const cells = (row: readonly string[], tag: string) =>
    `<tr>${row.map(cell => `<${tag}>${kept(escaped(cell))}</${tag}>`).join('')}</tr>`;
  return `<table><thead>${cells(head, 'th')}</thead><tbody>\n${rows
    .map(row => cells(row, 'td'))
    .join('\n')}\n</tbody></table>`;
}

/** A figure stays with its unit. */
function kept(text: string): string {
  return text.replace(/(\d) s\b/g, '$1&nbsp;s');
}

/** Names the fixtures that hang and are sent nothing. */
export function unpatchedText({ unpatched }: SafetySheet): string {
  const names = unpatched.map(({ name, label }) => (label === name ? name : `${label} (${name})`));
  return `Not patched, so nothing is sent to ${unpatched.length === 1 ? 'it' : 'them'} and no time above holds: ${names.join(', ')}.`;
}

function unpatchedPart(sheet: SafetySheet): string {
  return sheet.unpatched.length === 0 ? '' : `<p>${escaped(unpatchedText(sheet))}</p>\n`;
}

function cuePart({ cues }: SafetySheet): string {
  if (cues.length === 0) return '';
  const named = (one: { readonly label: string }, name: string) =>
    one.label === name ? name : `${one.label} (${name})`;
  return `
<h2>Each cue, and its safe look</h2>
<p>A cue crossfades from what is lit, never through the safe look. A loss goes to the safe look of the cue that is on, or
coming: the safe values above, but for those named here. In the middle of a crossfade the safe values are on their way too: they are
there when it ends.${cues.every(one => one.lossLeavesAlone.length === 0) ? '' : ` ${LEFT_ALONE}`}</p>
${table(
  ['cue', 'comes on', 'mappings that act', 'fixture', 'its safe values in this cue'],
  cues.flatMap(cue => {
    const alone = leavesAloneText(cue);
    const acts = `${actsText(cue)}${alone === '' ? '' : `; ${alone}`}`;
    const head = [named(cue, cue.name), comesText(cue), acts];
    if (cue.safe.length === 0) return [[...head, 'all', 'as above']];
    return cue.safe.map((one, i) => [
      ...(i === 0 ? head : ['', '', '']),
      named(one, one.fixture),
      valuesText(one.values),
    ]);
  }),
)}
`;
}

function keepOutPart({ keepOuts }: SafetySheet): string {
  const text = keepOutText(keepOuts);
  if (text.length === 0) return '';
  return `
<h2>Where no lit beam goes</h2>
${text.map(one => `<p>${escaped(one)}</p>`).join('\n')}
`;
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
    'Stop, a required desk that is lost, and all that the supervisor notices take their light to its safe values all the same.',
  ];
}

export function classOf({ hazard, enabledChannels }: FixtureSheet): string {
  return enabledChannels.length === 0
    ? hazard
    : `${hazard}; ${enabledChannels.join(', ')} only while enabled`;
}

/** The show file doesn't say how it will be run. */
const PANEL_STOPS =
  'Run with a state folder (--state-dir), the daemon also serves the panel, unless it was started with --panel off: any browser that has its token can stop and resume the light.';

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
