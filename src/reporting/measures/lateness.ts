import type { EngineView, FixtureView } from '../../engine/view.js';
import { beamDirection, compileHead, type Head } from '../../fixtures/kinematics.js';
import { createPresence, type Presence, stepPresence } from '../../mapping/presence.js';
import type { RehearsalPart, RehearsalScene } from '../../rehearsal/scenes/scene-file.js';
import { truthAt } from '../../rehearsal/sensors/truth.js';
import type { SafeFadeStage } from '../../safety/fade-to-safe.js';
import { basisOf } from '../../show/model/basis.js';
import type { Show } from '../../show/model/model.js';
import { type Area, compileArea, signedDistanceM } from '../../stage/area.js';
import { enumerated } from '../../stage/enumerated.js';
import { type Degrees, toRadians } from '../../stage/units.js';
import { type Vec3, vec3 } from '../../stage/vector.js';
import { Histogram } from './histogram.js';

/** How far the light of a head was from one performer, while it followed them and gave light. */
export interface HeadLateness {
  readonly fixture: string;
  readonly performer: string;
  /** Labels of the cues in which it followed them, in their order; none in a show without cues. */
  readonly cues: readonly string[];
  readonly litS: number;
  readonly meanM: number;
  readonly p95M: number;
  readonly worstM: number;
  /** Seconds from the start of the scene. */
  readonly worstAtS: number;
  /** How far it trails the performer on average while they walk, seconds; below 0: ahead. NaN if they never walk. */
  readonly trailsS: number;
  /** How long it was more than half a metre off, seconds. */
  readonly offS: number;
}

/** How late a zone noticed a performer, compared with perfect tracking without delay. */
export interface ZoneLateness {
  readonly performer: string;
  readonly zone: string;
  /** How often they really went in. */
  readonly visits: number;
  /** Mean and worst delay of the noticed visits, seconds; below 0: early. NaN if there were none. */
  readonly meanS: number;
  readonly worstS: number;
  readonly worstAtS: number;
  /** Visits that were never noticed, and false entries: noticed visits that never happened. */
  readonly missed: number;
  readonly falseEntries: number;
  /** Visits noticed late or not at all because the watchdog had their light; they count in none of the other figures. */
  readonly duringLoss: number;
  /** The same because they had just come on stage and were not trusted yet. */
  readonly comingOn: number;
}

/** The lag is measured only above this speed, metres a second. */
const WALKS_MPS = 0.4;
/** Somebody this far from the middle of a beam one metre across is out of it, metres. Common practice. */
const OFF_M = 0.5;
const LIT_FROM = 1;
/** Stages of its fade in which it lights whoever it follows. */
const LIVE_STAGES: ReadonlySet<SafeFadeStage> = new Set(['rising', 'live', 'fading']);

/** A shorter visit doesn't have to be noticed: it may lie between two reports, seconds. */
const LEAST_VISIT_S = 0.3;
/** Scale for distances in the histogram of times: up to 10 m, in steps of a quarter of a centimetre. */
const M_AS_S = 0.1;

/** A head and one of the performers whom it follows: cues give it to others. */
interface FollowWatch {
  readonly light: FixtureView;
  readonly cues: Set<string>;
  readonly head: Head;
  readonly part: RehearsalPart;
  /** Everybody in the beam, if it follows the middle of several; the first of them is `part`. */
  readonly middle: readonly HeldPart[];
  readonly performer: string;
  readonly distances: Histogram;
  hint: number;
  litS: number;
  sumM: number;
  count: number;
  worstM: number;
  worstAtS: number;
  offS: number;
  /** Sums for the lag: of error along the way times speed, and of speed squared. */
  along: number;
  speed2: number;
}

interface HeldPart {
  readonly part: RehearsalPart;
  hint: number;
}

interface HeadWatch {
  readonly light: FixtureView;
  readonly head: Head;
  readonly watches: FollowWatch[];
}

interface VisitWatch {
  readonly part: RehearsalPart;
  readonly performer: string;
  readonly zone: string;
  readonly zoneIndex: number;
  readonly area: Area;
  readonly presence: Presence;
  /** Whom the zone moves with; undefined: it stays in place. */
  readonly around: RehearsalPart | undefined;
  hint: number;
  aroundHint: number;
  trueSinceS: number | undefined;
  seenSinceS: number | undefined;
  matched: boolean;
  /** The watchdog had their light at some moment of this visit, before it was noticed. */
  lost: boolean;
  /** They were off stage at some moment of it, before it was noticed. */
  offStage: boolean;
  visits: number;
  duringLoss: number;
  comingOn: number;
  missed: number;
  falseEntries: number;
  delays: { delayS: number; atS: number }[];
}

