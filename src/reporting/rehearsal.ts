import { type RehearsalClock, type RehearsedTick, rehearse } from '../rehearsal/rehearse.js';
import type { RehearsalScene } from '../rehearsal/scenes/scene-file.js';
import { truthAt } from '../rehearsal/sensors/truth.js';
import type { Show } from '../show/model/model.js';
import type { Vec3 } from '../stage/vector.js';
import { FlashWatch, type LateFlashes } from './measures/flash-watch.js';
import { type HeadLateness, Lateness, type ZoneLateness } from './measures/lateness.js';
import { type LightDeeds, LightWatch } from './measures/lights.js';
import { PlaceNames } from './measures/places.js';
import {
  type ConditionDeeds,
  type MessageDeeds,
  type SignalDeeds,
  SignalWatch,
} from './measures/signal-watch.js';
import { makeReport } from './report.js';
import { SessionStatistics } from './session-statistics.js';
import type { Report } from './words/report-data.js';

/** The result of a rehearsed scene: what each light did, where it was late, where the watchdog acted. */
export interface RehearsalReport {
  readonly scene: string;
  readonly lengthS: number;
  readonly rounds: number;
  readonly lights: readonly LightDeeds[];
  /** Light that came up late because the flash limit held it back. */
  readonly flashes: LateFlashes;
  /** Length of a step in the level traces of the lights, seconds. */
  readonly traceStepS: number;
  readonly heads: readonly HeadLateness[];
  readonly zones: readonly ZoneLateness[];
  /** The signals that the show file names. */
  readonly signals: readonly SignalDeeds[];
  readonly conditions: readonly ConditionDeeds[];
  /** Messages that receivers would have been sent. */
  readonly messages: readonly MessageDeeds[];
  /** Its times are seconds from the start of the scene. */
  readonly report: Report;
}

export interface RehearsalTaps {
  began?(view: RehearsedTick['view']): void;
  intake?: Parameters<typeof rehearse>[3]['intake'];
  ticked?(tick: RehearsedTick): void;
}

/** Plays the scene to the show and reports the result. */
export function reportRehearsal(
  show: Show,
  scene: RehearsalScene,
  clock: RehearsalClock,
  version: { readonly version: string; readonly node: string },
  at: (atS: number) => string,
  taps: RehearsalTaps = {},
): RehearsalReport {
  const truth = new TrueAt(scene);
  const statistics = new SessionStatistics(show, [], (performer, out) => truth.of(performer, out));
  const lengthS = scene.lengthS * clock.rounds;
  let watches:
    | {
        readonly lateness: Lateness;
        readonly lights: LightWatch;
        readonly flashes: FlashWatch;
        readonly signals: SignalWatch;
      }
    | undefined;
  let last: RehearsedTick | undefined;
  rehearse(show, scene, clock, {
    began: view => {
      taps.began?.(view);
      statistics.begin({ show, view, tickHz: clock.tickHz }, clock.startS);
      watches = {
        lateness: new Lateness(show, scene, view),
        lights: new LightWatch(view, lengthS, clock.tickHz),
        flashes: new FlashWatch(view, show.limits.flashesPerSecond),
        signals: new SignalWatch(view),
      };
    },
    intake: (tick, nowS, datagrams, operator, desk) => {
      taps.intake?.(tick, nowS, datagrams, operator, desk);
      for (const { arrivalS } of datagrams) statistics.ticks.arrived(arrivalS);
    },
    ticked: tick => {
      taps.ticked?.(tick);
      const { view, nowS, sceneS, events } = tick;
      const dtS = last === undefined ? 0 : nowS - last.nowS;
      // The levels of this tick become light a little later.
      truth.atS = sceneS + show.tracking.outputLatencyS;
      statistics.ticked(view, nowS, events, nowS);
      watches?.lateness.ticked(view, sceneS, dtS);
      watches?.flashes.ticked(view, nowS);
      watches?.signals.ticked(view, nowS - clock.startS, dtS, events);
      watches?.lights.ticked(view, nowS - clock.startS, dtS, events);
      last = tick;
    },
  });
  if (last === undefined || watches === undefined) throw new Error('a scene without a tick');
  statistics.countToEnd();
  const { counters } = last.view;
  const names = new PlaceNames(show);
  const report = makeReport(
    statistics,
    {
      ...version,
      fromS: clock.startS,
      toS: last.nowS,
      unixOffsetS: clock.unixOffsetS,
      notes: [],
      at,
      counts: counters,
      absent: absentFrom(show, scene),
    },
    (x, y) => names.of(x, y),
  );
  return {
    scene: scene.name,
    lengthS: scene.lengthS,
    rounds: clock.rounds,
    lights: watches.lights.deeds(last.view),
    flashes: watches.flashes.late(),
    traceStepS: watches.lights.stepS,
    heads: watches.lateness.heads(),
    zones: watches.lateness.zones(),
    signals: watches.signals.signals(),
    conditions: watches.signals.conditions(),
    messages: watches.signals.messages(),
    report,
  };
}

/** Where the people of the scene really are. */
class TrueAt {
  atS = 0;
  readonly #hints: number[];

  constructor(private readonly scene: RehearsalScene) {
    this.#hints = scene.parts.map(() => 0);
  }

  of(performer: number, out: Vec3): boolean {
    const i = this.scene.parts.findIndex(one => one.performer === performer);
    const part = this.scene.parts[i];
    if (part === undefined) return false;
    this.#hints[i] = truthAt(part.truth, this.atS, this.#hints[i] ?? 0, out);
    return true;
  }
}

function absentFrom(show: Show, { parts }: RehearsalScene): ReadonlySet<string> {
  const absent = show.performers.filter((_, i) => !parts.some(({ performer }) => performer === i));
  return new Set(absent.map(({ name }) => name));
}
