import { figure, inProse, key, page, table } from '../../drawing/page.js';
import { listed } from '../../engine/events/event-words.js';
import type { Show } from '../../show/model/model.js';
import { escaped } from '../../stage/markup.js';
import { isOfThePlace } from '../causes/causes.js';
import { feedLines, refusedLines } from '../measures/tracker-feeds.js';
import { cueAskedBy, lostInCue } from '../words/cue-times.js';
import { handOverPart } from '../words/hand-over-words.js';
import { headFigures } from '../words/head-advice.js';
import { lossGroups } from '../words/loss-groups.js';
import { leftInWords, offStageFor } from '../words/off-stage-times.js';
import { outsidePart } from '../words/outside-words.js';
import { positionToLightRows } from '../words/position-to-light.js';
import type { Report } from '../words/report-data.js';
import { standbyInWords } from '../words/standby-light.js';
import { batteryInWords, inWords, keepOutInWords } from '../words/words.js';
import { MAP_KEY, type MapMark, pathMaps, placeMap } from './place-map.js';
import { TIMELINE_KEY, timeline } from './timeline.js';

/** Most rows of a table on the page; --json has the rest. */
export const MOST_ROWS = 200;
const MOST_TITLES = 5;

const MAP_NOTE =
  '<p class="quiet">A ring with a letter: a performer was lost there; the number says how often. Losses that have nothing to do with the place (tracking silent, no engine, an operator) are not marked. Cells where nobody was are white.</p>';

export interface PageWords {
  /** Day and time, for the heading. */
  readonly day: (atS: number) => string;
  /** Time, for the rest. */
  readonly at: (atS: number) => string;
  /** Time to a tenth of a second; missing: as the rest. */
  readonly exactly?: (atS: number) => string;
}

/** Section about heads that were dark for a keep-out; empty if there were none. */
export function keepOutPart({ keepOuts }: Report): string[] {
  if (keepOuts.length === 0) return [];
  const lines = keepOuts.map(one => `<li>${escaped(keepOutInWords(one))}</li>`);
  return ['<h2>Dark for a keep-out</h2>', `<ul>${lines.join('')}</ul>`];
}

function standbyPart({ standbyLight }: Report, at: PageWords['at']): string[] {
  if (standbyLight.length === 0) return [];
  const lines = standbyLight.map(one => `<li>${escaped(standbyInWords(one, at))}</li>`);
  return ['<h2>Two machines</h2>', `<ul>${lines.join('')}</ul>`];
}

/** The report as one HTML file, for the screen and for printing. */
export function reportPage(
  report: Report,
  show: Show,
  { day, at, exactly = at }: PageWords,
): string {
  const { fromS, toS, performers, latency, actions, dropped } = report;
  const title = `After the show: ${report.show}`;
  return page(title, [
    `<h1>${escaped(title)}</h1>`,
    `<p class="quiet">${escaped(`${day(fromS)} to ${at(toS)} (${inWords.duration(toS - fromS)}), recorded by lampwright ${report.version}`)}</p>`,
    ...report.notes.map(note => `<p class="note">${escaped(note)}</p>`),
    figures(report, show),
    '<h2>Fix first</h2>',
    recommendationList(report),
    ...(report.lowBatteries.length === 0
      ? []
      : [
          '<h2>Batteries to charge or change</h2>',
          `<ul>${report.lowBatteries.map(one => `<li>${escaped(batteryInWords(report, one))}</li>`).join('')}</ul>`,
        ]),
    '<h2>Who was followed, and when</h2>',
    timeline(performers, lossGroups(report), {
      fromS,
      toS: Math.min(toS, report.endS + 60),
      at,
    }),
    key(TIMELINE_KEY),
    performerTable(report, at),
    ...weakPlaces(report, show, at, [MAP_NOTE]),
    '<h2>Losses</h2>',
    lossTable(report, at),
    ...offStageTable(report, at),
    ...handOverPart(report, at),
    ...outsidePart(report, at, 'Where their trackers had them'),
    ...keepOutPart(report),
    ...cueTable(report, at),
    ...standbyPart(report, exactly),
    '<h2>What happened</h2>',
    actions.length === 0
      ? '<p>Nothing went to its safe values, and nobody changed anything.</p>'
      : table(
          [{ head: 'at' }, { head: 'what' }],
          actions.slice(0, MOST_ROWS).map(({ atS, what }) => [at(atS), what]),
        ),
    more(actions.length),
    '<h2>Time and input</h2>',
    '<div class="beside"><div>',
    table(
      [
        { head: 'time' },
        { head: 'median' },
        { head: '95 %' },
        { head: '99 %' },
        { head: 'longest' },
      ].map((column, i) => ({ ...column, number: i > 0 })),
      [
        ['inside this machine, from a position received to its levels ready', latency],
        ['of that, the tick', report.tickLength],
      ].map(([what, q]) => {
        const { p50S, p95S, p99S, maxS } = q as typeof latency;
        return [String(what), ...[p50S, p95S, p99S, maxS].map(inWords.ms)];
      }),
    ),
    ...positionToLightPart(report),
    `<p class="quiet">${escaped(`${report.lateTicks} of ${report.ticks} ticks came late.`)}</p>`,
    '</div><div>',
    dropped.length === 0
      ? '<p>No input was dropped.</p>'
      : table(
          [{ head: 'dropped input' }, { head: 'reason' }, { head: 'messages', number: true }],
          dropped.map(({ what, reason, count }) => [what, reason, String(count)]),
        ),
    '</div></div>',
    ...[...feedLines(report.trackerFeeds), ...refusedLines(report.dropped)].map(
      line => `<p>${escaped(line)}.</p>`,
    ),
    `<footer>Made by <code>lampwright report</code> from a recording, Node ${escaped(report.node)}. It says what the tracking and this program did, not whether the stage was safe: that is for the venue's safety staff to say. It shows where people were: keep it only as long as you need it.</footer>`,
  ]);
}

