import type { Show } from '../show/model/model.js';
import { whole } from '../stage/in-parts.js';
import { type Actions, createActions } from './cues/actions.js';
import { type Cues, createCues } from './cues/cues.js';
import { createSignals, type Signals } from './cues/signals.js';
import { createDesk, type Desk } from './desk.js';
import { createOrders, type Orders } from './events/orders.js';
import { createDeskGround, type DeskGround } from './ground.js';
import { type Aims, createAims } from './heads/aim.js';
import { createChoices } from './heads/choices.js';
import type { Choices } from './heads/chooser.js';
import { createKeepOuts, type KeepOuts } from './heads/keep-out.js';
import { type Crossfades, createCrossfades, weighCrossfades } from './light/crossfade.js';
import { type CueAsks, createCueAsks } from './light/cue-asks.js';
import type { Explaining } from './light/explaining.js';
import { createFades, type Fades } from './light/fades.js';
import { createFalling, type Falling } from './light/falling.js';
import { createIntensityAsks, type IntensityAsks } from './light/intensity.js';
import { createMappings, type Mappings } from './light/map.js';
import { createPatch, type Patch } from './light/patch.js';
import type { ReloadFade } from './light/reload-fade.js';
import { createWishes, type Wishes } from './light/wishes.js';
import { createHazards, type Hazards } from './operator/hazards.js';
import { createHighlight, type Highlight } from './operator/highlight.js';
import { createOffStage, type OffStage } from './people/off-stage.js';
import { createTrackerWatch, type TrackerWatch } from './people/tracker-watch.js';
import { createWatched, type Watched } from './people/watch.js';
import { createPresences, type Presences } from './people/zones.js';
import { createReception, type Reception } from './reports/receive.js';
import { createRoster, type Roster } from './reports/roster.js';
import { createTracks, type Tracks } from './reports/tracks.js';
import { type Counters, createCounters, type DropReason } from './values/counters.js';
import { createLights, type Lights } from './values/lights.js';

/**
 * The stages of a tick, each with the state it keeps between ticks; see `step`. Each is updated in place, only by the
 * file that made it: copying some thousand numbers forty times a second would make garbage that is collected in the
 * middle of a fade. It is opaque outside the engine: `viewOf` shows it.
 */
export interface Engine {
  readonly show: Show;
  /** Of the last tick, monotonic seconds; undefined before the first. */
  lastTickS: number | undefined;
  /** An order that arrived between these times may have waited more than 3 s, monotonic seconds; NaN before any stall. */
  readonly stall: { fromS: number; untilS: number };
  /** Each stage counts its own. */
  readonly counters: Counters;
  readonly roster: Roster;
  readonly orders: Orders;
  readonly reception: Reception;
  readonly desk: Desk;
  readonly ground: DeskGround;
  readonly tracks: Tracks;
  readonly trackerWatch: TrackerWatch;
  readonly offStage: OffStage;
  readonly watched: Watched;
  /** For each performer 1 while a fixture still shows light for them: the fades write it for the next tick's watch. */
  readonly shown: Uint8Array;
  readonly presences: Presences;
  readonly signals: Signals;
  readonly lights: Lights;
  readonly cues: Cues;
  readonly actions: Actions;
  readonly crossfades: Crossfades;
  readonly mappings: Mappings;
  readonly asks: IntensityAsks;
  readonly cueAsks: CueAsks;
  readonly wishes: Wishes;
  readonly hazards: Hazards;
  readonly fades: Fades;
  /** Lights that a loss takes down: the supervisor needs it while it gives the light back. */
  readonly falling: Falling;
  readonly aims: Aims;
  readonly keepOuts: KeepOuts;
  readonly highlight: Highlight;
  readonly choices: Choices;
  /** The crossfade from the light of the old show to that of this one. */
  reloadFade: ReloadFade | undefined;
  readonly patch: Patch;
  /** Only where somebody asked why values are what they are. */
  explaining: Explaining | undefined;
}

export function createEngine(show: Show): Engine {
  return whole(engineInParts(show));
}

/** The same in steps, so that the caller can do other work in between: for a large house this takes more than a tick. */
export function* engineInParts(show: Show): Generator<undefined, Engine> {
  const counters = createCounters();
  const roster = createRoster(show);
  const tracks = createTracks(show, counters);
  yield;
  const presences = createPresences(show);
  yield;
  const lights = yield* createLights(show);
  yield;
  const cues = yield* createCues(show, lights);
  yield;
  const crossfades = yield* createCrossfades(show, lights);
  yield;
  if (cues.on >= 0) weighCrossfades(crossfades, cues);
  const watched = createWatched(show);
  yield;
  const mappings = yield* createMappings(show, presences, lights, crossfades, watched);
  yield;
  const reception = createReception(show, roster, counters);
  yield;
  const wishes = yield* createWishes(mappings, lights, crossfades);
  yield;
  const asks = yield* createIntensityAsks(mappings, lights, crossfades, wishes);
  yield;
  const fades = createFades(show, lights);
  yield;
  const aims = yield* createAims(show, lights, tracks);
  yield;
  const signals = createSignals(show, presences, reception);
  yield;
  const hazards = createHazards(show, lights);
  yield;
  const keepOuts = createKeepOuts(show, lights, aims);
  yield;
  const choices = createChoices(show, mappings, tracks);
  yield;
  const patch = createPatch(show, lights);
  yield;
  return {
    show,
    lastTickS: undefined,
    stall: { fromS: Number.NaN, untilS: Number.NaN },
    counters,
    roster,
    orders: createOrders(show),
    reception,
    desk: createDesk(show, reception),
    ground: createDeskGround(show, lights),
    tracks,
    trackerWatch: createTrackerWatch(show, roster),
    offStage: createOffStage(show),
    watched,
    shown: new Uint8Array(show.performers.length),
    presences,
    signals,
    lights,
    cues,
    actions: createActions(show, counters),
    crossfades,
    mappings,
    asks,
    cueAsks: createCueAsks(),
    wishes,
    hazards,
    fades,
    falling: createFalling(lights),
    aims,
    keepOuts,
    highlight: createHighlight(lights),
    choices,
    reloadFade: undefined,
    patch,
    explaining: undefined,
  };
}

/** Counts what the kernel dropped. @param socket in words */
export function countOverflow({ counters }: Engine, socket: string, amount: number): void {
  counters.drops['socket-full'] += amount;
  counters.fullSockets[socket] = (counters.fullSockets[socket] ?? 0) + amount;
}

/** Counts what was dropped before it reached the engine. */
export function countDrops(
  { counters }: Engine,
  reason: DropReason,
  amount: number,
  from?: string,
): void {
  counters.drops[reason] += amount;
  if (from !== undefined) counters.latestFrom[reason] = from;
}
