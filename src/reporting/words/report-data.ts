import type { DelayPart } from '../../live/light-delays.js';
import type { PlanPoint } from '../../stage/area.js';
import type { SafeAction } from '../causes/actions.js';
import type { LossCause } from '../causes/causes.js';
import type { OutageCause, StandbyTime } from '../causes/held-light.js';
import type { Loss, LossPart } from '../causes/loss-causes.js';
import type { HeadTimes, WithoutHead } from '../measures/hand-over-times.js';
import type { Quantiles } from '../measures/histogram.js';
import type { KeepOutTime } from '../measures/keep-out-times.js';
import type { OutsideBeam } from '../measures/outside-beam.js';
import type { Stretch } from '../measures/performer-statistics.js';
import type { Cell } from '../measures/places.js';
import type { FeedCount } from '../measures/tracker-feeds.js';
import type { TrackerSilence } from '../measures/tracker-silences.js';

/** The report of a show or a rehearsal, as plain data. Times are monotonic seconds. */
export interface Report {
  readonly show: string;
  readonly version: string;
  readonly node: string;
  readonly fromS: number;
  readonly toS: number;
  /** When anybody was last followed: what comes later is not counted. */
  readonly endS: number;
  /** Unix time minus the times of this report, seconds. */
  readonly unixOffsetS: number;
  /** Why it may be incomplete, or differ from what was on stage. */
  readonly notes: readonly string[];
  readonly recommendations: readonly Recommendation[];
  readonly performers: readonly PerformerReport[];
  /** Which tracker came on which input, how often, and from whom. */
  readonly trackerFeeds: readonly FeedCount[];
  readonly losses: readonly ReportedLoss[];
  /** When each cue was on, and the losses in it; empty in a show without cues. */
  readonly cues: readonly ReportedCue[];
  /** Who left the stage or was sent off, and for how long; these are no losses. */
  readonly offStage: readonly ReportedOffStage[];
  /** For heads that choose whom they follow: whom each was on; empty in a show without such heads. */
  readonly heads: readonly HeadTimes[];
  readonly withoutHead: readonly WithoutHead[];
  /** For heads on the middle of several: how long each performer was outside the lit beam. */
  readonly outsideBeam: readonly OutsideBeam[];
  /** When one of several trackers of a performer was silent or frozen. For `followedS` of that time their light followed another of their trackers; otherwise they were lost. */
  readonly trackerSilences: readonly (Omit<TrackerSilence, 'isOnly'> & {
    readonly forS: number;
    readonly followedS: number;
  })[];
  readonly lowBatteries: readonly {
    readonly tracker: string;
    /** undefined: a spare. */
    readonly performer: string | undefined;
    /** Charge left, 0..1. */
    readonly charge: number;
  }[];
  /** When an interface for lighting was gone, so that outputs sent nothing. */
  readonly outages: readonly Outage[];
  /** When the standby of two machines had the light, as the machine that recorded saw it. */
  readonly standbyLight: readonly StandbyTime[];
  /** When the daemon was gone without having been stopped; undefined: it was stopped, or no record says otherwise. */
  readonly goneS: number | undefined;
  /** When the recording ended as the disk took no more; undefined: it holds all. */
  readonly unrecordedS: number | undefined;
  readonly places: {
    readonly cellM: number;
    readonly cells: readonly Cell[];
    readonly weakest: readonly WeakPlace[];
  };
  readonly latency: Quantiles;
  readonly tickLength: Quantiles;
  /** Times from the sensor to the last packet, by part of the way; empty in a rehearsal, or if not recorded. */
  readonly positionToLight: readonly PositionToLight[];
  readonly ticks: number;
  readonly lateTicks: number;
  readonly actions: readonly SafeAction[];
  readonly dropped: readonly Dropped[];
  /** Universes of the desk that were silent for a while. */
  readonly deskSilences: readonly { readonly input: string; readonly forS: number }[];
  /** Heads that went dark before their beam would have touched a keep-out. */
  readonly keepOuts: readonly KeepOutTime[];
  readonly unreached: readonly { readonly fixture: string; readonly forS: number }[];
}

