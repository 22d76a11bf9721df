import { aimError } from '../fixtures/pointing.js';
import type { PolePlan } from '../fixtures/pole.js';
import type { SafeFadeStage } from '../safety/fade-to-safe.js';
import { restsOnNobody } from '../show/model/basis.js';
import type { FixturePlan, FollowRule } from '../show/model/model.js';
import { toDegrees } from '../stage/units.js';
import { type Vec3, vec3 } from '../stage/vector.js';
import type { Estimate } from '../tracking/sighting.js';
import type { Signals } from './cues/signals.js';
import type { Orders } from './events/orders.js';
import { pointOf, throwTo } from './heads/aim.js';
import {
  apartM,
  believed,
  type Choices,
  type Chooser,
  type Seen as ChoosersSeen,
  goalOf,
  placeOf,
  shows,
} from './heads/chooser.js';
import type { KeepOuts } from './heads/keep-out.js';
import { type Fit, fitOf, isPossible } from './heads/sharing.js';
import type { Crossfades } from './light/crossfade.js';
import type { Mappings } from './light/map.js';
import { channelsOf, intensityOf } from './values/lights.js';

export interface FixtureView {
  readonly plan: FixturePlan;
  /** Physical value of each channel of its profile, as it goes out. */
  readonly values: Readonly<Float64Array>;
  /** Channel of its intensity, -1 where it has none. */
  readonly intensity: number;
  /** It is asked for light, and moves to its place in the dark first. */
  readonly comesUp: boolean;
  /** Indices of those who drive it; none where no mapping touches it. */
  readonly performers: readonly number[];
  /** Present safe value of each channel: the desk's level, if the channel takes it from the desk. */
  readonly safe: Readonly<Float64Array>;
  /** Those whose loss makes it show its safe value: performers, and mappings that depend on signals. */
  readonly unbelieved: () => { readonly performers: number[]; readonly mappings: number[] };
  /** Whom its head follows. */
  readonly follows: FollowView | undefined;
  /** If its head follows somebody. */
  readonly aim: AimView | undefined;
  /** If its head chooses whom it follows. */
  readonly choice: ChoiceView | undefined;
  /** Name of the keep-out that it is dark for; undefined: none. */
  readonly keepOut: string | undefined;
}

export interface ChoiceView {
  readonly rule: FollowRule['kind'];
  /** Index of the mapping that has the rule. */
  readonly mapping: number;
  /** Names of the performer it is on, and of the one it will go to as soon as it can; undefined: nobody. */
  readonly performer: string | undefined;
  readonly next: string | undefined;
  /** It is pinned to somebody, whom it is on or waits for; and their name. */
  readonly pinned: boolean;
  readonly pinnedTo: string | undefined;
  /** How long it still stays on them, even if another would be better, seconds. */
  readonly holdsS: number;
  /** Everybody it may be on. */
  readonly candidates: () => readonly CandidateView[];
}

export interface CandidateView {
  readonly performer: string;
  /** Believed, and so available. */
  readonly tracked: boolean;
  /** For `share`: the cost by throw and angle, without the cost of a change; undefined: it can't light them. */
  readonly cost: number | undefined;
  /** For `share`, why not: beyond the end of its pan or tilt, or because of the keep-out with this name. */
  readonly outOfReach: boolean;
  readonly keepOut: string | undefined;
  /** For `nearest`: distance across the floor from the target of the rule, metres. */
  readonly awayM: number | undefined;
  /** For `first`: since they came into the zone, seconds; undefined: they are not in it. */
  readonly inZoneS: number | undefined;
}

export interface FollowView {
  /** Index. */
  readonly performer: number;
  /** As they will be when the light of this fixture arrives: later, the longer it lags. */
  readonly estimate: Readonly<Estimate>;
  /** From their tracked point to the one that it aims at, metres. */
  readonly offset: Readonly<Vec3>;
}

export interface AimView {
  readonly performer: string;
  /** Names of those whose middle it aims at, without those who are lost; undefined: it follows one performer. */
  readonly holds: readonly string[] | undefined;
  /** Where its light is between live and safe; `turning` if that is no loss, but a turn in the dark. */
  readonly stage: SafeFadeStage;
  readonly turning: boolean;
  readonly reachable: boolean;
  /** How it passes its pole just now. */
  readonly pole: PolePlan;
  /** Between the beam as it is sent and the point to aim at, degrees. */
  readonly behindDeg: number;
  /** How far beyond the moment of light the performer is predicted, seconds. */
  readonly lagS: number;
  readonly throwM: number;
  /** Across the beam at the performer, metres, and the factor on the intensity, where its mapping holds them. */
  readonly beamM: number | undefined;
  readonly intensityFactor: number | undefined;
}

/** What it looks at. */
interface Seen extends ChoosersSeen {
  readonly choices: Choices;
  readonly crossfades: Crossfades;
  readonly keepOuts: KeepOuts;
  readonly mappings: Mappings;
  readonly orders: Orders;
  readonly signals: Signals;
}

export function fixtureView(seen: Seen, light: number): FixtureView {
  const { lights, aims } = seen;
  const plan = lights.plans[light] as FixturePlan;
  return {
    plan,
    values: channelsOf(lights, lights.out, light),
    intensity: intensityOf(plan),
    get comesUp() {
      const stage = seen.fades.safeFades[light]?.stage;
      return (lights.asked[light] as number) > 0 && (stage === 'to-live' || stage === 'rising');
    },
    performers: lights.drivers[light] ?? [],
    safe: channelsOf(lights, lights.safe, light),
    unbelieved: () => unbelievedBy(seen, light),
    get follows() {
      return aims.follows[light];
    },
    get aim() {
      return aimView(seen, light);
    },
    get choice() {
      return choiceView(seen, light);
    },
    get keepOut() {
      return seen.show.keepOuts[seen.keepOuts.barredBy[light] as number]?.name;
    },
  };
}

