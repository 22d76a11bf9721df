import type { Show } from '../../show/model/model.js';
import { createPeople, STANDING } from '../../signals/doubt.js';
import { createNetwork, type Network, stepNetwork } from '../../signals/network.js';
import type { Scene } from '../../signals/scene.js';
import type { EngineEvent } from '../events/events.js';
import type { Watched, WatchedPerformer } from '../people/watch.js';
import type { Presences } from '../people/zones.js';
import type { Reception } from '../reports/receive.js';
import type { TrackedPerformer, Tracks } from '../reports/tracks.js';

/** Signals and conditions as they stand. */
export interface Signals {
  readonly network: Network;
  /** Their inputs, refilled in each tick. */
  readonly scene: Scene;
  /** Signals that come in by OSC. */
  readonly heard: readonly HeardSignal[];
  /** Time of the first tick, monotonic seconds; NaN before it. */
  beganS: number;
}

interface HeardSignal {
  readonly at: number;
  readonly name: string;
  readonly timeoutS: number;
  /** What the last event said; at the start a signal counts as heard, so that its first value is no news. */
  saidSilent: boolean;
}

export function createSignals(
  { signals: set, zones, performers, watchdog }: Show,
  presences: Presences,
  { numbers }: Reception,
): Signals {
  const heard = set.signals.flatMap(({ source, name }, at): HeardSignal[] =>
    source.kind === 'osc' ? [{ at, name, timeoutS: source.timeoutS, saidSilent: false }] : [],
  );
  return {
    network: createNetwork(set, zones),
    scene: {
      people: createPeople(performers.length),
      presences: presences.zones.map(zone => zone.presences),
      nearby: presences.nearby,
      numbers,
      elapsedS: 0,
      nowS: 0,
      silentFadeS: watchdog.feedSilent.fadeS,
    },
    heard,
    beganS: Number.NaN,
  };
}

/** Estimates, presences, numbers received -> the value or range of each signal; the state of each condition. */
export function stepSignals(
  signals: Signals,
  tracks: Tracks,
  watched: Watched,
  nowS: number,
  dtS: number,
  events: EngineEvent[],
): void {
  const { network, scene } = signals;
  if (network.nodes.length === 0) return;
  if (Number.isNaN(signals.beganS)) signals.beganS = nowS;
  scene.nowS = nowS;
  scene.elapsedS = nowS - signals.beganS;
  const { x, y, z, vx, vy, standing, fadeS, afresh } = scene.people;
  let areAllThere = true;
  for (let p = 0; p < standing.length; p++) {
    const { estimate } = tracks.performers[p] as TrackedPerformer;
    const { follows, isKnown, startsAfresh, watch } = watched.performers[p] as WatchedPerformer;
    standing[p] = follows ? STANDING.known : isKnown ? STANDING.away : STANDING.lost;
    fadeS[p] = watch.fadeS;
    afresh[p] = startsAfresh ? 1 : 0;
    if (!follows || startsAfresh) areAllThere = false;
    x[p] = estimate.x;
    y[p] = estimate.y;
    z[p] = estimate.z;
    vx[p] = estimate.vx;
    vy[p] = estimate.vy;
  }
  scene.people.areAllThere = areAllThere;
  stepNetwork(network, scene, dtS);
  for (const one of signals.heard) tellSilence(one, scene, signals.beganS, events);
}

/** Until it is first heard, its timeout runs from the first tick. */
function tellSilence(
  one: HeardSignal,
  { numbers, nowS }: Scene,
  beganS: number,
  events: EngineEvent[],
): void {
  const heardS = numbers.heardS[one.at] as number;
  const silentForS = nowS - Math.max(heardS, beganS);
  const silent = silentForS > one.timeoutS;
  if (silent === one.saidSilent) return;
  one.saidSilent = silent;
  const never = heardS === Number.NEGATIVE_INFINITY ? { neverHeard: true as const } : {};
  events.push({ kind: 'signal', signal: one.name, silent, silentForS, ...never });
}
