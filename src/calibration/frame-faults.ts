import type { Radians } from '../stage/units.js';
import { toDegrees } from '../stage/units.js';
import { distance } from '../stage/vector.js';
import { type Finding, metres } from './finding.js';
import type { FrameFit, FrameOptions, Marker } from './frame-data.js';
import { fitRigid, type Pair, placed, spreadOf } from './rigid.js';

/** Markers have to spread at least this far across the line through them, metres and as a share of its length. */
const LEAST_ACROSS_M = 0.25;
const LEAST_ACROSS_SHARE = 0.1;
/** Farther from 1 than this, a scale is a wrong unit or a wrong tape, not a survey that is a little off. */
const FAR_SCALE = 0.05;
/** A scale nearer to 1 than this isn't mentioned, however certain it is: 5 cm over 10 m. */
const NEAR_SCALE = 0.005;
/** A steeper tilt means that the axes of the feed aren't those declared; no theatre rakes its floor so much. */
const STEEP_DEGREES = 20;
/** A tilt above this is worth a warning: 20 cm in height over 6 m. */
const TILTED_DEGREES = 2;
/** All orders of up to this many markers are tried (720 fits). */
const MOST_PERMUTED = 6;

/** Units that a feed may really be in, with their length in metres. */
const UNITS: readonly (readonly [name: string, metres: number])[] = [
  ['mm', 0.001],
  ['cm', 0.01],
  ['in', 0.0254],
  ['ft', 0.3048],
];

/** Why these markers can't give a frame; undefined if they can. */
export function inLine(
  used: readonly Marker[],
  { level }: Pick<FrameOptions, 'level'>,
): Finding | undefined {
  const fewest = level ? 2 : 3;
  if (used.length < fewest) {
    return {
      level: 'error',
      code: 'few-markers',
      what: `${used.length} marker${used.length === 1 ? '' : 's'} for the fit; a frame needs ${fewest}${level ? ' when it is level' : ''}.`,
      act: 'Add markers, far apart: the origin, one along x, one along y, and one more to check.',
    };
  }
  const [along, across] = spreadOf(used.map(marker => marker.stage)).lengths;
  if (along < LEAST_ACROSS_M) {
    return {
      level: 'error',
      code: 'markers-close',
      what: `the markers lie within ${metres(2 * along)} of each other.`,
      act: 'Spread them over the whole stage: their errors grow towards the far corners.',
    };
  }
  if (!level && across < Math.max(LEAST_ACROSS_M, LEAST_ACROSS_SHARE * along)) {
    return {
      level: 'error',
      code: 'markers-in-line',
      what: 'the markers lie in one line, and the stage can be turned about it.',
      act: 'Put a marker far off that line; or, if the tracking system is level, fit with --level.',
    };
  }
  return undefined;
}

/** The findings about a fit, the worst first. */
export function diagnose(
  markers: readonly Marker[],
  fit: Omit<FrameFit, 'findings'>,
  deviationM: number,
  options: FrameOptions,
): Finding[] {
  const unit = unitFault(fit, options);
  // With a wrong unit everything else is wrong as well, and would only hide it.
  if (unit !== undefined) return [unit];
  const findings: Finding[] = [];
  const used = markers.filter(marker => marker.use === 'fit');
  const upright = fit.placement.rotation[8] > 0;
  const bad = !upright || fit.markers.some(marker => marker.offM > options.toleranceM);
  const swapped = bad ? swapFault(markers, fit, options) : undefined;
  if (swapped !== undefined) findings.push(swapped);
  else {
    const mirrored = mirrorFault(used, fit, options, upright);
    if (mirrored !== undefined) findings.push(mirrored);
    else findings.push(...markerFaults(used, fit, options), ...checkFaults(fit, options));
  }
  if (findings.length === 0) {
    findings.push(...scaleFaults(fit, options), ...tiltFaults(fit, options));
    if (fit.worstCornerM > options.toleranceM) {
      findings.push({
        level: 'warning',
        code: 'weak-fit',
        what: `at the far corner of the stage, places are uncertain by about ${metres(fit.worstCornerM)} (one marker: ${metres(deviationM)}).`,
        act: 'Use more markers, nearer to the corners of the stage, or average longer.',
      });
    }
    if (!fit.markers.some(marker => marker.use === 'check')) {
      findings.push({
        level: 'note',
        code: 'no-check',
        what: 'there is no check marker: nothing independent confirms the fit.',
        act: 'Tape one more marker far from the others, and give it the use "check".',
      });
    }
  }
  return findings;
}

