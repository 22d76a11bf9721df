import type { AimView, EngineView, FixtureView, PerformerView } from '../engine/view.js';
import { beamDirection, compileHead, type Head } from '../fixtures/kinematics.js';
import { mappingTitle } from '../show/model/mapping-words.js';
import type { FixturePlan } from '../show/model/model.js';
import { type Degrees, toRadians } from '../stage/units.js';
import { vec3 } from '../stage/vector.js';
import { CONFIDENCE_PARTS, type ConfidencePart } from '../tracking/confidence.js';
import type { LiveEngine, LivePerformer } from './engine-schema.js';

/** Below this a head is dark, per cent: the first step of an 8-bit dimmer is 0.4. */
const DARK_PERCENT = 0.2;
/** A beam that is flatter than this meets the floor, if at all, far outside of any stage. */
const LEAST_SLOPE = 0.05;
/** Who was heard so lately is not silent, seconds. */
const HEARD_WITHIN_S = 1;
/** Standard deviations from the place to the edge of the region: nine of ten times they are in it (86 %). */
const REGION_SIGMAS = 2;

/** What a person sees of a show: made when somebody looks, at most ten times a second. */
export class EnginePicture {
  readonly #heads: readonly (HeadParts | undefined)[];

  constructor(private readonly view: EngineView) {
    this.#heads = view.fixtures.map(({ plan }) => headParts(plan));
  }

