import type { DelayHistogram } from '../../live/light-delays.js';
import type { PairStatus } from '../../live/pair-words.js';
import type { Refusal } from '../../live/turned-away.js';
import type { FallbackPhase } from '../../safety/fallback.js';
import type { HeardBut } from '../../safety/heard-but.js';
import type { Phase } from '../../safety/watchdog.js';
import type { Condition } from '../../safety/watchdog-table.js';
import type { DeskSlot } from '../../sheets/desk-chart.js';
import type { ConfidencePart } from '../../tracking/confidence.js';

/** The state of the daemon at one moment: plain data, for people and for programs. Times are ISO 8601, UTC. */
export interface Status {
  readonly show: string;
  /**
   * What the stage shows. `safe look`: everything is at it, or on its way there; `partly`: some of it. `not sent`: nothing
   * leaves this machine. `other machine`: receivers take the light of the other machine of a pair.
   */
  readonly light: 'live' | 'partly' | 'safe look' | 'not sent' | 'other machine';
  /** Labels of fixtures that do not change in this cue when everybody on stage is lost or stopped. */
  readonly leftAlone: readonly string[];
  /** Label of the fixture or group that is highlighted; undefined: none. */
  readonly highlighted: string | undefined;
  /** The cue that is on, or coming, and since when; undefined in a show without cues. */
  readonly cue:
    | { readonly name: string; readonly label: string; readonly since: string }
    | undefined;
  /** Positions are played, and nobody is on stage: what, and since when; undefined: nobody has said so. */
  readonly rehearsal: { readonly what: string; readonly since: string } | undefined;
  /** The role of this machine, if two run this show; undefined: no other machine was heard. */
  readonly pair: PairStatus | undefined;
  /** What the supervisor does with all light: `live` while it sends what the engine says. */
  readonly supervisor: {
    readonly phase: FallbackPhase;
    readonly cause: string;
    readonly since: string;
  };
  readonly engine: { readonly pid: number | undefined; readonly since: string };
  readonly performers: readonly PerformerStatus[];
  /** Heads that choose whom they are on, in the order of the show. */
  readonly heads: readonly HeadStatus[];
  readonly stops: {
    readonly everybody: boolean;
    /** Who stopped everybody, in words; missing: not known. */
    readonly by?: string;
    readonly performers: readonly string[];
    readonly performerLabels: readonly string[];
  };
  /** Hazardous outputs that are on, as their enable is held: "hazer (atmospheric)". */
  readonly hazardsOn: readonly string[];
  readonly feed: {
    readonly silent: boolean;
    readonly since: string;
    /** In the last second. */
    readonly positionsPerS: number;
    readonly datagramsPerS: number;
    /** Input that was dropped; the log has the reason. */
    readonly droppedPerS: number;
  };
  /** undefined: nobody asked for it to be watched, or it is heard. */
  readonly deskLostSince: string | undefined;
  /** Trackers that are silent while others of their performer are heard. */
  readonly silentTrackers: readonly {
    readonly tracker: string;
    readonly performer: string;
    readonly performerLabel: string;
    readonly since: string;
  }[];
  /** Trackers that repeat the same position: they are ignored until they move. */
  readonly frozenTrackers: Status['silentTrackers'];
  /** Trackers of one performer that are too far apart for one body: the two farthest, and how far they were. */
  readonly apartTrackers: readonly {
    readonly performer: string;
    readonly performerLabel: string;
    readonly trackers: readonly string[];
    readonly apartM: number;
    readonly since: string;
  }[];
  readonly lowBatteries: readonly {
    readonly tracker: string;
    /** Missing of a spare. */
    readonly performer?: string;
    readonly performerLabel?: string;
    /** 0..1 */
    readonly charge: number;
    readonly since: string;
  }[];
  /** Universes of the desk. */
  readonly desk: readonly DeskStatus[];
  readonly outputs: readonly OutputStatus[];
  /** Names of fixtures whose universe is not being sent, although an output of this machine should send it. */
  readonly notSent: readonly string[];
  /** Names of those that other machines send (--outputs). */
  readonly outputsElsewhere: readonly string[];
  /** What the panel has turned away since its process started, by reason. */
  readonly turnedAway: readonly {
    readonly reason: Refusal;
    readonly count: number;
    /** In the last ten minutes. */
    readonly recent: number;
    /** Who sent the last one, and when. */
    readonly from?: string;
    readonly last: string;
  }[];
  /** Receivers of positions. */
  readonly positions: readonly PositionsStatus[];
  /** From the sensor to the last packet, by part; bins are those of `DELAY_BINS_S`. */
  readonly delays: readonly DelayHistogram[];
  /** What is wrong, for as long as it lasts, each in a sentence. */
  readonly troubles: readonly { readonly what: string; readonly since: string }[];
}