function unitFault(
  { scale: { ratio } }: Pick<FrameFit, 'scale'>,
  { fitScale }: FrameOptions,
): Finding | undefined {
  if (Math.abs(ratio - 1) <= FAR_SCALE) return undefined;
  // The feed is read as metres, or as one of these units while it really is in metres or another.
  const candidates = UNITS.flatMap(([name, size]) =>
    [1, ...UNITS.map(([, other]) => other)].flatMap(read => [
      { unit: name, ratio: size / read },
      { unit: 'm', ratio: 1 / size },
    ]),
  );
  const near = candidates.find(one => Math.abs(ratio / one.ratio - 1) < FAR_SCALE);
  if (near !== undefined) {
    return {
      level: 'error',
      code: 'unit',
      what: `a tracked metre is ${ratio.toPrecision(3)} taped metres: the feed is in a different unit from what the route says.`,
      act: `Look up the unit of the feed (it may be "${near.unit}"), set \`unit\` in the route of the input, and measure again.`,
    };
  }
  if (fitScale && ratio > 0.5 && ratio < 2) return undefined;
  return {
    level: 'error',
    code: 'scale-far',
    what: `a tracked metre is ${ratio.toPrecision(3)} taped metres, which is not explained by any unit.`,
    act: 'Tape the distances again, and check the survey of the anchors. A frame fitted to these markers would be wrong everywhere.',
  };
}

/** A finding if the markers would fit with some of them swapped. */
function swapFault(
  markers: readonly Marker[],
  fit: Omit<FrameFit, 'findings'>,
  options: FrameOptions,
): Finding | undefined {
  const used = markers.filter(marker => marker.use === 'fit');
  if (used.length > MOST_PERMUTED || used.length < 3) return undefined;
  const worstNow = Math.max(...fit.markers.map(marker => marker.offM));
  let best: { moved: string[]; worst: number }[] = [];
  for (const order of permutations(used.length)) {
    const moved = used.filter((_, i) => order[i] !== i);
    if (moved.length === 0) continue;
    const pairs = used.map((marker, i) => ({
      stage: marker.stage,
      tracking: used[order[i] ?? i]?.tracking ?? marker.tracking,
    }));
    const placement = fitRigid(pairs, { scale: options.now.scale, level: options.level });
    if (placement.rotation[8] < 0.5) continue;
    const all: readonly Pair[] = [...pairs, ...markers.filter(marker => marker.use === 'check')];
    const worst = Math.max(...all.map(one => distance(placed(placement, one.tracking), one.stage)));
    if (worst > options.toleranceM) continue;
    if (fit.placement.rotation[8] > 0 && worst > worstNow / 3) continue;
    const names = moved.map(marker => marker.name);
    if (best[0] === undefined || names.length < best[0].moved.length) best = [];
    if (best[0] === undefined || names.length === best[0].moved.length) {
      best.push({ moved: names, worst });
    }
  }
  if (best.length === 0) return undefined;
  const sets = [...new Set(best.map(one => one.moved.map(name => `"${name}"`).join(' and ')))];
  return {
    level: 'error',
    code: 'markers-swapped',
    what: `the markers fit within ${metres(Math.min(...best.map(one => one.worst)))} if ${sets.join(', or ')} change places.`,
    act: 'Check which tracker stood where, correct the names, and fit again.',
  };
}

function* permutations(count: number): Generator<readonly number[]> {
  const order = Array.from({ length: count }, (_, i) => i);
  function* from(start: number): Generator<readonly number[]> {
    if (start === count) {
      yield order;
      return;
    }
    for (let i = start; i < count; i++) {
      [order[start], order[i]] = [order[i] ?? 0, order[start] ?? 0];
      yield* from(start + 1);
      [order[start], order[i]] = [order[i] ?? 0, order[start] ?? 0];
    }
  }
  yield* from(0);
}

/**
 * A finding if the mirror image fits better: the feed is left-handed. If the markers lie in one plane, the
 * mirror image turned over fits just as well; then only the floor, which becomes a ceiling, tells.
 */
function mirrorFault(
  used: readonly Marker[],
  fit: Omit<FrameFit, 'findings'>,
  options: FrameOptions,
  upright: boolean,
): Finding | undefined {
  const turnedOver = used.map(({ stage, tracking: { x, y, z } }) => ({
    stage,
    tracking: { x: -x, y: -y, z: -z },
  }));
  const mirror = fitRigid(turnedOver, { scale: options.now.scale, level: options.level });
  const off = turnedOver.map(one => distance(placed(mirror, one.tracking), one.stage));
  const rmsM = Math.sqrt(off.reduce((sum, one) => sum + one * one, 0) / off.length);
  if (fit.rmsM > options.toleranceM && rmsM < Math.min(options.toleranceM, fit.rmsM / 3)) {
    return {
      level: 'error',
      code: 'mirrored',
      what: `the mirror image of the tracked places fits within ${metres(rmsM)}, the places themselves only within ${metres(fit.rmsM)}.`,
      act: 'The feed is left-handed, or one of its axes is the other way round: put a minus before one axis in `axes` of the route (or take one away), and measure again.',
    };
  }
  const [along, , thick] = spreadOf(used.map(marker => marker.stage)).lengths;
  if (upright || thick > Math.max(LEAST_ACROSS_M, LEAST_ACROSS_SHARE * along)) return undefined;
  return {
    level: 'error',
    code: 'upside-down',
    what: 'the markers fit, but upside down: a tracker that is lifted would sink.',
    act: 'Either two markers are swapped, or the feed counts z downwards or is left-handed. Look at the feed while you lift a tracker: if its height falls, flip the sign of the third of `axes` in the route; otherwise check which tracker stood where. One more point a metre or more above the floor decides it.',
  };
}

