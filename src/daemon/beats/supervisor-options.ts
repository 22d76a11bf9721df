import type { EnabledOutput } from '../../engine/events/events.js';
import type { PositionRound } from '../../engine/positions-out.js';
import type { FallbackPhase } from '../../safety/fallback.js';
import type { SupervisorCondition } from '../../safety/watchdog-table.js';
import type { Show } from '../../show/model/model.js';
import type { Problem } from '../../show/problems/problem.js';
import type { DeskEvent } from '../desk/events.js';
import type { EngineCounters } from '../engine/engine-link.js';
import type { EngineRunnerEvent } from '../engine/engine-runner.js';
import type { KeptEvent } from '../files/kept-file.js';
import type { LightRejoined, LightRejoins } from '../levels/rejoin.js';
import type { LightingEvent } from '../lighting/events.js';
import type { KeptStopEvent } from '../memory/kept-stops.js';
import type { StoreEvent } from '../memory/store.js';
import type { Ownership } from '../ownership/ownership.js';
import type { RecordOrders } from '../recorder/orders.js';
import type { HeldLight } from './hold-news.js';
import type { OtherShowEvent, OtherTrackingEvent } from './other-machine.js';
import type { PairChange } from './pair-light.js';

export type SupervisorEvent =
  | {
      readonly kind: 'lights';
      readonly from: FallbackPhase;
      readonly to: FallbackPhase;
      /** In plain words. */
      readonly cause: string;
      /** The row of the watchdog's table; undefined where the light comes back. */
      readonly condition?: SupervisorCondition | 'show-reload' | undefined;
      /** Universes, as the show numbers them, whose light is not at the safe look with the rest: not sent, or only just sent again. */
      readonly except?: readonly number[];
    }
  | EngineRunnerEvent
  /** Hazardous outputs that were on are at their safe values, as the engine has ended. */
  | { readonly kind: 'enables-dropped'; readonly outputs: readonly EnabledOutput[] }
  | { readonly kind: 'lighting'; readonly event: LightingEvent }
  | { readonly kind: 'desk'; readonly event: DeskEvent }
  | StoreEvent
  | KeptStopEvent
  | KeptEvent
  /** Inputs can't listen yet; the safe look is out, and it is tried again. */
  | { readonly kind: 'input-blocked'; readonly problems: readonly string[] }
  /** Each minute: the show that was accepted last runs, as the file has errors. */
  | { readonly kind: 'show-stale'; readonly problems: readonly string[] }
  /** The service manager can't be told how the daemon is. */
  | { readonly kind: 'service-fault'; readonly reason: string }
  /** The flash limit held lamps down that were to rise: which, by the labels of their fixtures. */
  | ({ readonly kind: 'flashes-held' } & HeldLight)
  /** Heads that were to be lit were kept dark at the wire, as their beams would have touched: by their labels. */
  | ({ readonly kind: 'keep-out-held' } & HeldLight)
  /** This process was not run for so long (stopped, or the machine busy): the light goes by way of the safe look. */
  | { readonly kind: 'stood-still'; readonly forS: number }
  /** A reload took out the cue that was on; by their names. Undefined: the show has no cues any more. */
  | { readonly kind: 'cue-gone'; readonly cue: string; readonly on?: string | undefined }
  /** Another show file, or another version of it, takes over by way of its safe look. */
  | {
      readonly kind: 'reloaded';
      readonly show: string;
      /** Time over which it goes on from the present light, seconds; undefined: through its safe look. */
      readonly overS?: number | undefined;
      /** Why it goes by way of its safe look. */
      readonly because?: string | undefined;
      readonly by?: string | undefined;
    }
  /** The file is as the show that runs: nothing was done. */
  | {
      readonly kind: 'reload-unneeded';
      readonly show: string;
      /** Why its engine has not run yet, nor does now; it is tried again. */
      readonly engineFault?: string | undefined;
      readonly by?: string | undefined;
    }
  /** It can't be used; the running show goes on. */
  | {
      readonly kind: 'reload-refused';
      readonly problems: readonly string[];
      /** Its engine could not run: the show before takes its place again. */
      readonly goesBack?: true;
      /** The daemon ends, and no show carries on. */
      readonly ending?: true;
      /** Who asked: "control socket (user anna)", or "SIGHUP". */
      readonly by?: string | undefined;
    }
  /** The show before can't be taken up again either: the new one stands at its safe look, its engine is tried again. */
  | { readonly kind: 'reload-stuck'; readonly show: string; readonly problems: readonly string[] }
  /** Which part this machine plays beside another that runs the same show. */
  | ({ readonly kind: 'pair' } & PairChange)
  | OtherShowEvent
  | OtherTrackingEvent
  /** A supervisor has died on this show just now: the light goes on from there to the safe look. */
  | { readonly kind: 'light-resumed' }
  | LightRejoins
  | LightRejoined
  /** @param what which trackers two or more send at a time, and who; missing: no longer */
  | { readonly kind: 'tracker-senders'; readonly what?: string }
  /** Ahead of everything, the kernel's own work included. */
  | { readonly kind: 'realtime-policy'; readonly policy: string }
  /**
   * @param handsOver the standby has the same light: the streams end without a fade
   * @param waitsS it is to have it when the crossfade of a cue is over, within so many seconds
   */
  | { readonly kind: 'stopping'; readonly handsOver?: true; readonly waitsS?: number }
  | { readonly kind: 'stopped' };

/**
 * The result of a reload: no problem, or all problems; or it went on from the present light; or the same show runs
 * already; or it is the loaded one, and its engine can't run.
 */
export type Reloaded =
  | readonly string[]
  | BySafeLook
  | 'went on'
  | 'already so'
  | { readonly engineFault: string };

/** It is loaded, by way of its safe look: why so, in plain words. */
export interface BySafeLook {
  readonly because: string;
}

/** A show as it was read. */
export interface ReadShow {
  readonly show: Show;
  /** The text that the show was read from: for the record, and the next start. */
  readonly text: string;
  readonly file: string;
  /** The show in parts, see `packShow`; where whoever read it has packed it. */
  readonly packed?: readonly Uint8Array[] | undefined;
  /** Where it names an interface or address that this machine doesn't have; where whoever read it has looked. */
  readonly missing?: readonly Problem[] | undefined;
}

export interface SupervisorOptions extends ReadShow {
  readonly traceTicks: boolean;
  /** Where the engine is to record; undefined: nowhere. */
  readonly record?: RecordOrders | undefined;
  /** The second machine of two that run one show. */
  readonly standby?: boolean;
  /** Where what people change is kept for the next start; undefined: nowhere. */
  readonly stateFolder?: string | undefined;
  /** A folder in memory, where what is sent is kept for a supervisor that is started after a crash. */
  readonly runtimeFolder?: string | undefined;
  /**
   * What is missing at the start, a lighting interface or a port to listen on, does not end it: the safe look
   * stays out on what there is, and it is tried again.
   */
  readonly startsAnyway?: boolean;
  /** The show is the one that was accepted last, as its file has errors: which. */
  readonly staleBecause?: readonly string[];
  /** What only this process may use; taken by whoever starts it, or at the start. */
  readonly ownership?: Ownership;
  /** An engine process is about to be started: spare descriptors are to be given back. */
  readonly onEngineStarts?: (() => void) | undefined;
  onEvent(event: SupervisorEvent): void;
  onCounters(counters: EngineCounters): void;
  /** JSON of a `LiveEngine`, as often as `look` asked for. */
  onSnapshot?(text: string): void;
  /** Where people are, for others; undefined: nobody is told. */
  onPositions?(rounds: readonly PositionRound[]): void;
}