export interface PerformerStatus {
  readonly name: string;
  /** What people call them. */
  readonly label: string;
  /**
   * `not heard`: never since the engine started; who was on stage before it started and does not come back is `lost`.
   * `stopped`: by an operator, whatever the tracking does. `off stage`:
   * absent, and not lost.
   */
  readonly state: 'live' | 'returning' | 'lost' | 'not heard' | 'stopped' | 'off stage';
  readonly phase: Phase;
  readonly cause: Condition | undefined;
  readonly since: string;
  /** If `not heard`: their positions do come, but are not followed for this reason. */
  readonly heardBut?: HeardBut;
  /** If stopped: who asked for it, in words; missing: not known. */
  readonly stoppedBy?: string;
  /** If `lost` for want of confidence: what is lowest in it, within a second. */
  readonly doubt?: ConfidencePart;
  /** The last of their trackers has been taken off. */
  readonly wearsNone?: true;
}

export interface HeadStatus {
  readonly fixture: string;
  readonly label: string;
  /** Missing: it is on nobody. */
  readonly performer?: string;
  readonly performerLabel?: string;
  /** In this cue it chooses nobody, and follows by this mapping. */
  readonly mapping?: string;
  /** It is pinned to them, whether it is on them or waits for them. */
  readonly pinnedTo?: string;
  readonly since: string;
}

export interface DeskStatus {
  readonly name: string;
  readonly protocol: 'sacn' | 'artnet';
  readonly universe: number;
  readonly interface: string;
  readonly state: 'heard' | 'gone' | 'not heard';
  readonly since: string;
  /** Who sends it; among several the priority decides, then the highest level. */
  readonly sources: readonly {
    readonly name: string;
    readonly address: string;
    readonly priority: number | undefined;
    /** Its levels count. */
    readonly leads: boolean;
  }[];
  /** If it is gone: what happens to its levels. */
  readonly gone?: string;
  /** Universe of the show that lies on it. */
  readonly ground?: number;
  /** What its slots drive and order, and what each does when the desk is gone. */
  readonly slots: readonly DeskSlot[];
  /** Why it can't be heard; undefined: nothing prevents it. */
  readonly trouble: string | undefined;
}

export interface PositionsStatus {
  readonly name: string;
  readonly protocol: 'osc' | 'psn';
  /** Name of the receiver, and where it is: 10.0.0.5:9050. */
  readonly receiver: string;
  readonly to: string;
  readonly rateHz: number;
  readonly aheadS: number;
  /** Why nothing leaves; undefined while all is well. */
  readonly trouble: string | undefined;
}

export interface OutputStatus {
  readonly name: string;
  readonly protocol: 'sacn' | 'artnet';
  readonly interface: string;
  readonly universes: readonly number[];
  /** Why nothing leaves; undefined while all is well. */
  readonly trouble: string | undefined;
  /** Art-Net that is left to the other machine of a pair, or waits until it is known whether that is there. */
  readonly heldBack?: true;
  /** Since when nothing leaves. */
  readonly since?: string;
}