  /** The end of the last tick. @param more counters of whoever runs the engine */
  take(more: Readonly<Record<string, number>> = {}): LiveEngine {
    const { view } = this;
    const worn = new Map<string, string[]>();
    for (const { id, performer } of view.trackers) {
      if (performer !== undefined) worn.set(performer, [...(worn.get(performer) ?? []), id]);
    }
    return {
      performers: view.performers.map((one, index) =>
        performerOf(view, one, index, worn.get(one.name) ?? []),
      ),
      trackers: view.trackers.map(one => ({
        id: one.id,
        ...given('performer', one.performer),
        ...given('silentForS', rounded(one.silentForS, 2)),
        ...given('battery', rounded(one.battery, 2)),
        ...given('quality', rounded(one.quality, 2)),
        ...given('outliers', rounded(one.outlierShare, 2)),
      })),
      zones: view.zones.map(({ name, presences }) => {
        let presence = 0;
        presences.forEach(({ level }, index) => {
          if (view.performers[index]?.follows === true) presence = Math.max(presence, level);
        });
        return { name, presence: round(presence, 3) };
      }),
      fixtures: view.fixtures.map((one, index) => fixtureOf(view, one, this.#heads[index])),
      mappings: view.mappings.map(({ acts, level, shows, off }) => {
        return { acts: round(acts, 3), level: round(level, 3), shows: round(shows, 3), off };
      }),
      hazards: view.hazards.map(({ fixture, hazard, gate, heldBy }) => ({
        ...{ fixture, hazard, gate },
        ...(heldBy.length > 0 && { heldBy: [...heldBy] }),
      })),
      conditions: view.conditions.map(({ name, truth }) => ({ name, truth })),
      ...given('cueShare', rounded(view.cue?.share, 3)),
      counters: { ...countersOf(view), ...more },
    };
  }
}

function performerOf(
  { zones }: EngineView,
  performer: PerformerView,
  index: number,
  trackers: readonly string[],
): LivePerformer {
  const { name, phase, cause, trust, confidence, estimate, seen, follows, horizon } = performer;
  const { x, y, z, vx, vy, vz, sigmaAlongM, sigmaAcrossM } = estimate;
  return {
    name,
    phase,
    ...given('cause', cause),
    trust: round(trust, 3),
    confidence: {
      value: round(confidence.value, 3),
      ...given('reason', doubtOf(performer)),
      parts: partsOf(confidence),
    },
    ...(seen && {
      place: { x: round(x, 3), y: round(y, 3), z: round(z, 3) },
      region: {
        alongM: round(REGION_SIGMAS * sigmaAlongM, 3),
        acrossM: round(REGION_SIGMAS * sigmaAcrossM, 3),
        headingDeg: round((Math.atan2(vy, vx) * 180) / Math.PI, 1),
      },
      silentForS: round(performer.silentForS, 2),
      aheadS: round(horizon.totalS, 3),
    }),
    speedMps: round(Math.hypot(vx, vy, vz), 2),
    zones: zones
      .filter(({ presences }) => follows && (presences[index]?.level ?? 0) > 0)
      .map(one => one.name),
    trackers: [...trackers],
  };
}

/** Whose light is away for want of confidence, and what is lowest in it now; undefined: nobody's. */
export function doubtsOf({ performers }: EngineView): Doubts | undefined {
  const doubted = performers.flatMap(one => {
    const doubt = one.cause === 'confidence-low' ? doubtOf(one) : undefined;
    return doubt === undefined ? [] : [[one.name, doubt] as const];
  });
  return doubted.length === 0 ? undefined : Object.fromEntries(doubted);
}
export type Doubts = { readonly [performer: string]: ConfidencePart };

/** Reports that repeat themselves are not used, and so the last one that was grows old: that is not why. */
function doubtOf({ confidence, silentForS }: PerformerView): PerformerView['confidence']['reason'] {
  const repeats = confidence.frozen < 1 && silentForS < HEARD_WITHIN_S;
  return confidence.reason === 'age' && repeats ? 'frozen' : confidence.reason;
}

function partsOf(confidence: PerformerView['confidence']): LivePerformer['confidence']['parts'] {
  const parts = {} as LivePerformer['confidence']['parts'];
  for (const part of CONFIDENCE_PARTS) parts[part] = round(confidence[part], 3);
  return parts;
}

interface HeadParts {
  readonly head: Head;
  readonly zoom: number;
}

function headParts({ head, profile }: FixturePlan): HeadParts | undefined {
  if (head === undefined) return undefined;
  const zoom = profile.channels.findIndex(({ attribute }) => attribute === 'Zoom');
  return { head: compileHead(head), zoom };
}

type LiveFixture = LiveEngine['fixtures'][number];

function fixtureOf(
  view: EngineView,
  fixture: FixtureView,
  parts: HeadParts | undefined,
): LiveFixture {
  const { values, aim, safe } = fixture;
  const out: LiveFixture = {
    values: rounds(values),
    ...(hasSafeFromDesk(fixture.plan) && { safe: rounds(safe) }),
    ...given('safeFor', safeForOf(view, fixture)),
  };
  if (parts === undefined) return out;
  return {
    ...out,
    ...beamsOf(fixture, parts),
    ...(aim && {
      follows: aim.performer,
      ...given('holds', aim.holds && [...aim.holds]),
      behindDeg: round(aim.behindDeg, 2),
      reachable: aim.reachable,
    }),
    ...darkness(view, fixture, aim),
  };
}

const direction = vec3(0, 0, 0);

const rounds = (values: ArrayLike<number>) => Array.from(values, value => round(value, 2));

function hasSafeFromDesk(plan: FixturePlan): boolean {
  return plan.ground.includes('safe');
}

/** undefined: for nobody. */
function safeForOf({ show, performers }: EngineView, { unbelieved }: FixtureView) {
  const { performers: whom, mappings } = unbelieved();
  if (whom.length + mappings.length === 0) return undefined;
  return [
    ...whom.map(one => performers[one]?.name ?? ''),
    ...mappings.map(one => mappingTitle(show, one)),
  ];
}

/** Where the middle of the beam meets the floor, z = 0, and where it is at the height of the point that it aims at. */
function beamsOf(
  { plan, values, aim, follows }: FixtureView,
  { head, zoom }: HeadParts,
): Pick<LiveFixture, 'beam' | 'beamOn'> {
  const [pan, tilt] = [values[plan.panChannel] ?? 0, values[plan.tiltChannel] ?? 0];
  beamDirection(head, toRadians(pan as Degrees), toRadians(tilt as Degrees), direction);
  const angle = values[zoom];
  /** @param diameterM where it is known by something else than the zoom */
  const at = (heightM: number, diameterM?: number) => {
    const throwM = (heightM - head.position.z) / direction.z;
    if (!(throwM > 0)) return undefined;
    const byZoom =
      angle === undefined ? undefined : 2 * throwM * Math.tan(toRadians(angle as Degrees) / 2);
    return {
      x: round(head.position.x + throwM * direction.x, 2),
      y: round(head.position.y + throwM * direction.y, 2),
      ...given('diameterM', rounded(diameterM ?? byZoom, 2)),
    };
  };
  const beam = direction.z > -LEAST_SLOPE ? undefined : at(0);
  if (aim === undefined || follows === undefined || Math.abs(direction.z) < LEAST_SLOPE) {
    return given('beam', beam);
  }
  const heightM = follows.estimate.z + follows.offset.z;
  const on = at(heightM, aim.beamM);
  return {
    ...given('beam', beam),
    ...given('beamOn', on && { ...on, z: round(heightM, 2) }),
  };
}

/** Why a head gives no light; nothing where it does, or has no intensity of its own. */
function darkness(
  view: EngineView,
  { values, intensity, keepOut, comesUp }: FixtureView,
  aim: AimView | undefined,
): Pick<LiveFixture, 'dark' | 'darkFor'> {
  if (intensity < 0 || (values[intensity] as number) >= DARK_PERCENT) return {};
  if (keepOut !== undefined) return { dark: 'keep-out', darkFor: keepOut };
  if (aim?.turning === true || comesUp)
    return { dark: 'turns', ...given('darkFor', aim?.performer) };
  const followed = view.performers.find(({ name }) => name === aim?.performer);
  if (aim !== undefined && followed?.follows === false && !followed.offStage) {
    return { dark: 'lost', darkFor: aim.performer };
  }
  return { dark: 'not asked for' };
}

function countersOf({ counters, heldCount }: EngineView): Record<string, number> {
  const { drops, latest: _, latestFrom: __, fullSockets: ___, feeds: ____, ...plain } = counters;
  const all: Record<string, number> = { ...plain, held: heldCount };
  for (const [reason, count] of Object.entries(drops)) {
    if (count > 0) all[`drop:${reason}`] = count;
  }
  return all;
}

/** Rounded, as each digit is sent ten times a second; what is no number is 0. */
function round(value: number, digits: number): number {
  const factor = 10 ** digits;
  const result = Math.round(value * factor) / factor;
  return Number.isFinite(result) ? result : 0;
}

function rounded(value: number | undefined, digits: number): number | undefined {
  return value === undefined || !Number.isFinite(value) ? undefined : round(value, digits);
}

/** A field that is left out where there is nothing to say. */
function given<K extends string, V>(key: K, value: V | undefined): { [P in K]?: V } {
  return value === undefined ? {} : ({ [key]: value } as { [P in K]?: V });
}
