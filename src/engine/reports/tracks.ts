import type { Show } from '../../show/model/model.js';
import { unreachable } from '../../stage/unreachable.js';
import { distanceOutside } from '../../stage/vector.js';
import { isInDoubt } from '../../tracking/clock.js';
import { assessConfidence, type Confidence, createConfidence } from '../../tracking/confidence.js';
import { observe } from '../../tracking/observe.js';
import { predict } from '../../tracking/predict.js';
import {
  createEstimate,
  type Estimate,
  type Sighting,
  type Verdict,
} from '../../tracking/sighting.js';
import { createTrack, type ScratchPool, type Track } from '../../tracking/track.js';
import { beginAfresh, speaksFor, withTrackers } from '../../tracking/trackers.js';
import type { Counters } from '../values/counters.js';
import type { Reception, Report } from './receive.js';
import type { RosterChange } from './roster.js';

/** A tracker not heard for this long says nothing about its performer's place, s. */
const SPEAKS_WITHIN_S = 1;

/** Where everybody is, by their reports. */
export interface Tracks {
  readonly performers: readonly TrackedPerformer[];
  /** Performers as they will be a head's lag later. */
  readonly leads: Lead[];
  /** When anybody was last heard, monotonic seconds; undefined before. */
  lastHeardS: number | undefined;
  readonly counters: Pick<
    Counters,
    'positions' | 'gated' | 'duplicates' | 'outOfOrder' | 'replayed' | 'invalid'
  >;
  /** Called for each report once its track has it, if somebody wants to know why; none during a show. */
  readonly listeners: ReportListener[];
  /** The present report; reused, so that no report allocates one. */
  readonly sighting: Sighting;
}

/** @param performer index of the performer who wears the tracker */
export type ReportListener = (
  performer: number,
  tracker: string,
  report: Readonly<Sighting>,
  verdict: Verdict,
) => void;

/** `seen` and what follows are as of the end of `follow`, until the next one. */
export interface TrackedPerformer {
  readonly name: string;
  /** Replaced when their trackers change. */
  track: Track;
  /** When one of their trackers was last heard, believed or not, monotonic seconds. */
  heardS: number;
  /** When that position was measured, by the clock of the tracking system as far as that is known. */
  stampS: number;
  /** A report since the last tick began the track anew at another place. */
  hasJumped: boolean;
  /** They were heard at least once; what follows means nothing before that. */
  seen: boolean;
  readonly estimate: Estimate;
  readonly confidence: Confidence;
  /** Beyond the bounds of the stage, metres. */
  outsideM: number;
  silentForS: number;
  /** The stamps or time tags that their input should bring are missing, or can't be right. */
  clockGone: boolean;
  jumped: boolean;
  /** 1 where their feed moves as it should, 0 where it hangs. */
  fresh: number;
}

/** A performer predicted beyond the moment of light, for heads that move late. */
export interface Lead {
  readonly performer: number;
  readonly lagS: number;
  readonly estimate: Estimate;
}

export function createTracks({ performers, tracking }: Show, counters: Tracks['counters']): Tracks {
  const scratchPool: ScratchPool = new Map();
  return {
    performers: performers.map(({ name, trackers }): TrackedPerformer => {
      const fits = trackers.map(({ fit }) => fit);
      return {
        name,
        track: createTrack(tracking.track, trackers.length, fits, scratchPool),
        heardS: Number.NEGATIVE_INFINITY,
        stampS: Number.NEGATIVE_INFINITY,
        hasJumped: false,
        seen: false,
        estimate: createEstimate(),
        confidence: createConfidence(),
        outsideM: 0,
        silentForS: Number.POSITIVE_INFINITY,
        clockGone: false,
        jumped: false,
        fresh: 1,
      };
    }),
    leads: [],
    lastHeardS: undefined,
    counters,
    listeners: [],
    sighting: { tracker: 0, timeS: 0, arrivalS: 0, x: 0, y: 0, z: 0, quality: 1 },
  };
}

/** Where the light of a fixture with this lag will find the performer; called while an engine is made. */
export function estimateFor(tracks: Tracks, performer: number, lagS: number): Estimate {
  if (lagS === 0) return (tracks.performers[performer] as TrackedPerformer).estimate;
  const there = tracks.leads.find(lead => lead.performer === performer && lead.lagS === lagS);
  if (there !== undefined) return there.estimate;
  const lead = { performer, lagS, estimate: createEstimate() };
  tracks.leads.push(lead);
  return lead.estimate;
}

