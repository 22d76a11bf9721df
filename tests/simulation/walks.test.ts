/**
 * Heads in any mounting follow seeded random walks, as the engine does it: a head that can only go on by
 * way of the dark is faded out, chooses afresh, moves, and comes back.
 */
import { beforeAll, describe, expect, test } from 'vitest';
import { compileMotion } from '../../src/fixtures/head-motion.js';
import { compileHead, type Head } from '../../src/fixtures/kinematics.js';
import {
  aimError,
  chooseWay,
  createPointing,
  followTarget,
  hasArrived,
  POINTING,
  type Pointing,
  placeHead,
} from '../../src/fixtures/pointing.js';
import { poleRegionM } from '../../src/fixtures/pole.js';
import { seededRandom } from '../../src/rehearsal/sensors/random.js';
import { rotationFromTurns } from '../../src/stage/rotation.js';
import { type Degrees, type Radians, toRadians } from '../../src/stage/units.js';
import { vec3 } from '../../src/stage/vector.js';

const SEED = 20260113;
const WALKS = 10_000;
const WALK_S = 6;
const DT_S = 1 / 40;

/** The fastest walk of healthy adults (Bohannon 1997: 1.75 to 2.53 m/s). */
const FASTEST_MPS = 2.53;
/** Half of a sprinter's start (di Prampero et al. 2005: 6.42 m/s2): brisk for anybody in costume. */
const ACCELERATION = 3;
/** Chest height. */
const HEIGHT_M = 1.3;

/** After the pole region and after a move in the dark the head catches up for half a second at most. */
const SETTLE_TICKS = 20;
const FADE_TICKS = 12;
const BOUND_M = 0.05;

const rad = (degrees: number): Radians => toRadians(degrees as Degrees);

const MOUNTINGS = ['hung', 'standing beside the stage', 'tilted', 'sideways'] as const;

/** 540 degrees of pan and 270 of tilt are the usual travel; tilted heads have 360, to come to the end of. */
function headOf(mounting: (typeof MOUNTINGS)[number], random: () => number): Head {
  const side = random() < 0.5 ? -1 : 1;
  const any = () => rad(random() * 360);
  const place = {
    hung: () => ({
      position: vec3(random() * 10, random() * 8, 5 + 2 * random()),
      rotation: rotationFromTurns(rad(0), rad(0), any()),
    }),
    'standing beside the stage': () => ({
      position: vec3(5 + side * 7, random() * 8, 0.3),
      rotation: rotationFromTurns(rad(180), rad(0), any()),
    }),
    tilted: () => ({
      position: vec3(random() * 10, random() * 8, 5 + 2 * random()),
      rotation: rotationFromTurns(rad(random() * 40 - 20), rad(random() * 40 - 20), any()),
    }),
    sideways: () => ({
      position: vec3(5 + side * 7, random() * 8, 1 + 4 * random()),
      rotation: rotationFromTurns(rad(random() < 0.5 ? 90 : 70), rad(0), rad(side * 90)),
    }),
  }[mounting]();
  return compileHead({
    ...place,
    panRange: mounting === 'tilted' ? [rad(-180), rad(180)] : [rad(-270), rad(270)],
    tiltRange: [rad(-135), rad(135)],
  });
}

/** Somebody who walks, turns, runs up and stops on a stage of 10 x 8 m. */
class Walker {
  x: number;
  y: number;
  vx = 0;
  vy = 0;
  #wantedX = 0;
  #wantedY = 0;
  #untilS = 0;
  readonly #random: () => number;

  constructor(random: () => number) {
    this.#random = random;
    this.x = random() * 10;
    this.y = random() * 8;
  }

  step(dtS: number): void {
    this.#untilS -= dtS;
    if (this.#untilS <= 0) {
      this.#untilS = 0.4 + this.#random();
      const speed = this.#random() < 0.2 ? 0 : this.#random() * FASTEST_MPS;
      const angle = this.#random() * 2 * Math.PI;
      this.#wantedX = speed * Math.cos(angle);
      this.#wantedY = speed * Math.sin(angle);
    }
    if (this.x < 0) this.#wantedX = Math.abs(this.#wantedX);
    if (this.x > 10) this.#wantedX = -Math.abs(this.#wantedX);
    if (this.y < 0) this.#wantedY = Math.abs(this.#wantedY);
    if (this.y > 8) this.#wantedY = -Math.abs(this.#wantedY);
    const ax = this.#wantedX - this.vx;
    const ay = this.#wantedY - this.vy;
    const change = Math.hypot(ax, ay);
    const share = change > 0 ? Math.min(1, (ACCELERATION * dtS) / change) : 0;
    this.vx += share * ax;
    this.vy += share * ay;
    this.x += this.vx * dtS;
    this.y += this.vy * dtS;
  }
}

/** What is seen of one head over all of its walk. */
interface Findings {
  /** Largest step of an axis against its speed limit, and change of that against its acceleration. */
  speed: number;
  acceleration: number;
  /** Largest miss in the light: outside of the pole region, and inside, metres. */
  outsideM: number;
  insideM: number;
  insideTicks: number;
  insideWithinBound: number;
  outsideTicks: number;
  movesInTheDark: number;
  unreachable: number;
}

