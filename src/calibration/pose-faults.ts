import { IDENTITY } from '../stage/rotation.js';
import { type Radians, toDegrees } from '../stage/units.js';
import { distance } from '../stage/vector.js';
import {
  type AimSample,
  beamOf,
  type Free,
  freeCount,
  freedomOf,
  headOfPose,
} from './aim-model.js';
import { type Finding, metres } from './finding.js';
import type { FixtureOptions } from './fixture-options.js';
import { type SolvedPose, solvePose } from './pose.js';
import { chiSquareQuantile, sampleResults } from './pose-quality.js';
import { spreadOf } from './rigid.js';

/** Points nearer than this to each other count as one place. */
const SAME_PLACE_M = 0.2;
/** Points have to spread at least this far across the line through them, metres and as a share of its length. */
const LEAST_ACROSS_M = 0.3;
const LEAST_ACROSS_SHARE = 0.08;
/** Aims within a narrower cone say little of where the head hangs. */
const NARROW_DEGREES = 8;
/** Quantiles of the normal distribution for 1 in 100 and 1 in 1000 (one side). */
const NORMAL_99 = 2.3263;
const NORMAL_999 = 3.0902;
/** A sample counts as wrong if one so far off is less likely than this among all samples. */
const UNLIKELY = 0.01;
/** One wrong sample makes its neighbours unlikely too; only this many suspects are tried. */
const MOST_SUSPECTS = 4;
/** Two solutions whose chi-squares differ by less fit equally well (1 in 20, 2 degrees of freedom). */
const AS_GOOD = 6;
/** Solutions nearer to each other than this are one place to a person. */
const APART_M = 0.5;
/** A position in a show that was taken from a plan or a tape is not farther off. */
const NEAR_SHOW_M = 1;

/** Why these samples can't give a pose; undefined if they can. */
export function degenerate(samples: readonly AimSample[], free: Free): Finding | undefined {
  const fewest = free.position ? (free.trim ? 5 : 4) : free.trim ? 3 : 2;
  const error = (code: string, what: string, act: string): Finding => ({
    level: 'error',
    code,
    what,
    act,
  });
  if (samples.length < fewest) {
    return error(
      'few-samples',
      `${samples.length} ${samples.length === 1 ? 'sample' : 'samples'}; at least ${fewest} are needed${free.position ? ', as three leave up to four places that fit' : ''}.`,
      `Take ${fewest + 1} or more, spread over the whole stage${free.position ? '; with the position known, --keep-position needs two' : ''}.`,
    );
  }
  const places: AimSample[] = [];
  for (const sample of samples) {
    if (places.every(one => distance(one.point, sample.point) > SAME_PLACE_M)) places.push(sample);
  }
  if (places.length < fewest) {
    return error(
      'few-places',
      `the samples are at ${places.length} ${places.length === 1 ? 'place' : 'places'} only; at least ${fewest} are needed.`,
      'Aim at other points: the same points again add nothing.',
    );
  }
  const beams = samples.map(sample =>
    beamOf(headOfPose({ position: sample.point, rotation: IDENTITY, tiltTrim: 0 }), sample, 0),
  );
  const cone = Math.max(
    ...beams.flatMap(a => beams.map(b => Math.acos(1 - distance(a, b) ** 2 / 2))),
  );
  if (toDegrees(cone as Radians) < NARROW_DEGREES) {
    return error(
      'narrow',
      `all the aims lie within ${toDegrees(cone as Radians).toFixed(1)} degrees of each other.`,
      'Aim at points all over the stage: a narrow set fits many positions of the head.',
    );
  }
  const [along, across] = spreadOf(samples.map(sample => sample.point)).lengths;
  if (free.position && across < Math.max(LEAST_ACROSS_M, LEAST_ACROSS_SHARE * along)) {
    return error(
      'points-in-line',
      'the points lie in one line: nothing shows how the head is turned about that line.',
      'Take a sample well off the line, to the side or higher up.',
    );
  }
  return undefined;
}

