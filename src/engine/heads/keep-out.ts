import { clearance, type HeadKeepOut } from '../../fixtures/keep-out.js';
import { AXIS } from '../../fixtures/motion.js';
import { hasArrived, POINTING, type Pointing, placeHead } from '../../fixtures/pointing.js';
import type { SafeFadeStage } from '../../safety/fade-to-safe.js';
import { keepOutOf } from '../../show/model/keep-out.js';
import type { FixturePlan, Show } from '../../show/model/model.js';
import type { EngineEvent } from '../events/events.js';
import type { Fades } from '../light/fades.js';
import { isLit, type Lights } from '../values/lights.js';
import type { Aims } from './aim.js';
import { radians } from './heads.js';

/**
 * Heads that may not shine everywhere. A head whose beam would touch a keep-out stays where it is while its light
 * goes out, moves on in the dark, and comes up once it is clear: one more reason for a turn in the dark. The
 * supervisor checks again, at the slots (safety/beam-gate.ts).
 */
export interface KeepOuts {
  readonly sections: readonly (readonly KeptHead[])[];
  /** For each light the keep-out that it is dark for, -1 for none; and where it waits until its beam is clear. */
  readonly barredBy: Int32Array;
}

interface KeptHead {
  readonly light: number;
  readonly plan: FixturePlan;
  readonly keepOut: HeadKeepOut;
  readonly pointing: Pointing;
  /** Of its channels in the arrays by channel; zoom is -1 where there is none. */
  readonly panAt: number;
  readonly tiltAt: number;
  readonly zoomAt: number;
  /** Time since its beam last touched anything, seconds. */
  clearForS: number;
  /** Index of the keep-out that its beam touches, or would, lit; -1 for none. */
  touches: number;
  /** What was last reported. */
  toldBy: number;
}

/** A lit beam comes no nearer than this: half a degree, 9 cm at 10 m; the real head may be off by as much. */
const MARGIN_RAD = 0.5 * (Math.PI / 180);
/** It comes up again only this far away, so that somebody at the edge does not make it flicker. */
const COMES_UP_RAD = 1.5 * (Math.PI / 180);
/** And only after this long, beyond the lag of the head, seconds. */
const COMES_UP_AFTER_S = 0.5;

export function createKeepOuts(show: Show, lights: Lights, { pointings }: Aims): KeepOuts {
  const headOf = (light: number): KeptHead[] => {
    const [keepOut, pointing, plan] = [
      keepOutOf(show, light),
      pointings[light],
      show.fixtures[light],
    ];
    if (keepOut === undefined || pointing === undefined || plan === undefined) return [];
    const first = lights.start[light] as number;
    const { zoom } = keepOut.field;
    return [
      {
        light,
        plan,
        keepOut,
        pointing,
        panAt: first + plan.panChannel,
        tiltAt: first + plan.tiltChannel,
        zoomAt: zoom < 0 ? -1 : first + zoom,
        clearForS: 0,
        touches: -1,
        toldBy: -1,
      },
    ];
  };
  return {
    sections: lights.sections.map(section => [...section].flatMap(headOf)),
    barredBy: new Int32Array(show.fixtures.length).fill(-1),
  };
}

/**
 * After the aim, before the guard: where a lit beam would touch, the head stays where it is and goes dark.
 * @param fades of the last tick; the turns of `aims` are begun by the guard
 */
