import type { OtherShows, PairPart, PairPartStatus, PairStatus } from '../../live/pair-words.js';
import type { PairPhase } from '../beats/pair.js';
import type { PairPartView } from '../beats/pair-light.js';

const PARTS: Readonly<Record<PairPhase, PairPart>> = {
  listening: 'listens',
  joining: 'comes back',
  leading: 'leads',
  'standing-by': 'waits',
  'standing-in': 'stands in',
};

/** @param views none: there is no sign of another machine */
export function pairStatus(
  standby: boolean,
  views: readonly PairPartView[],
  iso: (atS: number) => string,
  shows: OtherShows,
): PairStatus | undefined {
  if (views.length === 0) return undefined;
  const parts = views.map(({ interface: where, phase, sinceS, other }): PairPartStatus => {
    const part = { interface: where, part: PARTS[phase], since: iso(sinceS) };
    if (other === undefined) return part;
    if (other.other === 'never heard') return { ...part, other: other.other };
    const { address, lastHeardS, backS } = other;
    const back = backS === undefined ? {} : { backSince: iso(backS) };
    const heard = { ...part, other: other.other, lastHeard: iso(lastHeardS), ...back };
    return address === undefined ? heard : { ...heard, address };
  });
  return { machine: standby ? 'standby' : 'main', shows, parts };
}
