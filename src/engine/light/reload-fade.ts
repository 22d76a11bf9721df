import {
  createSafeFade,
  movedValue,
  type SafeFade,
  stepSafeFade,
} from '../../safety/fade-to-safe.js';
import { fall, rise } from '../../safety/ramp.js';
import type { WatchedPerformer } from '../people/watch.js';
import { KIND, type Lights } from '../values/lights.js';
import type { CrossfadeGroup, Crossfades } from './crossfade.js';
import type { Fades } from './fades.js';

/**
 * From the light that was out when a new show took over to what that show wants. Fixtures crossfade channel by
 * channel, except pan and tilt: heads that follow somebody go on, and a head with a new aim fades out, moves in the
 * dark and comes up again.
 *
 * It slows no loss: what is left of the old light goes down with the performer's own ramp.
 */
export interface ReloadFade {
  readonly lastsS: number;
  /** 0 at the beginning, 1 when nothing is left of the old light. */
  share: number;
  /** Physical values of each channel as they were out. */
  readonly from: Float64Array;
  /** For each light how much of the old one may still show, 0..1; it only falls. */
  readonly most: Float64Array;
  /** For each light that fades in stages, its live share at the beginning. */
  readonly liveAt: Float64Array;
  /** Other lights go down with the first loss among those who drive them. */
  readonly groups: ReadonlyMap<CrossfadeGroup, GroupFade>;
  /** For each light those who no longer drive it: it goes down with the first loss among them too. */
  readonly formerDriversOf: readonly (FormerDrivers | undefined)[];
  /** All of them, each once. */
  readonly formerDrivers: readonly FormerDriver[];
  /** Lights that no mapping touches now, whether one did before or not, and whose aim changes. */
  readonly movers: readonly Mover[];
  /** Out, over and up again, seconds. */
  readonly turn: { readonly returnS: number; readonly moveS: number };
}

export interface GroupFade {
  /** Level of each of its crossfades at the beginning. */
  readonly began: readonly number[];
  /** The least share of it that any of them has had since. */
  least: number;
}

/** Drivers whose light nobody in the new show takes down; lamps with the same drivers share one. */
export interface FormerDrivers {
  readonly drivers: readonly FormerDriver[];
}

export interface FormerDriver {
  /** Somebody who may still be lost; undefined if they were being lost already. */
  readonly watched: WatchedPerformer | undefined;
  /** Live to safe, seconds; undefined takes that of the cause. */
  readonly fadeS: number | undefined;
  /** Where their light was between safe (0) and live (1); it only falls. */
  ramp: number;
  readonly began: number;
}

export interface Mover {
  readonly light: number;
  readonly safeFade: SafeFade;
}

/** It is fading out, to move in the dark. */
export function createMover(light: number, isLit: boolean): Mover {
  const live = isLit ? 1 : 0;
  return { light, safeFade: { ...createSafeFade(), stage: 'fading', live, safe: 0 } };
}

/** Once a tick, before the sections. @returns whether anything is left to do */
export function stepReloadFade(fade: ReloadFade, dtS: number): boolean {
  if (isOver(fade)) return false;
  for (const [{ crossfades }, group] of fade.groups) {
    for (let i = 0; i < crossfades.length; i++) {
      const began = group.began[i] as number;
      const level = crossfades[i]?.level ?? 0;
      if (began > 0 && level < group.least * began) group.least = level / began;
    }
  }
  for (const one of fade.formerDrivers) {
    const { watched, fadeS } = one;
    if (watched?.isKnown === true) continue;
    one.ramp = fall(one.ramp, dtS, fadeS ?? watched?.watch.fadeS ?? 0);
  }
  fade.share = rise(fade.share, dtS, fade.lastsS);
  return true;
}

function isOver({ share, movers }: ReloadFade): boolean {
  return share === 1 && movers.every(({ safeFade }) => safeFade.stage === 'live');
}

/** After the guard and `steer`: allowed values -> the same mixed with what is left of the old light. */
export function crossOver(
  fade: ReloadFade,
  section: number,
  lights: Lights,
  crossfades: Crossfades,
  fades: Fades,
  dtS: number,
): void {
  const { from, share, movers } = fade;
  const { start, kind, movement, stepped, out } = lights;
  for (const i of lights.sections[section] as Int32Array) {
    const most = Math.min(
      lessThan(fade, i, lights, crossfades, fades),
      leftOf(fade.formerDriversOf[i]),
    );
    const left = (1 - share) * most;
    if (left === 0) continue;
    const moves = kind[i] === KIND.moving;
    const end = start[i + 1] as number;
    for (let c = start[i] as number; c < end; c++) {
      if (moves && movement[c] === 1) continue;
      const was = from[c] as number;
      const is = out[c] as number;
      // A wheel has nothing between two positions.
      if (stepped[c] === 1) out[c] = left > 0.5 ? was : is;
      else out[c] = is + left * (was - is);
    }
  }
  for (const mover of movers) {
    if (!(lights.sections[section] as Int32Array).includes(mover.light)) continue;
    moveInTheDark(fade, mover, lights, dtS);
    fade.most[mover.light] = 0;
  }
}

/** How much of the old light may show: it falls with the trust in lost performers, and never rises. */
function lessThan(
  { most, liveAt, groups }: ReloadFade,
  i: number,
  { kind }: Lights,
  { ofLight }: Crossfades,
  { safeFades }: Fades,
): number {
  const before = most[i] as number;
  const group = ofLight[i];
  if (before === 0 || group === undefined) return before;
  const safeFade = safeFades[i];
  if (kind[i] !== KIND.moving || safeFade === undefined) return groups.get(group)?.least ?? before;
  const began = liveAt[i] as number;
  const isDark = safeFade.stage === 'to-safe' || safeFade.stage === 'to-live';
  if (isDark) most[i] = 0;
  else if (began > 0) most[i] = Math.min(before, safeFade.live / began);
  return most[i] as number;
}

function leftOf(former: FormerDrivers | undefined): number {
  let least = 1;
  if (former === undefined) return least;
  for (const { ramp, began } of former.drivers) least = Math.min(least, ramp / began);
  return least;
}

/** A light without a fade to safe of its own: it holds everything while it goes out, then moves, and comes up. */
function moveInTheDark(fade: ReloadFade, { light, safeFade }: Mover, lights: Lights, dtS: number) {
  if (safeFade.stage === 'live') return;
  const { turn, from } = fade;
  const { start, intensity, out } = lights;
  stepSafeFade(safeFade, true, true, true, dtS, turn.returnS, turn);
  const isGoing = safeFade.stage === 'fading';
  const at = intensity[light] as number;
  const end = start[light + 1] as number;
  for (let c = start[light] as number; c < end; c++) {
    const was = from[c] as number;
    const is = out[c] as number;
    if (c === at) out[c] = safeFade.live * (isGoing ? was : is);
    else out[c] = isGoing ? was : movedValue(safeFade, was, is, is);
  }
}