/** Table of the times from the sensor to the last packet; empty if they were not recorded. */
function positionToLightPart({ positionToLight: all }: Report): string[] {
  if (all.length === 0) return [];
  const heads = ['time', 'median', '95 %', '99 %'];
  return [
    table(
      heads.map((head, i) => ({ head, number: i > 0 })),
      positionToLightRows(all),
    ),
  ];
}

/** Table of who was off stage; empty if nobody was. */
export function offStageTable({ offStage, performers }: Report, at: PageWords['at']): string[] {
  if (offStage.length === 0) return [];
  return [
    '<h2>Off stage, and not lost</h2>',
    table(
      [{ head: 'from' }, { head: 'performer' }, { head: 'for', number: true }, { head: 'left' }],
      offStage
        .slice(0, MOST_ROWS)
        .map(one => [
          at(one.fromS),
          performers.find(({ name }) => name === one.performer)?.label ?? one.performer,
          offStageFor(one),
          leftInWords(one),
        ]),
    ),
    more(offStage.length),
  ];
}

export function cueTable({ cues }: Report, at: PageWords['at']): string[] {
  if (cues.length === 0) return [];
  return [
    '<h2>Cues</h2>',
    table(
      [
        { head: 'from' },
        { head: 'cue' },
        { head: 'for' },
        { head: 'asked for' },
        { head: 'lost in it' },
      ],
      cues.map(one => [
        at(one.fromS),
        one.label,
        inWords.duration(one.untilS - one.fromS),
        cueAskedBy(one),
        lostInCue(one),
      ]),
    ),
  ];
}

function figures(report: Report, show: Show): string {
  const { latency, dropped } = report;
  const count = dropped.reduce((sum, one) => sum + one.count, 0);
  return [
    '<div class="figures">',
    ...followedFigures(report),
    figure(
      latency.count > 0 ? inWords.ms(latency.p95S) : 'unknown',
      'inside this machine, from a position received to its levels ready, 95 % within',
    ),
    figure(String(count), count === 1 ? 'message dropped' : 'messages dropped'),
    ...headFigures(report, show),
    '</div>',
  ].join('\n');
}

/** The figures that say how the evening went as a whole. */
export function followedFigures({ performers, losses }: Report): string[] {
  const sinceS = performers.reduce((sum, one) => sum + one.sinceS, 0);
  const followedS = performers.reduce((sum, one) => sum + one.followedS, 0);
  const stopped = losses.filter(({ cause }) => cause === 'operator-stop');
  const lost = losses.length - stopped.length;
  const stops = momentsOf(stopped.map(({ atS }) => atS));
  return [
    figure(
      sinceS > 0 ? inWords.share(followedS / sinceS) : 'never',
      'followed, over all performers',
    ),
    figure(String(lost), lost === 1 ? 'loss' : 'losses'),
    ...(stops === 0
      ? []
      : [figure(String(stops), stops === 1 ? 'operator stop' : 'operator stops')]),
  ];
}

/** Stops within this time are one: a stop of everybody is recorded for each performer, seconds. */
const ONE_STOP_S = 0.1;

/** How many of these times are separate moments. */
function momentsOf(timesS: readonly number[]): number {
  const sorted = [...timesS].sort((a, b) => a - b);
  return sorted.filter((atS, i) => atS - (sorted[i - 1] ?? Number.NEGATIVE_INFINITY) > ONE_STOP_S)
    .length;
}

