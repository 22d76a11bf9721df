import { hasArrived, hasSettled } from '../fixtures/pointing.js';
import { movedValue, type SafeFade, steppedValue } from '../safety/fade-to-safe.js';
import type { Show } from '../show/model/model.js';
import type { Aims } from './heads/aim.js';
import { type KeepOuts, mayComeUp } from './heads/keep-out.js';
import { type CrossfadeGroup, type Crossfades, goesLive, governorOf } from './light/crossfade.js';
import { mix } from './light/cue-asks.js';
import { beginTurns, type Fades, stepFade } from './light/fades.js';
import type { Highlight } from './operator/highlight.js';
import type { Watched } from './people/watch.js';
import { KIND, type Lights } from './values/lights.js';

/** What the guard looks at. */
interface Seen {
  readonly show: Show;
  readonly watched: Watched;
  readonly crossfades: Crossfades;
  readonly aims: Aims;
  readonly keepOuts: KeepOuts;
  readonly lights: Lights;
  readonly highlight: Pick<Highlight, 'shares'>;
}

/**
 * The last word: wanted values -> values that may go out, between live and safe by the crossfades and fades. A
 * fixture that moves goes dark first, and moves in the dark.
 */
export function guard(fades: Fades, seen: Seen, section: number, dtS: number): void {
  const { lights, crossfades, aims } = seen;
  beginTurns(fades, aims.turns, lights);
  const { kind } = lights;
  for (const i of lights.sections[section] as Int32Array) {
    // A fixture that no mapping touches shows its base values.
    if (kind[i] === KIND.idle) goLive(lights, i);
    else if (kind[i] === KIND.moving) guardMoving(fades, seen, i, dtS);
    else guardStill(lights, i, (crossfades.ofLight[i] as CrossfadeGroup).highest);
  }
}

function goLive({ start, wanted, out }: Lights, i: number): void {
  const end = start[i + 1] as number;
  for (let c = start[i] as number; c < end; c++) out[c] = wanted[c] as number;
}

function guardStill(lights: Lights, i: number, highest: number): void {
  const { start, wanted, safe, stepped, out, intensity, asked } = lights;
  const end = start[i + 1] as number;
  for (let c = start[i] as number; c < end; c++) {
    // A wheel stays where it is as long as any of the performers' light shows.
    const share = stepped[c] === 1 && highest > 0 ? 1 : highest;
    out[c] = mix(safe[c] as number, wanted[c] as number, share);
  }
  const at = intensity[i] as number;
  if (at >= 0) out[at] = asked[i] as number;
}

/** Intensity first, movement after, in the dark. */
function guardMoving(fades: Fades, seen: Seen, i: number, dtS: number): void {
  const { lights, watched } = seen;
  const { out, intensity, asked, safe, muted } = lights;
  const { heldIntensity, isLive, inHand } = fades;
  const at = intensity[i] as number;
  if (muted[i] === 1) asked[i] = 0;
  const governor = lights.governor[i] as number;
  if (isLive[i] === 1 && governor >= 0 && watched.believed[governor]?.follows === true) {
    // Most heads, most of the time: nothing to step, and everything goes out as wanted.
    inHand[i] = 0;
    goLive(lights, i);
    if (at < 0) return;
    heldIntensity[i] = asked[i] as number;
    out[at] = asked[i] as number;
    return;
  }
  const safeFade = stepMoving(fades, seen, i, dtS);
  if (at < 0) return;
  if (safeFade.stage !== 'fading') heldIntensity[i] = asked[i] as number;
  out[at] = safeFade.live * (heldIntensity[i] as number) + safeFade.safe * (safe[at] as number);
}

/** Everything but intensity, wherever it is between live and safe; pan and tilt are steered afterwards. */
function stepMoving(
  fades: Fades,
  { show, watched, crossfades, aims, keepOuts, lights, highlight }: Seen,
  i: number,
  dtS: number,
): SafeFade {
  const { start, followed, governor: alone, wanted, safe, stepped, out } = lights;
  const { from } = fades;
  const group = crossfades.ofLight[i] as CrossfadeGroup;
  const whom = followed[i] as number;
  const governor = governorOf(group, alone[i] as number, watched, crossfades);
  const pointing = aims.pointings[i];
  const isFollow = whom >= 0 && fades.safeFades[i]?.stage === 'to-live';
  const hasCome =
    pointing === undefined ||
    ((isFollow ? hasArrived(pointing) : hasSettled(pointing)) && mayComeUp(keepOuts, i));
  // A highlighted head leaves its safe aim once its highlight has gone out.
  const isShown = fades.safeFades[i]?.stage === 'safe' && (highlight.shares[i] as number) > 0;
  const wantLive = goesLive(governor, whom) && !isShown;
  const safeFade = stepFade(fades, i, governor, wantLive, show, hasCome, dtS);
  const end = start[i + 1] as number;
  for (let c = start[i] as number; c < end; c++) {
    if (safeFade.departed) from[c] = out[c] as number;
    const [was, is, rests] = [from[c] as number, wanted[c] as number, safe[c] as number];
    out[c] =
      stepped[c] === 1
        ? steppedValue(safeFade, true, was, is, rests)
        : movedValue(safeFade, was, is, rests);
  }
  return safeFade;
}
