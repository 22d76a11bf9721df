import { list, page, paragraphs, table } from '../drawing/page.js';
import type { Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { escaped } from '../stage/markup.js';
import { besidePlan } from './beside-plan.js';
import { planKey, rigPlan } from './rig-plan.js';
import type { RigCell, RigProfile, RigSheet, RigUniverse } from './rig-sheet.js';
import { runsText, slotChart } from './slot-chart.js';

/** Between the margins of a page of A4, mm. */
const MOST_WIDE_MM = 182;

/** The rig as one file of HTML for the production's folder: to read on a screen, and to print on A4. */
export function rigPage(show: Show, sheet: RigSheet, printed: string): string {
  return page(`${sheet.show}: the rig`, [
    `<h1>${escaped(sheet.show)}: the rig</h1>`,
    `<p class="quiet">For the production's records. Printed by lampwright on ${escaped(printed)} from the show file; print it again when the show changes.</p>`,
    '<p>The venue’s safety staff and riggers decide what hangs over people; this sheet shows what the show file says, not what really hangs.</p>',
    ...planPart(show, sheet),
    ...sheet.universes.flatMap(one => universePart(sheet, one)),
    ...deskPart(sheet),
    ...cuePart(sheet),
    ...peoplePart(sheet),
    '<h2>Profiles</h2>',
    ...sheet.profiles.flatMap(profilePart),
  ]);
}

function planPart(show: Show, { fixtures, unpatched }: RigSheet): string[] {
  const numbers = fixtures.flatMap(({ number, name, cells }): [string, string][] => [
    [name, String(number)],
    ...cells.flatMap(({ name: cell }, i): [string, string][] =>
      cell === undefined ? [] : [[cell, `${number}.${i + 1}`]],
    ),
  ]);
  const plan = rigPlan(show, new Map(numbers));
  const { to, wideMm } = plan.scale(MOST_WIDE_MM);
  const picture = plan.svg(
    `the rig from above: ${fixtures.length} fixtures`,
    ` style="--printed:${wideMm.toFixed(1)}mm"`,
  );
  const unplaced = [...fixtures, ...unpatched].filter(({ hangs }) => hangs === '');
  return [
    '<h2>From above</h2>',
    ...paragraphs([planKey(show)].filter(one => one !== '')),
    picture,
    `<p class="quiet">1 : ${to} where it is printed on A4 at 100 %.</p>`,
    ...besidePlan(plan.numbered, unplaced),
  ];
}

function universePart(
  { fixtures }: RigSheet,
  { universe, outputs, used, free }: RigUniverse,
): string[] {
  const mine = fixtures.filter(one => one.universe === universe);
  const widest = free.reduce((most, [first, last]) => Math.max(most, last - first + 1), 0);
  return [
    '<section class="together">',
    `<h2>Universe ${universe}</h2>`,
    ...paragraphs([
      outputs.length === 0 ? 'No output sends it.' : `${outputs.join('; ')}.`,
      `${used} slots used, ${512 - used} free${widest > 0 ? `; the longest free run has ${widest}` : ''}.`,
    ]),
    slotChart(`slots of universe ${universe}: ${used} used`, mine),
    '</section>',
    table(
      [
        { head: 'no.' },
        { head: 'fixture' },
        { head: 'slots' },
        { head: 'profile' },
        { head: 'x, y, z' },
        { head: 'hung' },
        { head: 'calibrated' },
        { head: 'in the safe look' },
      ],
      mine.flatMap(one => [
        [
          String(one.number),
          namedText(one),
          runsText(one.runs),
          one.profile,
          one.hangs,
          one.hung,
          one.kind === 'head' ? one.calibrated || 'never' : '',
          one.safe,
        ],
        ...one.cells.map(cell => [
          '',
          namedText(cell),
          runsText(cell.runs),
          '',
          cell.hangs,
          '',
          '',
          cell.safe === one.safe ? '' : cell.safe,
        ]),
      ]),
    ),
  ];
}

/** "The bar 1 (bar-1)" */
function namedText({ name, label }: Pick<RigCell, 'name' | 'label'>): string {
  return name === undefined || label === name ? label : `${label} (${name})`;
}

function deskPart({ desk }: RigSheet): string[] {
  if (desk.universes.length === 0) return [];
  return [
    '<h2>What the desk drives</h2>',
    ...desk.universes.flatMap(one => [
      ...paragraphs([
        `${one.name}: ${one.protocol === 'sacn' ? 'sACN universe' : 'Art-Net Port-Address'} ${one.universe}, on ${one.interface}${one.ground === null ? '' : `; universe ${one.ground} of the show lies on it`}.`,
      ]),
      table(
        [{ head: 'slot' }, { head: 'does' }, { head: 'when the desk is gone' }],
        one.slots.map(({ slot, fine, does, gone }) => [
          fine === null ? String(slot) : `${slot} + ${fine}`,
          does,
          gone,
        ]),
      ),
    ]),
    ...(desk.cues.length === 0
      ? []
      : paragraphs([
          `Cues by number: ${desk.cues.map(({ number, label }) => `${number} ${label}`).join(', ')}.`,
        ])),
  ];
}

function cuePart({ cues }: RigSheet): string[] {
  if (cues.length === 0) return [];
  return [
    '<h2>Cues</h2>',
    table(
      [{ head: 'cue' }, { head: 'comes on' }, { head: 'mappings that act' }, { head: 'safe look' }],
      cues.map(({ label, comes, acts, safe }) => [
        label,
        comes,
        acts,
        safe.length === 0 ? 'as the fixtures have it' : safe.join('; '),
      ]),
    ),
  ];
}

function peoplePart({ performers, spares, anchors }: RigSheet): string[] {
  return [
    '<h2>Performers and trackers</h2>',
    table(
      [
        { head: 'performer' },
        { head: 'trackers' },
        { head: 'height', number: true },
        { head: 'worn at', number: true },
      ],
      performers.map(one => [
        one.label,
        one.trackers.join(', '),
        `${one.heightM.toFixed(2)} m`,
        `${one.wornAtM.toFixed(2)} m`,
      ]),
    ),
    ...paragraphs(spares.length === 0 ? [] : [`Spare trackers: ${spares.join(', ')}.`]),
    ...(anchors.length === 0
      ? []
      : [
          '<h2>Anchors</h2>',
          list(
            anchors.map(({ name, hangs }) => `${name}: ${hangs}`),
            'columns',
          ),
        ]),
  ];
}

function profilePart({ name, slots, fixtures, channels }: RigProfile): string[] {
  const hasNames = channels.some(({ values }) => values.length > 0);
  return [
    `<h3>${escaped(name)}</h3>`,
    ...paragraphs([`${slots} ${slots === 1 ? 'slot' : 'slots'}: ${enumerated(fixtures, 40)}.`]),
    table(
      [
        { head: 'slot' },
        { head: 'attribute' },
        { head: 'range' },
        ...(hasNames ? [{ head: 'named values' }] : []),
      ],
      channels.map(one => [
        one.slots || 'none',
        one.attribute,
        one.range,
        ...(hasNames ? [one.values.join(', ')] : []),
      ]),
    ),
  ];
}