/** A time in which a cue was on. */
export interface CueTime {
  readonly cue: string;
  readonly label: string;
  readonly fromS: number;
  untilS: number;
  /** Who asked for it; undefined: nobody knows, or it was on at the start. */
  readonly by: string | undefined;
}

/** The same with the losses in it. */
export interface ReportedCue extends CueTime {
  readonly losses: number;
  /** Sum over all performers, seconds. */
  readonly lostS: number;
}

/** A time in which a performer was known to be off stage. */
export interface OffStageTime {
  readonly performer: string;
  readonly fromS: number;
  /** When they were trusted on the stage again; undefined: never. */
  readonly untilS: number | undefined;
  /** Name and label of the exit by which they left; undefined: they were sent off, or nobody knows. */
  readonly exit: string | undefined;
  readonly exitLabel: string | undefined;
  /** Who or what sent them off; undefined: nobody knows. */
  readonly by: string | undefined;
}

export interface ReportedOffStage extends OffStageTime {
  readonly forS: number;
}

export interface Outage {
  readonly interface: string;
  readonly cause: OutageCause;
  readonly outputs: readonly string[];
  /** How many outputs the show has in total. */
  readonly ofOutputs: number;
  readonly fromS: number;
  readonly forS: number;
}

export interface ReportedLoss extends Omit<Loss, 'steps' | 'doubtsS'> {
  readonly forS: number;
  /** The cause of its longest part. */
  readonly cause: LossCause;
  /** The same in words, from how it began. */
  readonly why: string;
  /** Its causes, one after the other; together they last `forS`. */
  readonly parts?: readonly LossPart[];
}

export interface PerformerReport {
  readonly name: string;
  readonly label: string;
  readonly trackers: readonly { readonly id: string; readonly reports: number }[];
  /** False for a performer who is not in a rehearsed scene: it is right that they were not heard. */
  readonly expected: boolean;
  /** undefined: never heard. */
  readonly firstS: number | undefined;
  readonly sinceS: number;
  readonly followedS: number;
  /** How long they were known to be off stage, which `availability` leaves out, seconds. */
  readonly offStageS: number;
  /** Share of the time since they were first heard in which their light followed them, 0..1; NaN if never heard. */
  readonly availability: number;
  readonly meanConfidence: number;
  readonly reports: number;
  readonly reportHz: number;
  /** Share of the reports that were kept out of the track, 0..1. */
  readonly gatedShare: number;
  /** How often they were lost; an operator's stop doesn't count here. */
  readonly losses: number;
  /** How often an operator stopped them, alone or with everybody. */
  readonly stops: number;
  readonly longestLossS: number;
  readonly stretches: readonly Stretch[];
  /** Where they walked while they were tracked: stretches without a gap, metres. */
  readonly path: readonly (readonly PlanPoint[])[];
}

export interface WeakPlace {
  readonly place: string;
  readonly x: number;
  readonly y: number;
  readonly heldS: number;
  readonly weakS: number;
  readonly losses: number;
}

/** How long positions took from the sensor to the last packet of their frame, or in one part of that way. */
export interface PositionToLight {
  readonly part: DelayPart;
  readonly count: number;
  /** Upper end of the bin that holds the quantile, seconds; infinite: beyond the last bin. */
  readonly p50S: number;
  readonly p95S: number;
  readonly p99S: number;
  readonly bins: readonly { readonly upToS: number; readonly count: number }[];
}

export interface Dropped {
  readonly reason: string;
  readonly count: number;
  readonly what: string;
  /** Address of the last sender; missing if it is not known. */
  readonly from?: string;
}

/** Something to look into before the next show. */
export interface Recommendation {
  readonly what: string;
  readonly act: string;
  /** What it cost: seconds of light that did not follow, or the equivalent. */
  readonly weightS: number;
}