/**
 * The solution that is meant, of those that the samples lead to (the best first): if several fit equally
 * well, the one near the place that the show has for the head.
 */
export function chosenEnd(
  ends: readonly SolvedPose[],
  { now }: Pick<FixtureOptions, 'now'>,
): SolvedPose | undefined {
  const [best] = ends;
  if (best === undefined) return undefined;
  const asGood = ends.filter(end => end.chiSquare - best.chiSquare < AS_GOOD);
  return asGood.find(end => isNear(end, now)) ?? best;
}

function isNear({ pose }: SolvedPose, now: FixtureOptions['now']): boolean {
  return now !== undefined && distance(pose.position, now.position) < NEAR_SHOW_M;
}

/** The findings about the chosen solution. */
export function diagnosePose(
  samples: readonly AimSample[],
  best: SolvedPose,
  ends: readonly SolvedPose[],
  free: Free,
  options: FixtureOptions,
): Finding[] {
  const freedom = freedomOf(samples, free);
  const reversed = reversedFault(samples, best.chiSquare, free, options);
  if (reversed !== undefined) return [reversed];
  // Leaving out a sample costs its two numbers, a trim one parameter: the explanation that is better for
  // its price (Schwarz 1978) is reported.
  const wrong = outlierFault(samples, best, freedom, free, options);
  const trim = trimFault(samples, best, freedom, free, options);
  const price = Math.log(2 * samples.length);
  if (trim !== undefined && !(wrong !== undefined && wrong.chiSquare + price < trim.chiSquare)) {
    return [trim.finding];
  }
  if (wrong !== undefined) return [wrong.finding];
  const other = ends.find(
    end =>
      end !== best &&
      end.chiSquare - best.chiSquare < AS_GOOD &&
      distance(end.pose.position, best.pose.position) > APART_M,
  );
  if (other !== undefined) {
    const at = ({ pose: { position: p } }: SolvedPose) =>
      `(${p.x.toFixed(1)}, ${p.y.toFixed(1)}, ${p.z.toFixed(1)})`;
    const settled = isNear(best, options.now) && !isNear(other, options.now);
    return [
      {
        level: settled ? 'warning' : 'error',
        code: 'ambiguous',
        what: `two places explain the aims: ${at(best)} and ${at(other)}${settled ? '; the one nearer to the place in the show is taken' : ''}.`,
        act: 'Take one more sample, far from the others and at another height.',
      },
    ];
  }
  if (!isScattered(best.chiSquare, freedom)) return [];
  const times = Math.sqrt(best.chiSquare / freedom);
  return [
    {
      level: times > 10 ? 'error' : 'warning',
      code: 'scattered',
      what: `the samples scatter ${times.toFixed(1)} times as much as --reading and --point allow, and no single sample explains it.`,
      act: 'Make sure that the points are right, that the beam was as small as it goes, and that the ranges of Pan and Tilt in the profile are those of the fixture; the errors below are widened to match.',
    },
  ];
}

export function isScattered(chiSquare: number, freedom: number): boolean {
  return freedom > 0 && chiSquare > chiSquareQuantile(freedom, NORMAL_99);
}

/**
 * A head whose pan turns the other way is a mirror image of the one in the profile. A tilt that turns the
 * other way is no case of its own: it is the same as a pan half a turn further.
 */
export function reversedFault(
  samples: readonly AimSample[],
  chiSquare: number,
  free: Free,
  { noise, now, bounds }: FixtureOptions,
): Finding | undefined {
  const freedom = Math.max(1, freedomOf(samples, free));
  if (!(chiSquare > chiSquareQuantile(freedom, NORMAL_999))) return undefined;
  const turned = samples.map(sample => ({ ...sample, pan: -sample.pan as Radians }));
  const [mirrored] = solvePose(turned, { noise, free, now, bounds });
  if (mirrored === undefined || mirrored.chiSquare > chiSquare / 10) return undefined;
  // A mirrored pan that fits badly explains nothing.
  if (mirrored.chiSquare > 10 * chiSquareQuantile(freedom, NORMAL_999)) return undefined;
  return {
    level: 'error',
    code: 'pan-reversed',
    what: 'the aims fit if the pan turns the other way round.',
    act: 'Swap the two ends of the range of Pan in the profile (or check whether the desk inverts the pan), and calibrate again.',
  };
}