function walk(pointing: Pointing, walker: Walker, findings: Findings): void {
  const { head, motion, numbers } = pointing;
  const { position, rotation: r } = head;
  const region = poleRegionM(FASTEST_MPS, motion);
  let [lit, fading, settling] = [false, 0, SETTLE_TICKS];
  let [lastPanRate, lastTiltRate] = [0, 0];
  placeHead(pointing, 0, 0);
  chooseWay(pointing, walker.x, walker.y, HEIGHT_M, 0, 0, 0);
  for (let i = 0; i < WALK_S / DT_S; i++) {
    walker.step(DT_S);
    const { x, y, vx, vy } = walker;
    if (fading > 0) {
      // Fading out, the head is held.
      fading -= 1;
      if (fading === 0) {
        lit = false;
        lastPanRate = 0;
        lastTiltRate = 0;
        placeHead(pointing, numbers[POINTING.pan] as number, numbers[POINTING.tilt] as number);
        chooseWay(pointing, x, y, HEIGHT_M, vx, vy, 0);
      }
      continue;
    }
    const panBefore = numbers[POINTING.pan] as number;
    const tiltBefore = numbers[POINTING.tilt] as number;
    followTarget(pointing, x, y, HEIGHT_M, vx, vy, 0, DT_S, !lit);
    const panRate = ((numbers[POINTING.pan] as number) - panBefore) / DT_S;
    const tiltRate = ((numbers[POINTING.tilt] as number) - tiltBefore) / DT_S;
    findings.speed = Math.max(
      findings.speed,
      Math.abs(panRate) / motion.pan.speed,
      Math.abs(tiltRate) / motion.tilt.speed,
    );
    findings.acceleration = Math.max(
      findings.acceleration,
      Math.abs(panRate - lastPanRate) / DT_S / motion.pan.acceleration,
      Math.abs(tiltRate - lastTiltRate) / DT_S / motion.tilt.acceleration,
    );
    lastPanRate = panRate;
    lastTiltRate = tiltRate;
    if (!lit) {
      lit = hasArrived(pointing);
      settling = SETTLE_TICKS;
      continue;
    }
    if (!pointing.reachable) findings.unreachable += 1;
    if (pointing.wantsDark) {
      fading = FADE_TICKS;
      findings.movesInTheDark += 1;
      continue;
    }
    const sx = x - position.x;
    const sy = y - position.y;
    const sz = HEIGHT_M - position.z;
    const offAxis = Math.hypot(
      r[0] * sx + r[3] * sy + r[6] * sz,
      r[1] * sx + r[4] * sy + r[7] * sz,
    );
    const missM =
      Math.hypot(sx, sy, sz) * Math.sin(Math.min(Math.PI / 2, aimError(pointing, x, y, HEIGHT_M)));
    if (offAxis < region) {
      settling = SETTLE_TICKS;
      findings.insideTicks += 1;
      if (missM < BOUND_M) findings.insideWithinBound += 1;
      findings.insideM = Math.max(findings.insideM, missM);
    } else if (settling > 0) settling -= 1;
    else {
      findings.outsideTicks += 1;
      findings.outsideM = Math.max(findings.outsideM, missM);
    }
  }
}

describe('10 000 random walks', () => {
  const findings: Findings = {
    speed: 0,
    acceleration: 0,
    outsideM: 0,
    insideM: 0,
    insideTicks: 0,
    insideWithinBound: 0,
    outsideTicks: 0,
    movesInTheDark: 0,
    unreachable: 0,
  };

  beforeAll(() => {
    const random = seededRandom(SEED);
    for (let i = 0; i < WALKS; i++) {
      const mounting = MOUNTINGS[i % MOUNTINGS.length] as (typeof MOUNTINGS)[number];
      const head = headOf(mounting, random);
      walk(createPointing(head, compileMotion(head)), new Walker(random), findings);
    }
  }, 60_000);

  test('no step beyond the speed limit, nor a change of speed beyond the acceleration', () => {
    // 1e-6 is the rounding of a difference of angles.
    expect(findings.speed).toBeLessThan(1 + 1e-6);
    expect(findings.acceleration).toBeLessThan(1 + 1e-6);
  });

  test('outside of the pole region the beam is within 5 cm', () => {
    expect(findings.outsideTicks).toBeGreaterThan(1_000_000);
    expect(findings.outsideM).toBeLessThan(BOUND_M);
  });

  test('inside it mostly too, and never farther off than the region is wide', () => {
    expect(findings.insideTicks).toBeGreaterThan(100_000);
    expect(findings.insideWithinBound / findings.insideTicks).toBeGreaterThan(0.95);
    expect(findings.insideM).toBeLessThan(1.5);
  });

  test('the end of the range is left by way of the dark, and everything is within reach', () => {
    expect(findings.movesInTheDark).toBeGreaterThan(20);
    expect(findings.unreachable).toBe(0);
  });
});
