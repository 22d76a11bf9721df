import type { Side } from '../lighting/side.js';
import type { PairPartView } from './pair-light.js';

/** Two machines that have just been started need not be ready together, seconds. */
const NEVER_HEARD_AFTER_S = 10;
/** A main machine that is there is heard within a second (E1.31 6.6.2). */
const TAKEN_AFTER_S = 2.5;

/** What {@link whileAlone} needs to know of a `Side`. */
export type SideView = Pick<Side, 'name' | 'sendsSacn' | 'canHear' | 'isDeaf' | 'silentForS'>;

/**
 * How a machine of a pair stands of which the other one has never been heard. Roles don't tell: a main machine leads,
 * and a standby waits for it with its Art-Net, while receivers take its sACN.
 * @param views see `PairLight.look`: none if there is no sign of another
 * @param startS when this machine began, monotonic seconds
 */
export function whileAlone(
  views: readonly PairPartView[],
  sides: readonly SideView[],
  { standby, startS, nowS }: { standby: boolean; startS: number; nowS: number },
): readonly PairPartView[] {
  if (standby) return views.map(view => asTaken(view, sides, nowS));
  // By Art-Net a standby that waits says nothing: only one that sends sACN is missed.
  const isMissed = sides.some(({ sendsSacn, canHear }) => sendsSacn && canHear);
  if (views.length > 0 || !isMissed || nowS - startS < NEVER_HEARD_AFTER_S) return views;
  return sides.map(({ name, sendsSacn, canHear }) => ({
    interface: name,
    phase: 'leading',
    sinceS: startS,
    other: sendsSacn && canHear ? { other: 'never heard' } : undefined,
  }));
}

function asTaken(view: PairPartView, sides: readonly SideView[], nowS: number): PairPartView {
  if (view.phase !== 'standing-by' || view.other?.other !== 'never heard') return view;
  const side = sides.find(({ name }) => name === view.interface);
  const isTaken =
    side?.sendsSacn === true &&
    !side.isDeaf &&
    nowS - view.sinceS >= TAKEN_AFTER_S &&
    side.silentForS(nowS) < TAKEN_AFTER_S;
  return isTaken ? { ...view, phase: 'standing-in' } : view;
}