/** A cause that would explain a poor fit, and how well the samples would fit then. */
interface Explanation {
  readonly finding: Finding;
  readonly chiSquare: number;
}

/** A sample so far off that the others agree without it. */
function outlierFault(
  samples: readonly AimSample[],
  best: SolvedPose,
  freedom: number,
  free: Free,
  { noise, bounds }: FixtureOptions,
): Explanation | undefined {
  const results = sampleResults(best, samples);
  const suspects = results
    .map((result, i) => ({ result, i }))
    .filter(({ result }) => result.likelihood < UNLIKELY / samples.length)
    .sort((a, b) => a.result.likelihood - b.result.likelihood)
    .slice(0, MOST_SUSPECTS);
  if (suspects.length === 0 || freedom < 3) return undefined;
  // Leave out each suspect in turn: the wrong one is the one without which the rest agrees best.
  const tried = suspects
    .map(({ result, i }) => {
      const others = samples.filter((_, k) => k !== i);
      if (degenerate(others, free) !== undefined) return undefined;
      const [without] = solvePose(others, { noise, free, now: best.pose, bounds });
      return without === undefined ? undefined : { result, i, without };
    })
    .filter(one => one !== undefined)
    .sort((a, b) => a.without.chiSquare - b.without.chiSquare);
  const [worst] = tried;
  if (worst === undefined || isScattered(worst.without.chiSquare, freedom - 2)) return undefined;
  const { pose } = worst.without;
  const sample = samples[worst.i];
  if (sample === undefined) return undefined;
  const beam = beamOf(headOfPose(pose), sample, pose.tiltTrim);
  const far = distance(sample.point, pose.position);
  const passes = {
    x: pose.position.x + far * beam.x,
    y: pose.position.y + far * beam.y,
    z: pose.position.z + far * beam.z,
  };
  const finding: Finding = {
    level: 'error',
    code: 'sample-disagrees',
    what: `the others agree without the sample of ${sample.label}, whose beam they put ${metres(distance(passes, sample.point))} from its point.`,
    act: 'Take it again, or leave it out (--leave-out, or a # before its line).',
  };
  return { finding, chiSquare: worst.without.chiSquare };
}

/** A trim of the tilt that the samples call for, if it isn't solved anyway. */
function trimFault(
  samples: readonly AimSample[],
  best: SolvedPose,
  freedom: number,
  free: Free,
  { noise, now, bounds }: FixtureOptions,
): Explanation | undefined {
  if (free.trim || freedom < 4) return undefined;
  const [trimmed] = solvePose(samples, {
    noise,
    free: { ...free, trim: true },
    now: free.position ? best.pose : now,
    bounds,
  });
  if (trimmed === undefined || isScattered(trimmed.chiSquare, freedom - 1)) return undefined;
  // 1 in 1000 by chance: 3.29 standard deviations.
  if (best.chiSquare - trimmed.chiSquare < 10.83) return undefined;
  const index = freeCount({ ...free, trim: true });
  const error = Math.sqrt(trimmed.covariance?.at(index - 1, index - 1) ?? Infinity);
  const degrees = (angle: number) => toDegrees(angle as Radians).toFixed(2);
  const finding: Finding = {
    level: 'warning',
    code: 'trim',
    what: `the tilt seems to be off by ${degrees(trimmed.pose.tiltTrim)} degrees (give or take ${degrees(error)}).`,
    act: 'Reset the fixture so that it finds its zero again; if that does not help, solve the trim as well with --trim.',
  };
  return { finding, chiSquare: trimmed.chiSquare };
}
