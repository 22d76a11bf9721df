import { figure, key, page, table } from '../../drawing/page.js';
import type { Show } from '../../show/model/model.js';
import { escaped } from '../../stage/markup.js';
import { levelTraces } from '../measures/level-traces.js';
import type { LightDeeds } from '../measures/lights.js';
import { isNear } from '../measures/shades.js';
import { messageWords, signalRange } from '../measures/signal-watch.js';
import type { RehearsalReport } from '../rehearsal.js';
import { handOverPart } from '../words/hand-over-words.js';
import { headFigures } from '../words/head-advice.js';
import { lossGroups } from '../words/loss-groups.js';
import { outsidePart } from '../words/outside-words.js';
import { flashesInWords, inWords } from '../words/words.js';
import { late, percent } from './rehearsal-text.js';
import {
  cueTable,
  followedFigures,
  keepOutPart,
  lossTable,
  offStageTable,
  recommendationList,
  weakPlaces,
} from './report-page.js';
import { RIG_KEY, rigPictures } from './rig-picture.js';
import { TIMELINE_KEY, timeline } from './timeline.js';

/** The rehearsal as one HTML file, for the screen and for printing. */
export function rehearsalPage(
  rehearsal: RehearsalReport,
  show: Show,
  at: (atS: number) => string,
): string {
  const { scene, lengthS, rounds, lights, flashes, heads, zones, report, traceStepS } = rehearsal;
  const { performers, fromS, toS } = report;
  const title = `Rehearsal: ${scene}`;
  const lit = lights.filter(({ hasIntensity }) => hasIntensity);
  return page(title, [
    `<h1>${escaped(title)}</h1>`,
    `<p class="quiet">${escaped(`${report.show}, ${inWords.duration(lengthS)}${rounds > 1 ? `, ${rounds} times over` : ''}, simulated by lampwright ${report.version}`)}</p>`,
    ...report.notes.map(note => `<p class="note">${escaped(note)}</p>`),
    figures(rehearsal, show),
    '<h2>Fix first</h2>',
    recommendationList(report),
    '<h2>What each light did</h2>',
    levelTraces(lit, traceStepS, { fromS, toS, at }),
    ...(flashes.times > 0 ? [`<p>${escaped(flashesInWords(flashes))}</p>`] : []),
    table(
      [
        { head: 'light' },
        { head: 'lit for', number: true },
        { head: 'highest', number: true },
        { head: 'rises', number: true },
        { head: 'fastest change', number: true },
        { head: 'turned in the dark', number: true },
        { head: 'colours' },
      ],
      lit.map(one => [
        one.fixture,
        inWords.duration(one.litS),
        percent(one.highest),
        String(one.rises),
        `${percent(one.fastest)} a second`,
        one.turns > 0 ? inWords.times(one.turns) : '',
        coloursOf(one, traceStepS),
      ]),
    ),
    ...handOverPart(report, at),
    ...outsidePart(report, at, 'Where they truly are'),
    ...keepOutPart(report),
    ...rig(show),
    '<h2>Where it was late</h2>',
    table(
      [
        { head: 'head' },
        { head: 'follows' },
        { head: 'off by', number: true },
        { head: '95 %', number: true },
        { head: 'worst', number: true },
        { head: 'at', number: true },
        { head: 'timing', number: true },
      ],
      heads.map(head =>
        head.litS === 0
          ? [head.fixture, head.performer, 'no light', '', '', '', '']
          : [
              head.fixture,
              `${head.performer}${head.cues.length > 0 ? ` (${head.cues.join(', ')})` : ''}`,
              inWords.metres(head.meanM),
              inWords.metres(head.p95M),
              inWords.metres(head.worstM),
              at(head.worstAtS + fromS),
              late(head.trailsS),
            ],
      ),
    ),
    '<p class="quiet">Distance from the performer to the middle of the beam, while it is lit; timing: while they walk.</p>',
    table(
      [
        { head: 'zone' },
        { head: 'performer' },
        { head: 'visits', number: true },
        { head: 'timing', number: true },
        { head: 'worst', number: true },
        { head: 'missed', number: true },
        { head: 'false', number: true },
        { head: 'while lost', number: true },
        { head: 'coming on', number: true },
      ],
      zones.map(zone => [
        zone.zone,
        zone.performer,
        String(zone.visits),
        late(zone.meanS),
        late(zone.worstS),
        zone.missed > 0 ? String(zone.missed) : '',
        zone.falseEntries > 0 ? String(zone.falseEntries) : '',
        zone.duringLoss > 0 ? String(zone.duringLoss) : '',
        zone.comingOn > 0 ? String(zone.comingOn) : '',
      ]),
    ),
    '<p class="quiet">Compared with perfect tracking without delay; early means that the light is ahead. Fades come on top. Visits that were late or missed because of a loss, or because somebody had just come on from off stage (their light waits for <code>rearm</code>), count only in the last two columns.</p>',
    ...driven(rehearsal, at),
    '<h2>Where the watchdog acted</h2>',
    timeline(performers, lossGroups(report), { fromS, toS, at }),
    key(TIMELINE_KEY),
    lossTable(report, at),
    ...offStageTable(report, at),
    ...cueTable(report, at),
    ...weakPlaces(report, show, at),
    `<footer>Made by <code>lampwright rehearse</code>, Node ${escaped(report.node)}. Sensors are simulated: only your stage shows what the radio does there. This page says what the light would do, not whether the stage is safe: that is for the venue's safety staff to say.</footer>`,
  ]);
}

