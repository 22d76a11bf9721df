import { type Doubts, restOn, STANDING } from './doubt.js';
import { isAdrift, isAway } from './places.js';
import { type Ranges, setRange } from './ranges.js';
import type { PresencesOf, Scene } from './scene.js';

/** Who is in a zone: whether anybody is, whether every one is, or how many are. */
export interface PresenceSource {
  readonly kind: 'presence' | 'count';
  readonly zone: number;
  readonly around: number;
  readonly performers: Int32Array;
  /** For each performer 1 where they are one of these. */
  readonly isOne: Uint8Array;
  readonly every: boolean;
}

/** Half in counts as in. */
const HALF = 0.5;

/** The greatest presence of any of them, or how many are in. */
export function lookAny(
  source: PresenceSource,
  scene: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const { people } = scene;
  if (people.areAllThere) {
    lookNearby(source, scene, ranges, doubts, at);
    return;
  }
  const { kind, zone, around, performers } = source;
  const adrift = isAdrift(doubts, at, people, around);
  const isGone = isAway(people, around);
  const there = scene.presences[zone] as PresencesOf;
  const counts = kind === 'count';
  let from = 0;
  let to = 0;
  for (let i = 0; i < performers.length; i++) {
    const p = performers[i] as number;
    const standing = restOn(doubts, at, people, p);
    if (standing === STANDING.away || isGone) continue;
    if (standing === STANDING.lost || adrift) to = counts ? to + 1 : 1;
    else {
      const { level } = there[p] as PresencesOf[number];
      if (!counts) from = Math.max(from, level);
      else if (level >= HALF) {
        from += 1;
        to += 1;
      }
    }
  }
  setRange(ranges, at, from, Math.max(from, to));
}

/** While everybody is there: of a large house few are near a zone. */
function lookNearby(
  { kind, zone, isOne }: PresenceSource,
  { people, presences, nearby }: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const there = presences[zone] as PresencesOf;
  const first = zone * people.standing.length;
  const end = first + (nearby.count[zone] as number);
  const counts = kind === 'count';
  let is = 0;
  for (let i = first; i < end; i++) {
    const p = nearby.who[i] as number;
    if (isOne[p] !== 1) continue;
    const { level } = there[p] as PresencesOf[number];
    if (!counts) is = Math.max(is, level);
    else if (level >= HALF) is += 1;
  }
  doubts.known[at] = 1;
  setRange(ranges, at, is, is);
}

export function lookEvery(
  { zone, around, performers }: PresenceSource,
  { people, presences }: Scene,
  ranges: Ranges,
  doubts: Doubts,
  at: number,
): void {
  const adrift = isAdrift(doubts, at, people, around);
  const isGone = isAway(people, around);
  const there = presences[zone] as PresencesOf;
  let [from, to] = [1, 1];
  for (let i = 0; i < performers.length; i++) {
    const p = performers[i] as number;
    const standing = restOn(doubts, at, people, p);
    if (standing === STANDING.away || isGone) to = 0;
    else if (standing === STANDING.lost || adrift) from = 0;
    else to = Math.min(to, (there[p] as PresencesOf[number]).level);
  }
  setRange(ranges, at, Math.min(from, to), to);
}
