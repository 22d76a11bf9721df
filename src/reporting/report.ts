import { dropsNamed } from '../engine/events/drop-words.js';
import type { DropReason } from '../engine/values/counters.js';
import type { RecordedDelays } from '../live/recorded-delays.js';
import type { Show } from '../show/model/model.js';
import { type Loss, mainDoubt, withMainDoubt } from './causes/loss-causes.js';
import type { InputCounts } from './measures/input-counts.js';
import type { Cell } from './measures/places.js';
import { outsideOf, type TrackerSilence } from './measures/tracker-silences.js';
import { recommendationsOf } from './recommendations.js';
import type { SessionStatistics } from './session-statistics.js';
import { reportedCues } from './words/cue-times.js';
import { lastingCause } from './words/lasting-cause.js';
import { reportedOffStage } from './words/off-stage-times.js';
import { positionToLight } from './words/position-to-light.js';
import type {
  Dropped,
  Outage,
  PerformerReport,
  Report,
  ReportedLoss,
  WeakPlace,
} from './words/report-data.js';
import { inWords } from './words/words.js';

export interface ReportSource {
  readonly version: string;
  readonly node: string;
  readonly fromS: number;
  readonly toS: number;
  readonly unixOffsetS: number;
  readonly notes: readonly string[];
  /** Time of day. */
  readonly at: (atS: number) => string;
  readonly counts: InputCounts;
  /** Names of performers who are expected to be silent; undefined: everybody should be heard. */
  readonly absent?: ReadonlySet<string>;
  readonly outages?: readonly Outage[];
  readonly deskSilences?: Report['deskSilences'];
  readonly standbyLight?: Report['standbyLight'];
  /** How long positions took to become light, within the time asked for. */
  readonly delays?: readonly RecordedDelays[];
  /** When the daemon was told to stop, and when it was gone without that. */
  readonly stoppingS?: number | undefined;
  readonly goneS?: number | undefined;
  /** When the recording ended although what it recorded went on. */
  readonly unrecordedS?: number | undefined;
}

export function makeReport(
  statistics: SessionStatistics,
  source: ReportSource,
  placeOf: PlaceWords,
): Report {
  const endS = source.unrecordedS ?? statistics.lastFollowedS ?? source.fromS;
  // Whoever is lost together with the last followed performer, or later, has gone home.
  const losses = statistics.losses
    .filter(({ atS, untilS }) => untilS !== undefined || atS < endS)
    .map(loss => reported(loss, endS));
  const offStage = reportedOffStage(statistics.offStage.all, endS);
  const performers = statistics.performers.map((one): PerformerReport => {
    const all = losses.filter(loss => loss.performer === one.name);
    const mine = all.filter(({ cause }) => cause !== 'operator-stop');
    const gated = one.verdicts.gated ?? 0;
    return {
      name: one.name,
      label: one.label,
      trackers: [...one.trackers].map(([id, reports]) => ({ id, reports })),
      expected: source.absent?.has(one.name) !== true,
      firstS: one.firstS,
      sinceS: one.sinceS,
      followedS: one.followedS,
      offStageS: sumOf(offStage.filter(({ performer }) => performer === one.name)),
      availability: one.sinceS > 0 ? one.followedS / one.sinceS : Number.NaN,
      meanConfidence: one.sinceS > 0 ? one.confidenceS / one.sinceS : Number.NaN,
      reports: one.reports,
      reportHz: one.sinceS > 0 ? (one.reports - one.offStageReports) / one.sinceS : 0,
      gatedShare: one.reports > 0 ? gated / one.reports : 0,
      losses: mine.length,
      // A stop from before the first engine shows only as a loss.
      stops: Math.max(one.stops, all.length - mine.length),
      longestLossS: Math.max(0, ...mine.map(({ forS }) => forS)),
      stretches: one.stretches,
      path: one.path.stretches(),
    };
  });
  const cells = statistics.grid.cells();
  const body = {
    show: statistics.show.name,
    ...source,
    endS,
    goneS: source.goneS,
    unrecordedS: source.unrecordedS,
    outages: source.outages ?? [],
    deskSilences: source.deskSilences ?? [],
    standbyLight: source.standbyLight ?? [],
    notes: [
      ...goneWithoutEnd(source, statistics.show),
      ...unrecorded(source),
      ...source.notes,
      ...afterTheShow(source, endS),
    ],
    performers,
    trackerFeeds: source.counts.trackerFeeds ?? [],
    losses,
    // Stops are meant: in no cue do they count as losses.
    cues: reportedCues(
      statistics.cues.all,
      losses.filter(({ cause }) => cause !== 'operator-stop'),
      endS,
    ),
    offStage,
    heads: statistics.handOvers.heads(endS),
    withoutHead: statistics.handOvers.without(),
    outsideBeam: statistics.outside.all(endS),
    trackerSilences: silencesWithin(statistics.silences.all, losses, source.fromS, endS),
    lowBatteries: [...statistics.lowBatteries.values()].map(({ tracker, performer, charge }) => ({
      tracker,
      performer,
      charge,
    })),
    places: { cellM: statistics.grid.cellM, cells, weakest: weakest(cells, placeOf) },
    latency: statistics.ticks.latency.quantiles(),
    tickLength: statistics.ticks.length.quantiles(),
    positionToLight: positionToLight(source.delays ?? []),
    ticks: statistics.ticks.count,
    lateTicks: statistics.ticks.late,
    actions: statistics.actions.all(),
    dropped: dropped(source.counts),
    keepOuts: statistics.keepOuts.all(endS),
    unreached: [...statistics.unreachedS].map(([fixture, forS]) => ({ fixture, forS })),
  };
  const { counts: _, at, absent: __, stoppingS: ___, delays: ____, ...rest } = body;
  return { ...rest, recommendations: recommendationsOf(rest, at) };
}