export function keepClear(
  { sections, barredBy }: KeepOuts,
  section: number,
  { turns }: Pick<Aims, 'turns'>,
  fades: Fades,
  lights: Lights,
  show: Pick<Show, 'keepOuts'>,
  dtS: number,
  events: EngineEvent[],
): void {
  for (const head of sections[section] as readonly KeptHead[]) {
    const { light } = head;
    const safeFade = fades.safeFades[light];
    // A head that no mapping touches stands at its base aim; the supervisor holds it dark there.
    if (safeFade === undefined) continue;
    const clear = clearNow(head, lights, safeFade.stage);
    head.clearForS = clear < COMES_UP_RAD ? 0 : head.clearForS + dtS;
    head.touches = clear < COMES_UP_RAD ? head.keepOut.nearest : -1;
    const mayRise = head.clearForS >= COMES_UP_AFTER_S + head.plan.lagS;
    if (showsLive(safeFade.stage)) {
      if (clear - stopsIn(head) < MARGIN_RAD) {
        stay(head, lights);
        if (!turns.includes(light)) turns.push(light);
        barredBy[light] = head.keepOut.nearest;
      } else barredBy[light] = -1;
    } else if (safeFade.stage !== 'fading') {
      const staysDark = isAtSafe(safeFade.stage) && fades.safeIsDark[light] === true;
      const waits =
        !staysDark && !mayRise && (clear < COMES_UP_RAD || (barredBy[light] as number) >= 0);
      barredBy[light] = waits ? head.keepOut.nearest : -1;
    }
    // A head that is dark, or not asked for light, passes through without a report; if it stops there, that is reported.
    const shows =
      isLit(lights, light) ||
      ((lights.asked[light] as number) > 0 &&
        safeFade.stage === 'to-live' &&
        hasArrived(head.pointing));
    tell(head, barredBy[light] as number, show, shows, events);
  }
}

function isAtSafe(stage: SafeFadeStage): boolean {
  return stage === 'to-safe' || stage === 'safe';
}

function showsLive(stage: SafeFadeStage): boolean {
  return stage === 'live' || stage === 'rising';
}

/** Angle between its beam, as about to be sent, and the nearest keep-out, radians. */
function clearNow(head: KeptHead, lights: Lights, stage: SafeFadeStage): number {
  const { keepOut, pointing, zoomAt } = head;
  const { wanted, safe } = lights;
  const { numbers, at } = pointing;
  const pan = numbers[at + POINTING.pan + AXIS.position] as number;
  const tilt = numbers[at + POINTING.tilt + AXIS.position] as number;
  const zoom = zoomAt < 0 ? 0 : ((isAtSafe(stage) ? safe : wanted)[zoomAt] as number);
  return clearance(keepOut, pan, tilt, zoom, 2 * COMES_UP_RAD + stopsIn(head));
}

/** Farthest that the head can run on when it is stopped, radians: v^2 / 2a of each axis, pan as if it were square to the beam. */
function stopsIn({ pointing: { numbers, at, motion } }: KeptHead): number {
  const pan = numbers[at + POINTING.pan + AXIS.velocity] as number;
  const tilt = numbers[at + POINTING.tilt + AXIS.velocity] as number;
  return (
    (pan * pan) / (2 * motion.pan.acceleration) + (tilt * tilt) / (2 * motion.tilt.acceleration)
  );
}

/** The last Aim and Zoom sent, which were clear. */
function stay({ pointing, panAt, tiltAt, zoomAt }: KeptHead, { wanted, out }: Lights): void {
  const [pan, tilt] = [out[panAt] as number, out[tiltAt] as number];
  wanted[panAt] = pan;
  wanted[tiltAt] = tilt;
  if (zoomAt >= 0) wanted[zoomAt] = out[zoomAt] as number;
  placeHead(pointing, radians(pan), radians(tilt));
}

/** Reported once each time it goes dark, or comes up again. */
function tell(
  head: KeptHead,
  by: number,
  { keepOuts }: Pick<Show, 'keepOuts'>,
  shows: boolean,
  events: EngineEvent[],
): void {
  if (by >= 0 === head.toldBy >= 0) return;
  if (by >= 0 && !shows) return;
  const name = keepOuts[by >= 0 ? by : head.toldBy]?.name ?? '';
  head.toldBy = by;
  events.push({ kind: 'keep-out', fixture: head.plan.name, keepOut: name, barred: by >= 0 });
}

/** What is known of one keep-out. */
export function keptHead({ sections }: KeepOuts, light: number): KeptHead | undefined {
  return sections.flat().find(one => one.light === light);
}

/** Whether a dark head may come up where it is now. */
export function mayComeUp({ barredBy }: KeepOuts, light: number): boolean {
  return barredBy[light] === -1;
}

/**
 * Index of the keep-out that its beam would touch if it were lit now; -1 for none. The supervisor knows this for
 * heads that no mapping touches.
 */
export function wouldTouch(
  keepOuts: KeepOuts,
  light: number,
  { safeFades }: Pick<Fades, 'safeFades'>,
): number {
  return safeFades[light] === undefined ? -1 : (keptHead(keepOuts, light)?.touches ?? -1);
}