/** Reports -> tracks, in order of arrival. */
export function track(tracks: Tracks, reports: readonly Report[], count: number): void {
  for (let i = 0; i < count; i++) sight(tracks, reports[i] as Report);
}

function sight(tracks: Tracks, report: Readonly<Report>): void {
  const { tracker, arrivalS } = report;
  const performer = tracks.performers[tracker.performer];
  // It was held for its time tag, and the tracker was taken off in the meantime.
  if (performer === undefined) return;
  const { sighting, counters, listeners } = tracks;
  sighting.tracker = tracker.place;
  sighting.arrivalS = arrivalS;
  sighting.timeS = report.timeS;
  sighting.x = report.x;
  sighting.y = report.y;
  sighting.z = report.z;
  sighting.quality = report.quality;
  counters.positions += 1;
  performer.heardS = arrivalS;
  performer.stampS = report.timeS;
  tracks.lastHeardS = arrivalS;
  performer.seen = true;
  const verdict = observe(performer.track, sighting);
  for (const told of listeners) told(tracker.performer, tracker.id, sighting, verdict);
  switch (verdict) {
    case 'started':
    case 'accepted':
      break;
    case 'gated':
    case 'frozen':
      counters.gated += 1;
      break;
    case 'reacquired':
      performer.hasJumped = true;
      break;
    case 'out-of-order':
      counters.outOfOrder += 1;
      break;
    case 'duplicate':
      counters.duplicates += 1;
      break;
    case 'replayed':
      counters.replayed += 1;
      break;
    case 'invalid':
      counters.invalid += 1;
      break;
    default:
      unreachable(verdict);
  }
}

/** Performers whose trackers changed -> tracks with other trackers. */
export function refit(tracks: Tracks, changes: readonly RosterChange[], nowS: number): void {
  for (const { performer: index, kind, fits, from } of changes) {
    const performer = tracks.performers[index] as TrackedPerformer;
    // Nobody else knows where they are now: its first report is a new beginning, not a movement.
    const before = from.filter(place => place !== undefined);
    if (kind === 'put on' && !isSpokenFor(performer, before, nowS)) beginAfresh(performer.track);
    performer.track = withTrackers(performer.track, fits, from);
    // Its last report may be all that the track knows: whoever is left must not be drawn there.
    const left = fits.map((_, place) => place);
    if (kind === 'taken off' && !isSpokenFor(performer, left, nowS)) beginAfresh(performer.track);
  }
}

function isSpokenFor(
  { track: known }: TrackedPerformer,
  places: readonly number[],
  nowS: number,
): boolean {
  return places.some(place => speaksFor(known, place, nowS, SPEAKS_WITHIN_S));
}

/** Tracks -> one estimate a performer, predicted to the moment at which the light will arrive. */
export function follow(tracks: Tracks, reception: Reception, show: Show, nowS: number): void {
  const { bounds, tracking } = show;
  const atS = nowS + tracking.outputLatencyS;
  const { performers } = tracks;
  for (let p = 0; p < performers.length; p++) {
    const performer = performers[p] as TrackedPerformer;
    if (!performer.seen) continue;
    const { track: known, estimate, confidence } = performer;
    predict(known, atS, estimate, nowS);
    const outsideM = distanceOutside(bounds, estimate.x, estimate.y, estimate.z);
    assessConfidence(known, estimate, nowS, outsideM, confidence, tracking.confidence);
    performer.outsideM = outsideM;
    performer.clockGone = isClockGone(reception, p);
    performer.silentForS = nowS - performer.heardS;
    // Somebody not heard at all is silent, not frozen.
    const heard = performer.silentForS < tracking.confidence.ageLostS;
    performer.fresh = heard ? confidence.frozen : 1;
    performer.jumped = performer.hasJumped;
    performer.hasJumped = false;
  }
  for (const { performer, lagS, estimate } of tracks.leads) {
    const { track: known, seen } = performers[performer] as TrackedPerformer;
    if (seen) predict(known, atS + lagS, estimate, nowS);
  }
}

function isClockGone({ inputs, inputOf, clocks, untagged }: Reception, performer: number): boolean {
  const input = inputOf[performer] as number;
  if (inputs[input]?.isStamped !== true) return false;
  const clock = clocks[input];
  return untagged[performer] === 1 || (clock !== undefined && isInDoubt(clock));
}