/** Heading, map and table of the places where the tracking was weak. */
export function weakPlaces(
  report: Report,
  show: Show,
  at: PageWords['at'],
  notes: readonly string[] = [],
): string[] {
  const { cells, cellM } = report.places;
  return [
    '<h2>Where the tracking was weak</h2>',
    '<div class="beside"><div>',
    placeMap(show, cells, cellM, lossMarks(report, at)),
    key(MAP_KEY),
    ...notes,
    '</div><div>',
    weakTable(report),
    '</div></div>',
    ...pathMaps(show, report.performers),
  ];
}

export function recommendationList({ recommendations }: Pick<Report, 'recommendations'>): string {
  if (recommendations.length === 0) return '<p>Nothing cost light for half a second or more.</p>';
  const items = recommendations.map(
    ({ what, act }) => `<li><b>${inProse(what)}</b>${inProse(act)}</li>`,
  );
  return `<ol class="recommendations">${items.join('\n')}</ol>`;
}

export function performerTable({ performers }: Report, at: PageWords['at']): string {
  return table(
    [
      { head: 'performer' },
      { head: 'tracker' },
      { head: 'first heard' },
      { head: 'followed', number: true },
      { head: 'off stage', number: true },
      { head: 'losses', number: true },
      { head: 'longest', number: true },
      { head: 'confidence', number: true },
      { head: 'reports a second', number: true },
      { head: 'not believed', number: true },
    ],
    performers.map(one =>
      one.firstS === undefined
        ? [
            one.label,
            '',
            one.offStageS > 0
              ? `never; off stage ${inWords.duration(one.offStageS)}`
              : one.expected
                ? 'never'
                : 'not in this scene',
            '',
            '',
            '',
            '',
            '',
            '',
            '',
          ]
        : [
            one.label,
            one.trackers.map(({ id }) => id).join(', '),
            at(one.firstS),
            inWords.share(one.availability),
            one.offStageS > 0 ? inWords.duration(one.offStageS) : '',
            String(one.losses),
            one.losses > 0 ? inWords.duration(one.longestLossS) : '',
            one.meanConfidence.toFixed(2),
            one.reportHz.toFixed(1),
            inWords.share(one.gatedShare),
          ],
    ),
  );
}

export function weakTable({ places }: Report): string {
  if (places.weakest.length === 0) return '<p>Nowhere.</p>';
  return table(
    [
      { head: 'place' },
      { head: 'somebody there', number: true },
      { head: 'weak', number: true },
      { head: 'losses', number: true },
    ],
    places.weakest.map(({ place, heldS, weakS, losses }) => [
      place,
      inWords.duration(heldS),
      inWords.duration(weakS),
      String(losses),
    ]),
  );
}

export function lossTable(report: Report, at: PageWords['at']): string {
  const groups = lossGroups(report);
  if (groups.length === 0) {
    return `<p>Nobody was lost${report.unrecordedS === undefined ? '' : ' before the recording ended'}.</p>`;
  }
  return [
    table(
      [
        { head: 'no.' },
        { head: 'at' },
        { head: 'performer' },
        { head: 'for', number: true },
        { head: 'place' },
        { head: 'cause' },
      ],
      groups
        .slice(0, MOST_ROWS)
        .map((group, i) => [
          `▼${i + 1}`,
          at(group.atS),
          listed(group.performers),
          group.forS,
          group.place ?? '',
          group.why,
        ]),
    ),
    more(groups.length),
  ].join('\n');
}

function more(count: number): string {
  return count > MOST_ROWS
    ? `<p class="quiet">and ${count - MOST_ROWS} more; <code>--json</code> has them all.</p>`
    : '';
}

interface LossMark {
  readonly performer: string;
  readonly losses: Report['losses'][number][];
  x: number;
  y: number;
}

/** Marks nearer to each other than this would overlap, metres. */
const ONE_MARK_M = 1.2;

/** One mark for all losses of a performer that are near each other, at the mean of their places. */
export function lossMarks(report: Report, at: PageWords['at']): MapMark[] {
  const groups: LossMark[] = [];
  for (const loss of report.losses) {
    const { performer, x, y, cause } = loss;
    if (Number.isNaN(x) || !isOfThePlace(cause)) continue;
    const near = groups.find(
      one => one.performer === performer && Math.hypot(one.x - x, one.y - y) < ONE_MARK_M,
    );
    if (near === undefined) {
      groups.push({ performer, losses: [loss], x, y });
      continue;
    }
    near.losses.push(loss);
    near.x += (x - near.x) / near.losses.length;
    near.y += (y - near.y) / near.losses.length;
  }
  return groups.map(({ performer, losses, x, y }) => ({
    x,
    y,
    count: losses.length,
    letter: initial(report, performer),
    title: losses
      .slice(0, MOST_TITLES)
      .map(({ atS, why }) => `${at(atS)}: ${why}`)
      .join('; '),
  }));
}

function initial({ performers }: Report, name: string): string {
  const label = performers.find(one => one.name === name)?.label ?? name;
  return label.replace(/^The /, '').charAt(0).toUpperCase();
}
