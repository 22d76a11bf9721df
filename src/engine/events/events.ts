import type { EnabledClass } from '../../protocols/osc/orders.js';
import type { GateState } from '../../safety/enable.js';
import type { HeardBut } from '../../safety/heard-but.js';
import type { Phase } from '../../safety/watchdog.js';
import type { Condition, PerformerCondition } from '../../safety/watchdog-table.js';
import type { IdlePin } from '../../show/model/choosing-heads.js';
import type { Whereabouts } from '../reports/whereabouts.js';
import type { EnableReason } from '../values/enable-reasons.js';
import type { OperatorAction, OperatorCause } from '../values/operator-action.js';
import type { StageState } from '../values/stage-state.js';

/** A highlighted fixture that stays dark, and the keep-out that its beam would touch. */
export interface KeptDark {
  readonly fixture: string;
  readonly keepOut: string;
}

/** A hazardous output that stays at its safe values although its fixture is highlighted or its enable is held, and why. */
export interface KeptOff extends EnabledOutput {
  readonly reason: EnableReason;
}

/** A highlighted fixture that stays dark because one of its shutters is closed. */
export interface KeptShut {
  /** For a cell, its fixture. */
  readonly fixture: string;
  readonly attribute: string;
  /** The profile's own highlight has it closed; if false, the profile has no highlight for it. */
  readonly byHighlight: boolean;
}

/** Whose light does not come back after a stop, and why. */
export interface KeptAway {
  readonly performer: string;
  readonly cause: PerformerCondition;
  /** Nobody can hear them. */
  readonly wearsNone?: true;
}

/** The parts of a highlight that don't show; the outputs that stay off while an enable is held. */
export interface Kept {
  /** Where it points now. */
  readonly keptDark?: readonly KeptDark[];
  /** As the enables are now. */
  readonly keptOff?: readonly KeptOff[];
  /** As the shutters are now. */
  readonly keptShut?: readonly KeptShut[];
}

