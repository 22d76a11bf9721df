import { type AimExplanation, type AimQuestion, explainAim } from '../../sheets/explain-aim.js';
import type { FixturePlan } from '../../show/model/model.js';
import { numberHint, rowHint } from '../../show/problems/hints.js';
import { findNamed, nameAdvice } from '../../show/problems/names.js';
import { listed } from '../../show/problems/problem.js';
import { vec3 } from '../../stage/vector.js';
import { loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { refuse } from '../terminal/refuse.js';
import { print, styled } from '../terminal/terminal.js';

const misuse = misuseOf('aim');

export const AIM_HELP = `usage: lampwright aim SHOW FIXTURE X Y Z [--from PAN,TILT] [--velocity X,Y,Z] [--zoom DEG] [--json]

Explains one aim: the angles and slots with which a moving head hits a point of the stage (metres), every
other pair of angles that would, and why one is chosen; the throw, the diameter of the beam, and its illuminance
if the profile gives the luminous flux. Opens no socket.

  --from PAN,TILT     where the head is now, degrees (its base values)
  --velocity X,Y,Z    velocity of a performer at the point, metres per second (standing still)
  --zoom DEG          full angle of the beam, degrees (as a follow mapping sets it, or its base value)
  --json              the same as JSON

examples:
  lampwright aim config/salt-lantern.show.yaml head-right 5 4 0
  lampwright aim config/salt-lantern.show.yaml head-back 2 6 1.5 --from 200,-30 --velocity 1.2,0,0
  lampwright aim my.show.yaml spot-1 -2 4 0 --json | jq .slots

exit codes: 0 within reach, 1 out of reach or a show with errors, 2 bad usage or no such file`;

export async function aim(args: Arguments): Promise<number> {
  const [file = '', name = '', ...coordinates] = args.positionals;
  const faults: string[] = [];
  const [x = 0, y = 0, z = 0] = coordinates.map((text, i) =>
    numberOf(text, ['X', 'Y', 'Z'][i] as string, faults),
  );
  const velocity = numbersOf(args.values.velocity, '--velocity', ['X', 'Y', 'Z'], faults);
  const from = numbersOf(args.values.from, '--from', ['PAN', 'TILT'], faults);
  const [zoomDeg] = numbersOf(args.values.zoom, '--zoom', ['DEG'], faults) ?? [];
  if (zoomDeg !== undefined && !(zoomDeg > 0 && zoomDeg < 180)) {
    faults.push(`--zoom is an angle between 0 and 180 degrees, not ${zoomDeg}.`);
  }
  if (faults.length > 0) return misuse(...faults);
  const loaded = loadShow(file);
  if (!loaded.ok) return refuse(loaded.problems);
  const { show } = loaded;
  const heads = show.fixtures.filter(fixture => fixture.head !== undefined);
  const fixture = findNamed(name, show.fixtures);
  if (fixture === undefined) {
    return misuse(`there is no fixture "${name}".${nameAdvice(name, show.fixtures)}`);
  }
  if (fixture.head === undefined) {
    const others = heads.length === 0 ? 'none can' : `${listed(heads.map(one => one.name))} can`;
    return misuse(
      `fixture "${name}" can't aim: it needs a profile with Pan and Tilt, and a position; ${others}.`,
    );
  }
  const beyond = (['Pan', 'Tilt'] as const).flatMap((axis, i) => {
    const channel = fixture.profile.channels.find(({ attribute }) => attribute === axis);
    const [least, most] = [channel?.from ?? 0, channel?.to ?? 0].sort((a, b) => a - b);
    const given = from?.[i];
    if (given === undefined || least === undefined || most === undefined) return [];
    if (given >= least && given <= most) return [];
    return [
      `--from: ${axis} of "${fixture.name}" goes from ${least} to ${most} degrees, and ${given} is beyond.`,
    ];
  });
  if (beyond.length > 0) return misuse(...beyond);
  const question: AimQuestion = {
    point: vec3(x, y, z),
    velocity: vec3(velocity?.[0] ?? 0, velocity?.[1] ?? 0, velocity?.[2] ?? 0),
    from: from && { panDeg: from[0] as number, tiltDeg: from[1] as number },
    zoomDeg,
  };
  const explained = explainAim(show, fixture, question);
  if (args.values.json === true) {
    print(JSON.stringify({ fixture: fixture.name, point: [x, y, z], ...explained }, undefined, 2));
  } else print(table(fixture, question, explained));
  return explained.reachable ? EXIT.ok : EXIT.failed;
}

function numberOf(text: string, name: string, faults: string[]): number {
  const value = text.trim() === '' ? Number.NaN : Number(text);
  if (!Number.isFinite(value))
    faults.push(`${name} is a number, not "${text}".${numberHint(text)}`);
  return value;
}

/** Reads an option such as `1,2,3`: one number for each name. */
function numbersOf(
  text: string | boolean | undefined,
  option: string,
  names: readonly string[],
  faults: string[],
): number[] | undefined {
  if (typeof text !== 'string') return undefined;
  const parts = text.split(',');
  if (parts.length !== names.length) {
    faults.push(
      `${option} takes ${names.join(',')}, not "${text}".${rowHint(parts, names.length)}`,
    );
    return undefined;
  }
  return parts.map((part, i) => numberOf(part, `${names[i]} of ${option}`, faults));
}

const LABEL_WIDTH = 18;

function table(fixture: FixturePlan, question: AimQuestion, aim: AimExplanation): string {
  const { point, velocity } = question;
  const moving = Math.hypot(velocity.x, velocity.y, velocity.z) > 0;
  const head = fixture.head?.position ?? vec3(0, 0, 0);
  const row = (label: string, text: string) => `  ${label.padEnd(LABEL_WIDTH)}${text}`;
  const lines = [
    `${styled('bold', fixture.name)}  ${fixture.label === fixture.name ? '' : `${fixture.label}, `}${fixture.profile.name}, at ${triple(head)} m`,
    row('point', `${triple(point)} m${moving ? `, moving at ${triple(velocity)} m/s` : ''}`),
    row('throw', `${metres(aim.throwM)} m`),
    row('aim', `pan ${degrees(aim.panDeg)}, tilt ${degrees(aim.tiltDeg)}`),
  ];
  // To the head itself there is no direction that could be missed.
  if (!aim.reachable && aim.missedByDeg > 0) {
    lines.push(row('', styled('red', `misses the point by ${degrees(aim.missedByDeg)}`)));
  }
  lines.push(row('because', aim.why));
  if (aim.solutions.length > 0) {
    lines.push(
      '',
      row('both ways round', 'pan        tilt       way    travel    pan left  penalty'),
      ...aim.solutions.map((one, i) =>
        row(
          i === 0 ? '  chosen' : '',
          `${degrees(one.panDeg).padEnd(11)}${degrees(one.tiltDeg).padEnd(11)}${one.way.padEnd(7)}` +
            `${`${one.travelS.toFixed(2)} s`.padEnd(10)}${`${one.roomDeg.toFixed(0)}°`.padEnd(10)}${(one.costS - one.travelS).toFixed(2)} s`,
        ),
      ),
      row(
        '',
        `travel from pan ${degrees(aim.from.panDeg)}, tilt ${degrees(aim.from.tiltDeg)}; pan left before its end, and`,
      ),
      row('', 'a penalty where that is less than 180°: travel and penalty together decide'),
    );
  }
  lines.push('');
  for (const { attribute, raw, universe, addresses, levels } of aim.slots) {
    const where = `${universe}/${addresses.join('+')}`;
    lines.push(row(attribute, `slots ${where} at ${levels.join(' ')}  (raw ${raw})`));
  }
  lines.push(row('rounding', `${(aim.roundingM * 1000).toFixed(1)} mm at the point`));
  const { offAxisM, regionM, speedMps } = aim.pole;
  lines.push(
    row(
      'pan axis',
      `${metres(offAxisM)} m from the point; within ${metres(regionM)} m of it pan can't keep up with a walk of ${speedMps.toFixed(1)} m/s`,
    ),
  );
  lines.push(
    row(
      'prediction',
      `aims where a performer will be ${(aim.predictedS * 1000).toFixed(0)} ms later`,
    ),
  );
  if (aim.beam !== null) {
    const { angleDeg, source, diameterM, irisPercent } = aim.beam;
    const iris = irisPercent === undefined ? '' : `, Iris at ${Number(irisPercent.toFixed(1))} %`;
    lines.push(
      row(
        'beam',
        `${metres(diameterM)} m across, ${degrees(angleDeg)} (${SOURCES[source]})${iris}`,
      ),
    );
  }
  if (aim.shut !== null) lines.push(row('', styled('red', `no light comes out: ${aim.shut}`)));
  if (aim.light !== null) {
    const { intensityCd, facingLx, levelLx } = aim.light;
    lines.push(
      row(
        'illuminance',
        `${facingLx.toFixed(0)} lx facing the head, ${levelLx.toFixed(0)} lx on a level surface, at full (${intensityCd.toFixed(0)} cd, an even cone)`,
      ),
    );
  }
  return lines.join('\n');
}

const SOURCES = {
  asked: '--zoom',
  held: 'held by zoom',
  follow: 'as following',
  base: 'its base value',
  profile: 'of the profile',
} as const;

function triple({ x, y, z }: { x: number; y: number; z: number }): string {
  return [x, y, z].map(value => String(Number(value.toFixed(3)))).join(', ');
}

function metres(value: number): string {
  return value.toFixed(2);
}

function degrees(value: number): string {
  // Prints -0.00 as 0.00.
  return `${(Math.round(value * 100) / 100 + 0).toFixed(2)}°`;
}