function sumOf(times: readonly { readonly forS: number }[]): number {
  return times.reduce((sum, { forS }) => sum + forS, 0);
}

function reported(of: Loss, endS: number): ReportedLoss {
  const { steps: _, doubtsS: __, ...loss } = of;
  const untilS = loss.untilS ?? endS;
  const { cause, why, parts } = lastingCause(withMainDoubt(of), untilS);
  const reason = mainDoubt(of);
  return { ...loss, reason, cause, why, parts, atS: loss.atS, forS: untilS - loss.atS };
}

function silencesWithin(
  all: readonly TrackerSilence[],
  losses: readonly ReportedLoss[],
  fromS: number,
  endS: number,
): Report['trackerSilences'] {
  return all.flatMap(({ isOnly, ...one }) => {
    if (isOnly) return [];
    const beganS = Math.max(one.fromS, fromS);
    const untilS = Math.min(one.untilS ?? endS, endS);
    const forS = untilS - beganS;
    if (!(forS > 0)) return [];
    const own = losses.filter(({ performer }) => performer === one.performer);
    return [{ ...one, fromS: beganS, forS, followedS: outsideOf(beganS, untilS, own) }];
  });
}

function goneWithoutEnd({ goneS, at }: ReportSource, { operator }: Show): string[] {
  if (goneS === undefined) return [];
  const then =
    (operator?.standby.length ?? 0) === 0
      ? 'gateways held their last levels, or dropped them'
      : 'the standby took the light if it ran (see its own report); otherwise gateways held their last levels, or dropped them';
  return [`The daemon was gone from ${at(goneS)}, and did not end cleanly: ${then}.`];
}

function unrecorded({ unrecordedS, at }: ReportSource): string[] {
  if (unrecordedS === undefined) return [];
  return [
    `Nothing was recorded after ${at(unrecordedS)}: the disk was full, or took nothing for another reason. The show may have gone on; what happened then is not in this report.`,
  ];
}

/** What is left out is mentioned, except for this time at the end of a show that is simply stopped, seconds. */
const AFTER_S = 1;

function afterTheShow({ toS, at, stoppingS }: ReportSource, endS: number): string[] {
  // The fade of a daemon that is stopping doesn't count as time after the show.
  if (Math.min(toS, stoppingS ?? toS) - endS < AFTER_S) return [];
  const forS = inWords.duration(toS - endS);
  return [
    `From ${at(endS)} to the end (${forS}) nobody was followed: this is taken as the time after the show, and not counted. If the show was still on, this is the first thing to fix.`,
  ];
}

export type PlaceWords = (x: number, y: number) => string;

const MOST_PLACES = 5;
const LEAST_WEAK_S = 0.5;

/** The weakest places; neighbouring cells with one name are one place. */
function weakest(cells: readonly Cell[], placeOf: PlaceWords): WeakPlace[] {
  const places = new Map<
    string,
    { x: number; y: number; worst: number; heldS: number; weakS: number; losses: number }
  >();
  for (const { x, y, heldS, weakS, losses } of cells) {
    const name = placeOf(x, y);
    const place = places.get(name) ?? { x, y, worst: -1, heldS: 0, weakS: 0, losses: 0 };
    places.set(name, place);
    place.heldS += heldS;
    place.weakS += weakS;
    place.losses += losses;
    if (weakS + losses > place.worst) {
      place.worst = weakS + losses;
      place.x = x;
      place.y = y;
    }
  }
  return [...places]
    .filter(([, { weakS, losses }]) => weakS >= LEAST_WEAK_S || losses > 0)
    .sort(([, a], [, b]) => b.weakS + 2 * b.losses - (a.weakS + 2 * a.losses))
    .slice(0, MOST_PLACES)
    .map(([place, { worst: _, ...rest }]) => ({ place, ...rest }));
}

function dropped({ drops, duplicates, outOfOrder, invalid, from }: InputCounts): Dropped[] {
  const list: Partial<Record<Reason, number>> = {
    ...drops,
    duplicate: duplicates,
    'out-of-order': outOfOrder,
    invalid,
  };
  return (Object.entries(list) as [Reason, number][])
    .filter(([, count]) => count > 0)
    .map(([reason, count]) => {
      const sender = from?.[reason as DropReason];
      const what = dropWords(reason);
      return { reason, count, what, ...(sender === undefined ? {} : { from: sender }) };
    })
    .sort((a, b) => b.count - a.count);
}

const WORDS = {
  duplicate:
    'repeated reports, with the same time and position: sent twice, or a server that repeats the last one',
  'out-of-order': 'older than the track remembers',
  invalid: 'with an impossible place or time',
} as const;

type Reason = DropReason | keyof typeof WORDS;

function dropWords(reason: Reason): string {
  switch (reason) {
    case 'duplicate':
    case 'out-of-order':
    case 'invalid':
      return WORDS[reason];
    default:
      return dropsNamed(reason);
  }
}
