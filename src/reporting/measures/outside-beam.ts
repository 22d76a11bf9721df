import type { EngineView, FixtureView } from '../../engine/view.js';
import { beamDirection, compileHead, type Head } from '../../fixtures/kinematics.js';
import { beamDiameterM } from '../../fixtures/optics.js';
import type { SafeFadeStage } from '../../safety/fade-to-safe.js';
import { labelsOf } from '../../show/model/labels.js';
import type { FixturePlan, Show } from '../../show/model/model.js';
import { type Degrees, toRadians } from '../../stage/units.js';
import { type Vec3, vec3 } from '../../stage/vector.js';

/** A performer whom a head on the middle of several should have in its beam: how long they stood outside it. */
export interface OutsideBeam {
  readonly fixture: string;
  readonly label: string;
  readonly performer: string;
  readonly performerLabel: string;
  /** How long it was lit on the middle while they were not lost, seconds. */
  readonly litS: number;
  /** Of that, outside the beam, seconds. */
  readonly outsideS: number;
  readonly times: number;
  /** The longest time without a break, seconds, and when it began. */
  readonly longestS: number;
  readonly longestFromS: number | undefined;
}

/** Puts into `out` where a performer is when the light of this tick arrives (stage frame, metres); false if unknown. */
export type WhereIs = (performer: number, out: Vec3) => boolean;

interface Sums {
  readonly label: string;
  readonly performerLabel: string;
  litS: number;
  outsideS: number;
  times: number;
  longestS: number;
  longestFromS: number | undefined;
  /** Since when they have been outside; undefined: they are inside. */
  sinceS: number | undefined;
}

/** With less light nobody is visible, per cent. */
const LIT_FROM = 1;
/** Stages in which it should have people in its beam; in its safe look, and on the way there, it has nobody. */
const LIVE_STAGES: ReadonlySet<SafeFadeStage> = new Set(['rising', 'live', 'fading']);
/** A shorter time outside doesn't count: a single bad report can cause it, seconds. */
const LEAST_S = 0.2;

/**
 * Who stands outside the beam that should light them, tick by tick. The beam is a cone with the angle that Zoom and
 * Iris give, or the profile; a performer is the point at which their light aims. Keeps names, as the show may change.
 */
export class OutsideBeams {
  readonly #sums = new Map<string, Map<string, Sums>>();
  #show: Show | undefined;
  /** Heads of rules with `middle`, by the index of the light. */
  #heads: readonly (readonly [number, Head])[] = [];
  readonly #at = vec3(0, 0, 0);
  readonly #beam = vec3(0, 0, 0);