/** Compares what the light does with where the performers truly are, tick by tick. */
export class Lateness {
  readonly #heads: HeadWatch[];
  readonly #visits: VisitWatch[];
  readonly #outputS: number;
  readonly #at = vec3(0, 0, 0);
  readonly #ahead = vec3(0, 0, 0);
  readonly #around = vec3(0, 0, 0);
  readonly #beam = vec3(0, 0, 0);

  constructor(
    private readonly show: Show,
    private readonly scene: RehearsalScene,
    view: EngineView,
  ) {
    this.#outputS = show.tracking.outputLatencyS;
    this.#heads = view.fixtures.flatMap(light =>
      light.plan.head === undefined
        ? []
        : [{ light, head: compileHead(light.plan.head), watches: [] }],
    );
    for (const one of this.#heads) this.#watchOf(one);
    this.#visits = scene.parts.flatMap(part =>
      // If no mapping asks for this performer, nothing can be late.
      show.zones.flatMap(({ label, area, around: centre }, zoneIndex): VisitWatch[] => {
        if (!drives(show, zoneIndex, part.performer)) return [];
        const around = scene.parts.find(({ performer }) => performer === centre);
        // Nobody enters the zone around themselves, nor one whose centre isn't in the scene.
        if (centre !== undefined && (centre === part.performer || around === undefined)) return [];
        return [
          {
            part,
            performer: show.performers[part.performer]?.label ?? '',
            zone: label,
            zoneIndex,
            area: compileArea(area),
            presence: createPresence(),
            around,
            hint: 0,
            aroundHint: 0,
            trueSinceS: undefined,
            seenSinceS: undefined,
            matched: false,
            lost: false,
            offStage: false,
            visits: 0,
            duringLoss: 0,
            comingOn: 0,
            missed: 0,
            falseEntries: 0,
            delays: [],
          },
        ];
      }),
    );
  }

  /** @param sceneS seconds from the start of the scene */
  ticked(view: EngineView, sceneS: number, dtS: number): void {
    // The levels of this tick become light a little later, and the engine aims at where people are then.
    const lightS = sceneS + this.#outputS;
    for (const one of this.#heads) {
      const watch = this.#watchOf(one);
      if (watch !== undefined) this.#head(view, watch, lightS, dtS);
    }
    for (const watch of this.#visits) this.#visit(view, watch, lightS);
  }

  heads(): HeadLateness[] {
    const told = this.#heads.flatMap(({ watches }) => {
      const lit = watches.filter(({ litS }) => litS > 0);
      return lit.length > 0 ? lit : watches.slice(0, 1);
    });
    return told.map(watch => ({
      fixture: watch.light.plan.label,
      performer: watch.performer,
      cues: this.show.cues.map(({ label }) => label).filter(label => watch.cues.has(label)),
      litS: watch.litS,
      meanM: watch.count > 0 ? watch.sumM / watch.count : Number.NaN,
      p95M: watch.distances.quantiles().p95S / M_AS_S,
      worstM: watch.worstM,
      worstAtS: watch.worstAtS,
      trailsS: watch.speed2 > 0 ? watch.along / watch.speed2 : Number.NaN,
      offS: watch.offS,
    }));
  }

  /** The zones and performers with at least one visit, real or false. */
  zones(): ZoneLateness[] {
    return this.#visits
      .filter(({ visits, falseEntries }) => visits > 0 || falseEntries > 0)
      .map(({ performer, zone, visits, missed, falseEntries, duringLoss, comingOn, delays }) => {
        const worst = delays.reduce(
          (a, b) => (Math.abs(b.delayS) > Math.abs(a.delayS) ? b : a),
          delays[0] ?? { delayS: Number.NaN, atS: Number.NaN },
        );
        const sum = delays.reduce((total, { delayS }) => total + delayS, 0);
        return {
          performer,
          zone,
          visits,
          meanS: delays.length > 0 ? sum / delays.length : Number.NaN,
          worstS: worst.delayS,
          worstAtS: worst.atS,
          missed,
          falseEntries,
          duringLoss,
          comingOn,
        };
      });
  }

  /** The watch of a head and whoever it follows now; undefined if it follows nobody in the scene. */
  #watchOf({ light, head, watches }: HeadWatch): FollowWatch | undefined {
    const { follows } = light;
    const { holds = [] } = light.aim ?? {};
    const performers = (holds.length > 1 ? holds : []).map(name =>
      this.show.performers.findIndex(one => one.name === name),
    );
    const key = performers.join(' ');
    const known = watches.find(({ part, middle }) =>
      key === ''
        ? middle.length === 0 && part.performer === follows?.performer
        : middle.map(one => one.part.performer).join(' ') === key,
    );
    if (known !== undefined) return known;
    const parts = (key === '' ? [follows?.performer] : performers).map(index =>
      this.scene.parts.find(({ performer }) => performer === index),
    );
    const [part] = parts;
    // Somebody who isn't in the scene has no place.
    if (part === undefined || parts.includes(undefined)) return undefined;
    const middle = key === '' ? [] : parts.flatMap(one => (one ? [{ part: one, hint: 0 }] : []));
    const labels = parts.map(one => this.show.performers[one?.performer ?? -1]?.label ?? '');
    const watch: FollowWatch = {
      light,
      head,
      part,
      middle,
      performer: middle.length === 0 ? (labels[0] ?? '') : `the middle of ${enumerated(labels)}`,
      cues: new Set(),
      distances: new Histogram(),
      hint: 0,
      litS: 0,
      sumM: 0,
      count: 0,
      worstM: 0,
      worstAtS: 0,
      offS: 0,
      along: 0,
      speed2: 0,
    };
    watches.push(watch);
    return watch;
  }

  /** Whether it follows them in this cue, and not only in the crossfade from another. */
  #followsIn(cue: number, { plan }: FixtureView, performer: number): boolean {
    const levels = this.show.cues[cue]?.levels ?? [];
    const fixture = this.show.fixtures.indexOf(plan);
    return this.show.mappings.some(
      (mapping, index) =>
        mapping.kind === 'follow' &&
        (levels[index] ?? 0) > 0 &&
        mapping.heads.includes(fixture) &&
        (mapping.choice?.people ?? [mapping.performer]).includes(performer),
    );
  }

  /** Where the performer really is; for several the middle, weighted by the trust in each, as the engine aims. */
  #target(view: EngineView, watch: FollowWatch, atS: number, out: Vec3): void {
    const { part, middle } = watch;
    if (middle.length === 0) {
      watch.hint = truthAt(part.truth, atS, watch.hint, out);
      return;
    }
    let total = 0;
    const sum = vec3(0, 0, 0);
    for (const one of middle) {
      const trust = view.performers[one.part.performer]?.trust ?? 0;
      one.hint = truthAt(one.part.truth, atS, one.hint, out);
      total += trust;
      sum.x += trust * out.x;
      sum.y += trust * out.y;
      sum.z += trust * out.z;
    }
    out.x = sum.x / total;
    out.y = sum.y / total;
    out.z = sum.z / total;
  }

  #head(view: EngineView, watch: FollowWatch, lightS: number, dtS: number): void {
    const { light, head } = watch;
    const { follows, values, plan, intensity } = light;
    if (follows === undefined) return;
    const isLit = intensity < 0 || (values[intensity] as number) >= LIT_FROM;
    if (!isLit || view.performers[follows.performer]?.follows !== true) return;
    // A lit safe look is on nobody: after a loss or a stop the head goes out first.
    if (!LIVE_STAGES.has(light.aim?.stage ?? 'live')) return;
    const at = this.#at;
    this.#target(view, watch, lightS, at);
    this.#target(view, watch, lightS + 0.05, this.#ahead);
    const vx = (this.#ahead.x - at.x) / 0.05;
    const vy = (this.#ahead.y - at.y) / 0.05;
    const pan = toRadians(values[plan.panChannel] as Degrees);
    const tilt = toRadians(values[plan.tiltChannel] as Degrees);
    const beam = beamDirection(head, pan, tilt, this.#beam);
    const x = at.x + follows.offset.x - head.position.x;
    const y = at.y + follows.offset.y - head.position.y;
    const z = at.z + follows.offset.z - head.position.z;
    const reach = Math.max(0, x * beam.x + y * beam.y + z * beam.z);
    // Vector from the performer to the nearest point of the beam, metres.
    const ex = reach * beam.x - x;
    const ey = reach * beam.y - y;
    const missM = Math.hypot(ex, ey, reach * beam.z - z);
    watch.litS += dtS;
    const { index = -1, label = '' } = view.cue ?? {};
    if (!watch.cues.has(label) && this.#followsIn(index, light, follows.performer)) {
      watch.cues.add(label);
    }
    watch.sumM += missM;
    watch.count += 1;
    watch.distances.add(missM * M_AS_S);
    if (missM > OFF_M) watch.offS += dtS;
    if (missM > watch.worstM) {
      watch.worstM = missM;
      watch.worstAtS = lightS;
    }
    const speed2 = vx * vx + vy * vy;
    if (speed2 < WALKS_MPS * WALKS_MPS) return;
    // A beam that is late by t is off by -t times the speed across it; t is the least squares fit over the ticks.
    const alongBeam = vx * beam.x + vy * beam.y;
    watch.along -= ex * vx + ey * vy;
    watch.speed2 += speed2 - alongBeam * alongBeam;
  }

  #visit(view: EngineView, watch: VisitWatch, lightS: number): void {
    const { part, zoneIndex, area, presence } = watch;
    const edge = this.show.zones[zoneIndex]?.edge;
    if (edge === undefined) return;
    watch.hint = truthAt(part.truth, lightS, watch.hint, this.#at);
    let { x, y } = this.#at;
    if (watch.around !== undefined) {
      watch.aroundHint = truthAt(watch.around.truth, lightS, watch.aroundHint, this.#around);
      x -= this.#around.x;
      y -= this.#around.y;
    }
    stepPresence(presence, signedDistanceM(area, x, y, this.#at.z), edge);
    const isIn = presence.level > 0;
    const isSeen = (view.zones[zoneIndex]?.presences[part.performer]?.level ?? 0) > 0;
    if (isIn && watch.trueSinceS === undefined) {
      watch.trueSinceS = lightS;
      // Somebody who stands there when the scene begins has not gone in.
      if (lightS > this.#outputS + 1e-9) watch.visits += 1;
    }
    if (isSeen && watch.seenSinceS === undefined) watch.seenSinceS = lightS;
    const { trueSinceS, seenSinceS } = watch;
    if (!watch.matched && (isIn || isSeen)) {
      // The place of a zone that moves depends on the trust in whoever it moves with.
      for (const who of [part.performer, watch.around?.performer ?? part.performer]) {
        const { follows = false, phase } = view.performers[who] ?? {};
        if (follows) continue;
        if (phase === 'off') watch.offStage = true;
        else watch.lost = true;
      }
    }
    if (trueSinceS !== undefined && seenSinceS !== undefined && !watch.matched) {
      watch.matched = true;
      if (trueSinceS > this.#outputS + 1e-9) {
        if (!isExcused(watch))
          watch.delays.push({ delayS: seenSinceS - trueSinceS, atS: trueSinceS });
      }
    }
    if (isIn || isSeen) {
      // They left before it was noticed: the visit is over, whatever is noticed later.
      if (!isIn && trueSinceS !== undefined && !watch.matched) {
        if (lightS - trueSinceS >= LEAST_VISIT_S) miss(watch);
        watch.trueSinceS = undefined;
      }
      return;
    }
    if (trueSinceS !== undefined && !watch.matched && lightS - trueSinceS >= LEAST_VISIT_S) {
      miss(watch);
    }
    // Somebody who is not followed lights nothing there.
    if (seenSinceS !== undefined && !watch.matched && !watch.lost && !watch.offStage) {
      watch.falseEntries += 1;
    }
    watch.trueSinceS = undefined;
    watch.seenSinceS = undefined;
    watch.matched = false;
    watch.lost = false;
    watch.offStage = false;
  }
}

function miss(watch: VisitWatch): void {
  if (!isExcused(watch)) watch.missed += 1;
}

/** Whether a visit was late or missed because the performer wasn't trusted, which is no fault of the zone. Counts it. */
function isExcused(watch: VisitWatch): boolean {
  if (watch.lost) watch.duringLoss += 1;
  else if (watch.offStage) watch.comingOn += 1;
  return watch.lost || watch.offStage;
}

function drives(show: Show, zone: number, performer: number): boolean {
  return show.mappings
    .map(mapping => basisOf(show, mapping))
    .some(({ zones, performers }) => zones.has(zone) && performers.has(performer));
}