function markerFaults(
  used: readonly Marker[],
  fit: Omit<FrameFit, 'findings'>,
  { toleranceM, level, now, fitScale }: FrameOptions,
): Finding[] {
  const off = fit.markers.filter(one => one.use === 'fit' && one.offM > toleranceM);
  if (off.length === 0) return [];
  // Leave out each in turn: if the others agree without it, it is the wrong one.
  const least = level ? 3 : 4;
  const alone =
    used.length <= least
      ? []
      : used.filter(suspect => {
          const others = used.filter(one => one !== suspect);
          if (inLine(others, { level }) !== undefined) return false;
          const without = fitRigid(others, { scale: fitScale ? 'free' : now.scale, level });
          const worst = Math.max(
            ...others.map(one => distance(placed(without, one.tracking), one.stage)),
          );
          return worst < Math.min(toleranceM, fit.rmsM / 2);
        });
  const [suspect] = alone;
  if (alone.length === 1 && suspect !== undefined) {
    const others = used.filter(one => one !== suspect);
    const without = fitRigid(others, { scale: fitScale ? 'free' : now.scale, level });
    return [
      {
        level: 'error',
        code: 'marker-disagrees',
        what: `the others agree without "${suspect.name}", which lies ${metres(distance(placed(without, suspect.tracking), suspect.stage))} from where they put it.`,
        act: `Tape "${suspect.name}" again, look for metal or a body beside its tracker, and average it once more; or leave it out.`,
      },
    ];
  }
  return [
    {
      level: 'error',
      code: 'markers-disagree',
      what: `${off.map(one => `"${one.name}" is ${metres(one.offM)} off`).join(', ')}, and no single marker is to blame.`,
      act: 'Tape them again, and find out how well the tracking works at these places (anchors in view, metal nearby). If it is no better there, allow more with --tolerance.',
    },
  ];
}

function checkFaults(
  { markers }: Omit<FrameFit, 'findings'>,
  { toleranceM }: FrameOptions,
): Finding[] {
  return markers
    .filter(one => one.use === 'check' && one.offM > toleranceM)
    .map(one => ({
      level: 'error',
      code: 'check-disagrees',
      what: `the markers agree among themselves, but the check marker "${one.name}" is ${metres(one.offM)} off (${metres(one.offHorizontalM)} on the floor).`,
      act: 'Tape it again, and the one that is farthest from the others. If the tape is right, the tracking distorts the room: check its accuracy between the markers, and fit with more of them.',
    }));
}

function scaleFaults(
  { scale: { ratio, error } }: Omit<FrameFit, 'findings'>,
  { fitScale, now }: FrameOptions,
): Finding[] {
  const applied = fitScale ? ratio : now.scale;
  const left = ratio / applied - 1;
  if (Math.abs(left) <= Math.max(NEAR_SCALE, 3 * error)) return [];
  return [
    {
      level: 'warning',
      code: 'scale',
      what: `by tape, distances are ${Math.abs(100 * left).toFixed(1)} % ${left > 0 ? 'longer' : 'shorter'} than by tracking (give or take ${(100 * error).toFixed(1)} %).`,
      act: 'Check the survey of the anchors first: that is the usual cause. Only if the survey has to stay as it is, put the scale into the frame with --scale.',
    },
  ];
}

function tiltFaults(
  { tilt, turnErrors }: Omit<FrameFit, 'findings'>,
  { level }: FrameOptions,
): Finding[] {
  if (level) return [];
  const degrees = toDegrees(tilt as Radians);
  const errorDegrees = toDegrees(Math.hypot(turnErrors[0], turnErrors[1]) as Radians);
  if (degrees > STEEP_DEGREES) {
    return [
      {
        level: 'warning',
        code: 'axes',
        what: `the feed's third axis is ${degrees.toFixed(0)} degrees off the vertical.`,
        act: 'The frame corrects it; but if another axis of the feed points up, say so with `axes` in the route and fit again: that is easier to read.',
      },
    ];
  }
  if (degrees > Math.max(TILTED_DEGREES, 2 * errorDegrees)) {
    return [
      {
        level: 'warning',
        code: 'tilt',
        what: `the floor of the tracking system is tilted by ${degrees.toFixed(1)} degrees against the stage's (give or take ${errorDegrees.toFixed(1)}).`,
        act: 'On a raked stage that is right if x and y of the markers were measured on the level. Otherwise check the heights of the anchors, and of the trackers on the markers.',
      },
    ];
  }
  if (degrees <= 2 * errorDegrees) {
    return [
      {
        level: 'note',
        code: 'level',
        what: `the tilt found, ${degrees.toFixed(2)} degrees, is no more than the noise (${errorDegrees.toFixed(2)}).`,
        act: 'If the tracking system was levelled when its anchors were surveyed, --level keeps it so.',
      },
    ];
  }
  return [];
}