/** A colour held for less is only on the way from one to another, seconds. */
const LEAST_COLOUR_S = 2;
/** Light above this is visible, per cent. */
const LIT = 1;

/** The colours that stayed for a while, in words; nobody asked for those that a long fade goes through. */
function coloursOf({ colours, shades, trace }: LightDeeds, stepS: number): string {
  const wordAt = (step: number) => colours.findLast(one => one.step <= step)?.word;
  const words = shades.flatMap(({ step, hex }, i) => {
    const next = shades[i + 1];
    if (next === undefined || !isNear(hex, next.hex)) return [];
    // In the dark between two lit times it holds its colour.
    const lit = trace.slice(step, next.step + 1).filter(value => value > LIT).length;
    return lit * stepS >= LEAST_COLOUR_S ? (wordAt(step) ?? []) : [];
  });
  return [...new Set(words)].join(', ');
}

/** Sections for signals, conditions and messages, if there are any. */
function driven(
  { signals, conditions, messages, report }: RehearsalReport,
  at: (atS: number) => string,
): string[] {
  const unknown = (forS: number) => (forS > 0 ? inWords.duration(forS) : '');
  const parts: string[] = [];
  if (signals.length + conditions.length > 0) parts.push('<h2>What drove the light</h2>');
  if (signals.length > 0) {
    parts.push(
      table(
        [{ head: 'signal' }, { head: 'was' }, { head: 'unknown for', number: true }],
        signals.map(one => [one.signal, signalRange(one), unknown(one.unknownS)]),
      ),
    );
  }
  if (conditions.length > 0) {
    parts.push(
      table(
        [
          { head: 'condition' },
          { head: 'yes', number: true },
          { head: 'yes for', number: true },
          { head: 'unknown for', number: true },
        ],
        conditions.map(({ condition, times, yesS, unknownS }) => [
          condition,
          times === 0 ? 'never' : inWords.times(times),
          times === 0 ? '' : inWords.duration(yesS),
          unknown(unknownS),
        ]),
      ),
    );
  }
  if (messages.length > 0) {
    parts.push(
      '<h2>Messages that would be sent</h2>',
      table(
        [{ head: 'message' }, { head: 'sent', number: true }, { head: 'first at', number: true }],
        messages.map(one => [
          messageWords(one),
          inWords.times(one.times),
          at(one.firstS + report.fromS),
        ]),
      ),
    );
  }
  return parts;
}

/** Section with the pictures of the rig, if there are heads. */
function rig(show: Show): string[] {
  const pictures = rigPictures(show);
  return pictures.length === 0 ? [] : ['<h2>The rig</h2>', key(RIG_KEY), ...pictures];
}

function figures({ heads, zones, report }: RehearsalReport, show: Show): string {
  const worst = heads.reduce((most, head) => Math.max(most, head.litS > 0 ? head.p95M : 0), 0);
  const missed = zones.reduce((sum, zone) => sum + zone.missed + zone.falseEntries, 0);
  return [
    '<div class="figures">',
    ...followedFigures(report),
    figure(inWords.metres(worst), 'worst head: within this for 95 % of the time'),
    figure(String(missed), 'missed or false entries'),
    ...headFigures(report, show),
    '</div>',
  ].join('\n');
}