function unbelievedBy(seen: Seen, light: number) {
  const { ofLight, performers: count } = seen.crossfades;
  const { watched } = seen;
  const performers = new Set<number>();
  const mappings: number[] = [];
  for (const { performer: whose, says, ramp } of ofLight[light]?.crossfades ?? []) {
    if (says === 0 || ramp === 1) continue;
    if (whose >= count) {
      const whom = behind(seen, whose - count);
      for (const one of whom) performers.add(one);
      if (whom.length === 0 || isUnknownItself(seen, whose - count)) mappings.push(whose - count);
    } else if (watched.performers[whose]?.offStage === false) performers.add(whose);
  }
  return { performers: [...performers].sort((a, b) => a - b), mappings };
}

/** The performers because of whom a mapping's drive is not known: those who are stopped with everybody, or lost. */
function behind({ mappings, orders, watched }: Seen, mapping: number): number[] {
  const isLost = (p: number) => {
    const one = watched.performers[p];
    return one?.follows === false && !one.offStage;
  };
  const whom = mappings.drives.find(({ of }) => of === mapping)?.performers.filter(isLost) ?? [];
  if (!orders.allStopped) return whom;
  const stopped = watched.performers.flatMap((_, p) => (orders.stopped[p] === 1 ? [p] : []));
  return [...new Set([...whom, ...stopped])];
}

/** One of its signals that depends on no performer: a slot of the desk, or a number that is not heard. */
function isUnknownItself({ show, mappings, signals }: Seen, mapping: number): boolean {
  const { lo, hi } = signals.network.out;
  return mappings.drives.some(({ of, by, lanes }) => {
    const all = [by, ...lanes.map(lane => lane.by)].filter(one => one >= 0);
    return of === mapping && all.some(one => lo[one] !== hi[one] && restsOnNobody(show, one));
  });
}

function choiceView(seen: Seen, light: number): ChoiceView | undefined {
  const { choices, aims } = seen;
  const one = choices.all.find(
    ({ light: of, of: mapping }) => of === light && mapping === aims.followedBy[light],
  );
  if (one === undefined) return undefined;
  const { current, wanted, follows, choice } = one;
  const { kind } = choice.rule;
  // With `middle` it aims at all of them together.
  if (kind === 'middle') return undefined;
  return {
    rule: kind,
    mapping: one.of,
    // At its safe look it waits for the lost performer and follows nobody.
    performer: wanted < 0 && !shows(one, seen) ? undefined : follows[current]?.name,
    next: follows[wanted]?.name,
    pinned: one.pinned >= 0,
    pinnedTo: follows[one.pinned]?.name,
    holdsS: current < 0 ? 0 : Math.max(0, choice.holdS - one.forS),
    candidates: () => follows.map((_, i) => candidateView(seen, one, i)),
  };
}

function candidateView(seen: Seen, one: Chooser, i: number): CandidateView {
  const { rule } = one.choice;
  const tracked = believed(one, seen, i);
  const fit: Fit = { cost: Number.NaN, outOfReach: false, keepOut: -1 };
  if (rule.kind === 'share' && tracked) fitOf(one, seen, i, fit);
  const insideS = one.insideS[i] as number;
  return {
    performer: one.follows[i]?.name ?? '',
    tracked,
    cost: isPossible(fit.cost) ? fit.cost : undefined,
    outOfReach: fit.outOfReach,
    keepOut: seen.show.keepOuts[fit.keepOut]?.name,
    awayM:
      rule.kind === 'nearest' && tracked && one.choice.people[i] !== rule.to
        ? apartM(placeOf(one, seen, i), goalOf(rule.to, seen))
        : undefined,
    inZoneS: rule.kind === 'first' && insideS > 0 ? insideS : undefined,
  };
}

/** Indices of those whose middle it aims at: somebody lost or off stage drops out as their weight falls. */
function heldBy({ choices, aims }: Seen, light: number): readonly number[] | undefined {
  const middle = choices.all.find(
    one =>
      one.light === light && one.of === aims.followedBy[light] && one.choice.rule.kind === 'middle',
  );
  return middle?.choice.people.filter((_, i) => (middle.weights[i] as number) > 0);
}

function aimView(seen: Seen, light: number): AimView | undefined {
  const { aims, fades, show } = seen;
  const [follow, pointing] = [aims.follows[light], aims.pointings[light]];
  const safeFade = fades.safeFades[light];
  if (follow === undefined || pointing === undefined || safeFade === undefined) return undefined;
  if (seen.lights.onNobody[light] === 1) return undefined;
  const { optics, lagS, name } = follow;
  const at = pointOf(follow, vec3(0, 0, 0));
  const held = heldBy(seen, light);
  return {
    performer: name,
    holds: held?.map(p => show.performers[p]?.name ?? ''),
    stage: safeFade.stage,
    turning: fades.turning[light] === 1,
    reachable: pointing.reachable,
    pole: pointing.pass.plan,
    behindDeg: toDegrees(aimError(pointing, at.x, at.y, at.z)),
    lagS,
    throwM: throwTo(pointing, at.x, at.y, at.z),
    beamM: optics?.options.beam && optics.diameterM,
    intensityFactor: optics?.options.compensate && optics.factor,
  };
}