  ticked(view: EngineView, nowS: number, dtS: number, whereIs: WhereIs = trackedAt(view)): void {
    if (view.show !== this.#show) this.#take(view.show, nowS);
    for (const [light, head] of this.#heads) {
      const fixture = view.fixtures[light] as FixtureView;
      const isLit =
        fixture.intensity < 0 || (fixture.values[fixture.intensity] as number) >= LIT_FROM;
      const { aim } = fixture;
      const isOn = isLit && aim?.holds !== undefined && LIVE_STAGES.has(aim.stage);
      if (!isOn) this.#endAll(fixture.plan.name, nowS);
      else this.#look(view, fixture, head, aim.holds, nowS, dtS, whereIs);
    }
  }

  /** The engine's light is not on stage: the engine is gone, or something else has the light. */
  dark(nowS: number): void {
    for (const fixture of this.#sums.keys()) this.#endAll(fixture, nowS);
  }

  /** @param endS end of the show: whoever is outside now stays so until then */
  all(endS: number): OutsideBeam[] {
    this.dark(endS);
    return [...this.#sums].flatMap(([fixture, by]) =>
      [...by].map(([performer, { sinceS: _, ...sums }]) => ({ fixture, performer, ...sums })),
    );
  }

  #take(show: Show, nowS: number): void {
    this.dark(nowS);
    this.#show = show;
    const lights = new Set(
      show.mappings.flatMap(one =>
        one.kind === 'follow' && one.choice?.rule.kind === 'middle' ? one.heads : [],
      ),
    );
    this.#heads = [...lights].flatMap(light => {
      const options = show.fixtures[light]?.head;
      return options === undefined ? [] : [[light, compileHead(options)] as const];
    });
  }

  #look(
    view: EngineView,
    { plan, values, follows }: FixtureView,
    head: Head,
    holds: readonly string[],
    nowS: number,
    dtS: number,
    whereIs: WhereIs,
  ): void {
    if (follows === undefined) return;
    const at = this.#at;
    const beam = beamDirection(head, radians(values[plan.panChannel]), radians(values[plan.tiltChannel]), this.#beam); // biome-ignore format: one row
    view.performers.forEach(({ name, follows: isFollowed }, performer) => {
      if (!isFollowed || !holds.includes(name) || !whereIs(performer, at)) {
        this.#end(plan.name, name, nowS);
        return;
      }
      const x = at.x + follows.offset.x - head.position.x;
      const y = at.y + follows.offset.y - head.position.y;
      const z = at.z + follows.offset.z - head.position.z;
      const reach = x * beam.x + y * beam.y + z * beam.z;
      const offM = Math.hypot(x - reach * beam.x, y - reach * beam.y, z - reach * beam.z);
      const sums = this.#sumsOf(plan, name);
      const radiusM = radiusAt(plan, values, reach);
      sums.litS += dtS;
      if (reach <= 0 || offM > radiusM) sums.sinceS ??= nowS;
      else this.#end(plan.name, name, nowS);
    });
  }

  #sumsOf({ name, label }: FixturePlan, performer: string): Sums {
    const by = this.#sums.get(name) ?? new Map<string, Sums>();
    this.#sums.set(name, by);
    const sums = by.get(performer) ?? {
      label,
      performerLabel: this.#show === undefined ? performer : labelsOf(this.#show).performer(performer), // biome-ignore format: one row
      ...{ litS: 0, outsideS: 0, times: 0, longestS: 0 },
      ...{ longestFromS: undefined, sinceS: undefined },
    };
    by.set(performer, sums);
    return sums;
  }

  #endAll(fixture: string, nowS: number): void {
    for (const performer of this.#sums.get(fixture)?.keys() ?? []) {
      this.#end(fixture, performer, nowS);
    }
  }

  #end(fixture: string, performer: string, nowS: number): void {
    const sums = this.#sums.get(fixture)?.get(performer);
    if (sums?.sinceS === undefined) return;
    const { sinceS } = sums;
    const forS = nowS - sinceS;
    sums.sinceS = undefined;
    if (forS < LEAST_S) return;
    sums.outsideS += forS;
    sums.times += 1;
    if (forS <= sums.longestS) return;
    sums.longestS = forS;
    sums.longestFromS = sinceS;
  }
}

/** Where their trackers put them. */
function trackedAt({ performers }: EngineView): WhereIs {
  return (performer, out) => {
    const one = performers[performer];
    if (one?.seen !== true) return false;
    const { x, y, z } = one.estimate;
    Object.assign(out, { x, y, z });
    return true;
  };
}

/** Radius of the beam at a distance from the head, metres. Its width is known: `check` refuses a `beam` without. */
function radiusAt({ profile }: FixturePlan, values: ArrayLike<number>, throwM: number): number {
  const { channels, optics } = profile;
  const sentOf = (attribute: string) => {
    const channel = channels.findIndex(one => one.attribute === attribute);
    return channel < 0 ? undefined : values[channel];
  };
  const fixedDeg = optics.beamAngleDeg ?? optics.fieldAngleDeg ?? Number.NaN;
  const angle = radians(sentOf('Zoom') ?? fixedDeg);
  const open = (sentOf('Iris') ?? 100) / 100;
  return (open * beamDiameterM(throwM, angle, optics.beamRadiusM)) / 2;
}

function radians(degrees = 0) {
  return toRadians(degrees as Degrees);
}