/** What happened in a tick that people want to know about, now or afterwards. */
export type EngineEvent =
  | {
      readonly kind: 'performer';
      readonly performer: string;
      readonly from: Phase;
      readonly to: Phase;
      readonly cause: Condition | undefined;
      /** Since the performer was last heard, seconds. */
      readonly silentForS: number;
      readonly confidence: number;
      /** Nobody can hear them: the last of their trackers has been taken off. */
      readonly wearsNone?: true;
    }
  /** They are known to be off stage, or were heard on it again: everybody for whom the rest of the event is the same. */
  | {
      readonly kind: 'off-stage';
      readonly performers: readonly string[];
      /** `leaving`: sent off, and still heard on the stage. */
      readonly state: StageState;
      /** The exit by which they left. */
      readonly exit?: string;
      /** Why, and by whom, if it was ordered. */
      readonly cause?: OperatorCause;
      readonly by?: string;
    }
  | {
      readonly kind: 'feed';
      readonly silent: boolean;
      /** Whose light it took. */
      readonly performers: readonly string[];
      /** No position of anybody had come in since the engine started. */
      readonly neverHeard?: true;
    }
  /** A signal that comes in by OSC is not heard for its timeout, or is heard again. */
  | {
      readonly kind: 'signal';
      readonly signal: string;
      readonly silent: boolean;
      /** How long ago, when it was noticed; for a signal never heard, since the engine started; seconds. */
      readonly silentForS: number;
      readonly neverHeard?: true;
    }
  | {
      readonly kind: 'zone';
      readonly performer: string;
      readonly zone: string;
      readonly inside: boolean;
    }
  /** A head was pinned to this performer, or unpinned (undefined); `reason`: by another show. */
  | {
      readonly kind: 'pin';
      readonly fixture: string;
      readonly performer: string | undefined;
      readonly reason?: 'reload';
      readonly cause: OperatorCause;
      readonly by?: string | undefined;
    }
  /** Mappings of this title are turned off by an operator, or act again. */
  | {
      readonly kind: 'mapping';
      readonly mapping: string;
      readonly off: boolean;
      readonly cause: OperatorCause;
      readonly by?: string | undefined;
    }
  /** A fixture or a group is highlighted, or no longer; `reason`: why it ended by itself. */
  | ({
      readonly kind: 'highlight';
      readonly fixture: string;
      readonly on: boolean;
      readonly reason?:
        | 'time'
        | 'stopped'
        | 'tracked'
        | 'stalled'
        | 'replaced'
        | 'engine-ended'
        | 'reload';
      readonly cause?: OperatorCause;
      readonly by?: string;
    } & Kept)
  /** Another cue is on: the light crossfades to it. */
  | {
      readonly kind: 'cue';
      readonly cue: string;
      readonly previous: string;
      /** How long the crossfade takes, seconds. */
      readonly fadeS: number;
      readonly cause: OperatorCause;
      readonly by?: string | undefined;
    }
  | ({
      readonly kind: 'tracker';
      readonly tracker: string;
      readonly performer: string;
      readonly change: 'assigned' | 'unassigned';
      /** Who wore it until it was given to somebody else. */
      readonly takenFrom?: string | undefined;
      readonly cause: OperatorCause;
      readonly by?: string | undefined;
    } & Whereabouts)
  /**
   * One tracker of a performer who wears several has fallen silent, or is heard again, while another of theirs is
   * heard. When none is heard the performer is lost, and that is reported instead. A frozen tracker that falls silent
   * is always reported: it is no longer frozen.
   */
  | {
      readonly kind: 'tracker-contact';
      readonly tracker: string;
      readonly performer: string;
      readonly heard: boolean;
      /** Since it was last heard, seconds; undefined: never since the engine started. */
      readonly silentForS?: number | undefined;
      /** For a tracker heard again: for how long without a break, seconds. */
      readonly heardForS?: number;
      /** Other trackers of the performer that are still heard, and are not frozen. */
      readonly others: readonly string[];
      /** The operator was told that nothing had come from it when it was assigned. */
      readonly told?: true;
    }
  /** A tracker's feed repeats itself to the last bit, which it normally never does, and is treated as silent; or it moves again. */
  | {
      readonly kind: 'tracker-frozen';
      readonly tracker: string;
      readonly performer: string;
      readonly frozen: boolean;
    }
  /** Trackers of one performer are too far apart for one body, or no longer. */
  | {
      readonly kind: 'trackers-apart';
      readonly performer: string;
      /** The two that are farthest apart; empty where they agree again. */
      readonly trackers: readonly string[];
      /** On the floor, metres; 0 where they agree again. */
      readonly apartM: number;
      /** One of them has been taken off: there is nothing left to agree with. */
      readonly wearsOne?: true;
    }
  /** Positions of somebody come in, but the light has never followed them: why; undefined: no longer so. */
  | {
      readonly kind: 'heard-but';
      readonly performer: string;
      readonly but: HeardBut | undefined;
    }
  /** The clock of a tracking system has stepped, and is followed. */
  | {
      readonly kind: 'sensor-clock';
      readonly input: string;
      /** Seconds forward; negative: back. */
      readonly steppedS: number;
    }
  /** The battery of a tracker, worn or spare, is low, or has been charged. */
  | {
      readonly kind: 'battery';
      readonly tracker: string;
      /** Who wears it; undefined for a spare. */
      readonly performer?: string | undefined;
      readonly low: boolean;
      /** Charge left, as the tracker says, 0..1. */
      readonly charge: number;
    }
  /** A tracker gives a charge outside 0..1; reported once, because the whole feed does it. */
  | {
      readonly kind: 'battery-unit';
      readonly tracker: string;
      readonly performer?: string | undefined;
      /** The charge that it gave. */
      readonly charge: number;
    }
  | {
      readonly kind: 'operator-refused';
      readonly action: OperatorAction;
      /** In a technician's words. */
      readonly reason: string;
    }
  /** A condition or a cue was entered or left, and a receiver is to be told: the shell sends it. */
  | {
      readonly kind: 'action';
      readonly of: 'condition' | 'cue';
      readonly name: string;
      readonly on: 'enter' | 'leave';
      readonly receiver: string;
      /** OSC. */
      readonly address: string;
      readonly args: readonly (number | string | boolean)[];
    }
  /** A condition was entered, or left, and a receiver is to be told when it is left: a restarted engine needs to know. */
  | { readonly kind: 'entered'; readonly condition: string; readonly entered: boolean }
  /** The answer to an action that has an id. */
  | ({
      readonly kind: 'operator-done';
      readonly action: OperatorAction;
      /** False where it was so already. */
      readonly changed: boolean;
      /** Who wore the tracker until now. */
      readonly takenFrom?: string | undefined;
      /** The cue that is on, or coming; undefined in a show without cues. */
      readonly cue?: string | undefined;
      /** Of a pin that changes nothing in the cue that is on, or coming. */
      readonly idlePin?: IdlePin;
      /** Of a pin to somebody who is not tracked now. */
      readonly pinWaits?: true;
      /** They are off stage. */
      readonly pinIsOffStage?: true;
      /** Title of the mapping by which the head follows, where an operator has that off. */
      readonly pinIsDark?: string;
      /** Of a mapping that is on: the cue that is on, or coming, does not name it. */
      readonly notInCue?: true;
      /** For a head that is unpinned in a cue in which it has no choice. */
      readonly unpinned?: IdlePin;
      /** For a resume: whose light does not come back yet, and why; missing: everybody's does. */
      readonly keptAway?: readonly KeptAway[];
      /** For a held enable: nothing of the class comes on; `keptOff` says why. */
      readonly areAllOff?: true;
    } & Stops &
      Whereabouts &
      Kept)
  | ({ readonly kind: 'stopped' } & StopNews)
  | ({ readonly kind: 'resumed' } & StopNews)
  /** The engine stood still for so long that the supervisor has taken the light. */
  | { readonly kind: 'stalled'; readonly stalledS: number }
  /** The desk is heard no longer, or again. */
  | {
      readonly kind: 'desk';
      readonly lost: boolean;
      readonly required: boolean;
      /** Address from which it was last heard. */
      readonly by?: string | undefined;
    }
  /** Hazardous outputs were enabled, switched off, or refused: all for which the rest of it is the same. */
  | {
      readonly kind: 'enable';
      readonly outputs: readonly EnabledOutput[];
      readonly gate: GateState;
      /** They were on until now. */
      readonly wasOn: boolean;
      /** Why they are off or latched off; undefined while they are on. */
      readonly reason: EnableReason | undefined;
      /** Address from which the enable was last heard. */
      readonly by?: string | undefined;
    }
  /** Pan has reached the end of its range: the head goes dark, turns back, and comes up again. */
  | {
      readonly kind: 'turn';
      readonly fixture: string;
      readonly performer: string;
      /** Where pan would have had to go, degrees. */
      readonly panDeg: number;
    }
  /** A head that chooses is on somebody else, or on nobody. */
  | {
      readonly kind: 'hand-over';
      readonly fixture: string;
      /** undefined: nobody. */
      readonly performer: string | undefined;
      readonly previous: string | undefined;
      /** In this cue it chooses nobody, and follows by this mapping; missing: it chooses, or follows nobody. */
      readonly mapping?: string;
    }
  /** A lit head goes dark before its beam touches a keep-out; or it is clear again. */
  | {
      readonly kind: 'keep-out';
      readonly fixture: string;
      readonly keepOut: string;
      readonly barred: boolean;
    }
  | {
      readonly kind: 'reach';
      readonly fixture: string;
      readonly reachable: boolean;
      /** By how much the beam misses the point, degrees. */
      readonly missedByDeg: number;
    };

export interface EnabledOutput {
  readonly fixture: string;
  readonly hazard: EnabledClass;
}

interface StopNews extends Stops {
  /** Those for whom it is new. */
  readonly performers: readonly string[];
  /** Everybody was stopped; or, for `resumed`, nobody is stopped any more. */
  readonly everybody: boolean;
  readonly cause: OperatorCause;
  /** Who asked: an address, or "control socket (user anna)". The last one, if several did in one tick. */
  readonly by?: string | undefined;
  /** After a restart: of those who are stopped, by name, who had asked, where that is known. */
  readonly byOf?: Readonly<Record<string, string>>;
  /** The part of what is stopped after it that only the main machine of a pair has ordered; missing: nothing. */
  readonly toldByMain?: StopsToldByMain;
}

export interface StopsToldByMain {
  readonly everybody: boolean;
  readonly performers: readonly string[];
}

/** What is stopped after it. */
interface Stops {
  readonly stillStopped: readonly string[];
  /** The stop of everybody holds: fixtures that no performer drives stay at their safe values too. */
  readonly stopOfEverybody: boolean;
}
