import { compileTemplate } from '../../protocols/osc/address.js';
import { enumerated } from '../../stage/enumerated.js';
import { own } from '../../stage/own.js';
import type { Finding, Path } from '../problems/problem.js';
import { operandsOf } from '../resolve/chains.js';
import { groupOf, kindOfGroup, peopleOf } from '../resolve/groups.js';
import { oscInputsOf } from '../resolve/routes.js';
import { type SignalFigures, signalFigures, UNIT_WORDS } from '../resolve/signal-figures.js';
import { carrierOf, type ShowFile } from '../schema/schema.js';
import { EACH, type PeopleFile, type PlaceFile, type SignalFile } from '../schema/signals.js';
import { checkCircles } from './circles.js';
import { checkGrowth } from './curves.js';
import { NameCheck } from './names.js';

/** Names, units and ranges of the signals. */
export function checkSignals(show: ShowFile): Finding[] {
  const figures = signalFigures(show);
  const names = new NameCheck(show);
  const findings: Finding[] = [];
  for (const [name, signal] of Object.entries(show.signals)) {
    const path = ['signals', name];
    findings.push(...checkSource(names, signal, path), ...checkUnits(signal, name, figures, path));
    const { range, curve } = signal;
    if (range !== undefined && range[0] === range[1]) {
      findings.push({
        code: 'signal-range',
        message: `the range of signal "${name}" is from ${range[0]} to ${range[1]}: its two ends must differ.`,
        path: [...path, 'range'],
      });
    }
    if (curve !== undefined && typeof curve !== 'string') {
      findings.push(...checkGrowth(curve, [...path, 'curve']));
    }
  }
  return [...names.findings, ...findings, ...checkCircles(show)];
}

function checkSource(names: NameCheck, signal: SignalFile, path: Path): Finding[] {
  if ('presence' in signal) {
    const { zone, of, every } = signal.presence;
    return checkPresence(names, zone, of, every, [...path, 'presence'], 'zone');
  }
  if ('count' in signal) {
    const { zone, of } = signal.count;
    return checkPresence(names, zone, of, undefined, [...path, 'count'], 'zone');
  }
  if ('distance' in signal) return checkDistance(names, signal.distance, [...path, 'distance']);
  if ('along' in signal) {
    names.one('performers', signal.along.of, [...path, 'along', 'of']);
    return checkLine(signal.along.line, [...path, 'along', 'line']);
  }
  if ('across' in signal) {
    const { of, zone } = signal.across;
    const at = [...path, 'across'];
    names.one('performers', of, [...at, 'of']);
    names.one('zones', zone, [...at, 'zone']);
    return ownZone(names.show, zone, [of], [...at, 'of']);
  }
  if ('height' in signal) names.people(signal.height, [...path, 'height']);
  if ('speed' in signal) names.people(signal.speed, [...path, 'speed']);
  if ('heading' in signal) {
    const { of, towards } = signal.heading;
    const at = [...path, 'heading'];
    names.one('performers', of, [...at, 'of']);
    if (typeof towards === 'number') return [];
    return [
      ...checkPlace(names, towards, [...at, 'towards']),
      ...(towards === of ? [toThemselves(of, [...at, 'towards'])] : []),
    ];
  }
  if ('time' in signal) names.one('conditions', signal.time, [...path, 'time']);
  if ('slot' in signal) {
    const [name, coarse, fine] = signal.slot;
    names.one('desk', name, [...path, 'slot', 0]);
    if (coarse !== fine) return [];
    return [
      {
        code: 'bad-value',
        message: `slot ${coarse} of "${name}" is given as coarse and as fine. The second slot is the fine one; leave it out for 8 bits.`,
        path: [...path, 'slot', 2],
      },
    ];
  }
  if ('osc' in signal) return checkOsc(names, signal.osc, [...path, 'osc']);
  for (const kind of ['product', 'sum', 'least', 'greatest'] as const) {
    const operands = (signal as Partial<Record<typeof kind, readonly (string | number)[]>>)[kind];
    operands?.forEach((one, i) => {
      if (typeof one === 'string') names.one('signals', one, [...path, kind, i]);
    });
  }
  if ('inverse' in signal) names.one('signals', signal.inverse, [...path, 'inverse']);
  return [];
}

/** Presence of people in a zone, in a signal or a condition. */
export function checkPresence(
  names: NameCheck,
  zone: string,
  of: PeopleFile | undefined,
  every: PeopleFile | undefined,
  path: Path,
  zoneKey: string,
): Finding[] {
  names.one('zones', zone, [...path, zoneKey]);
  names.people(of, [...path, 'of']);
  names.people(every, [...path, 'every']);
  const findings: Finding[] = [];
  if (of !== undefined && every !== undefined) {
    findings.push({
      code: 'bad-value',
      message:
        'it has both of and every: with `of` one of them is enough, with `every` all must be there. Keep one of the two.',
      path: [...path, 'every'],
      atKey: true,
    });
  }
  const said = every ?? of;
  const whose = peopleOf(names.show, said);
  return [
    ...findings,
    ...ownZone(names.show, zone, whose, [...path, every === undefined ? 'of' : 'every']),
  ];
}

/** Nobody but the performer with whom the zone moves. */
export function ownZone(
  show: ShowFile,
  zone: string,
  whose: readonly string[],
  path: Path,
): Finding[] {
  const around = carrierOf(own(show.zones, zone));
  if (around === undefined || whose.some(name => name !== around)) return [];
  return [
    {
      code: 'zone-of-their-own',
      message: `zone "${zone}" moves with "${around}", who is always in the middle of it; name somebody else.`,
      path,
    },
  ];
}

function checkDistance(
  names: NameCheck,
  [one, other]: readonly [PlaceFile, PlaceFile],
  path: Path,
): Finding[] {
  const findings = [
    ...checkPlace(names, one, [...path, 0]),
    ...checkPlace(names, other, [...path, 1]),
  ];
  if (findings.length > 0 || !isKnown(names.show, one) || !isKnown(names.show, other))
    return findings;
  const [first, second] = [peopleAt(names.show, one), peopleAt(names.show, other)];
  if (first === undefined && second === undefined) {
    const moving = [one, other].some(
      place => typeof place === 'string' && carrierOf(own(names.show.zones, place)) !== undefined,
    );
    findings.push({
      code: 'signal-constant',
      message: `neither end of this distance is a performer, so ${moving ? 'nobody walks towards the zone' : 'it never changes'}; name a performer or a group of them.`,
      path,
    });
  } else if (first?.length === 1 && second?.length === 1 && first[0] === second[0]) {
    findings.push(toThemselves(first[0] as string, [...path, 1]));
  }
  return findings;
}

function toThemselves(name: string, path: Path): Finding {
  return {
    code: 'signal-constant',
    message: `both ends are "${name}", so it never changes; name somebody or something else.`,
    path,
  };
}

/** Whether it is anything in the show; if not, that has been reported. */
function isKnown(show: ShowFile, place: PlaceFile): boolean {
  if (typeof place !== 'string' || place === EACH) return true;
  if (groupOf(show, place) !== undefined) return kindOfGroup(show, place) !== undefined;
  return [show.performers, show.fixtures, show.zones, show.palettes.points].some(block =>
    Object.hasOwn(block, place),
  );
}

function peopleAt(show: ShowFile, place: PlaceFile): readonly string[] | undefined {
  if (typeof place !== 'string') return undefined;
  if (Object.hasOwn(show.performers, place)) return [place];
  return kindOfGroup(show, place) === 'performers' ? groupOf(show, place) : undefined;
}

function checkPlace(names: NameCheck, place: PlaceFile, path: Path): Finding[] {
  if (typeof place !== 'string' || place === EACH) return [];
  const { show } = names;
  if (Object.hasOwn(show.performers, place) || Object.hasOwn(show.zones, place)) return [];
  if (groupOf(show, place) !== undefined) {
    names.oneOrGroup('performers', place, path);
    return [];
  }
  if (Object.hasOwn(show.palettes.points, place)) return [];
  const fixture = own(show.fixtures, place);
  if (fixture === undefined) {
    names.unknownPlace(place, path);
    return [];
  }
  return fixture.position === undefined ? [withoutPosition(place, path)] : [];
}

/** A distance to a fixture whose position is not known. */
export function withoutPosition(fixture: string, path: Path): Finding {
  return {
    code: 'position-missing',
    message: `fixture "${fixture}" has no position to measure from; give it one, in metres.`,
    path,
  };
}

function checkLine(line: readonly (readonly [number, number])[], path: Path): Finding[] {
  const still = line.findIndex(
    ([x, y], i) => i > 0 && x === line[i - 1]?.[0] && y === line[i - 1]?.[1],
  );
  if (still < 0) return [];
  return [
    {
      code: 'signal-range',
      message: `points ${still} and ${still + 1} of the line are the same; a line goes from one point to another.`,
      path: [...path, still],
    },
  ];
}

function checkOsc(
  names: NameCheck,
  { address, input }: { readonly address: string; readonly input?: string | undefined },
  path: Path,
): Finding[] {
  const findings: Finding[] = [];
  const compiled = compileTemplate(address);
  if (!compiled.ok || compiled.template.hasTracker) {
    findings.push({
      code: 'bad-value',
      message: `"${address}" is not an OSC address to listen to: parts with a / before each, without spaces and without # * , ? [ ] { }, such as /sound/level.`,
      path: [...path, 'address'],
    });
  }
  const inputs = oscInputsOf(names.show);
  if (input !== undefined) {
    const isThere = names.one('inputs', input, [...path, 'input']);
    if (isThere && !inputs.includes(input)) {
      findings.push({
        code: 'bad-value',
        message: `input "${input}" receives PosiStageNet, which has no such numbers; name an OSC input.`,
        path: [...path, 'input'],
      });
    }
  } else if (inputs.length !== 1) {
    findings.push({
      code: 'missing-key',
      message: `input is missing: the show has ${inputs.length === 0 ? 'no input at which a number could arrive' : `${enumerated(inputs.map(name => `"${name}"`))}; say at which it arrives`}.`,
      path,
      atKey: true,
    });
  }
  return findings;
}

/** Arithmetic needs one unit, and some uses need a share from 0 to 1. */
function checkUnits(
  signal: SignalFile,
  name: string,
  figures: ReadonlyMap<string, SignalFigures>,
  path: Path,
): Finding[] {
  const findings: Finding[] = [];
  const unitOf = (one: string) => figures.get(one)?.unit ?? 'share';
  const operands = operandsOf(signal).filter(one => typeof one === 'string');
  if ('inverse' in signal && unitOf(signal.inverse) !== 'share') {
    findings.push({
      code: 'signal-unit',
      message: `signal "${signal.inverse}" is in ${UNIT_WORDS[unitOf(signal.inverse)]}, but the inverse is 1 minus a signal without a unit: give "${signal.inverse}" a range.`,
      path: [...path, 'inverse'],
    });
  } else if (operands.length > 0 && !('inverse' in signal)) {
    findings.push(...checkOperands(signal, name, operands, unitOf, path));
  }
  const isShare = (figures.get(name)?.unit ?? 'share') === 'share';
  for (const key of ['curve', 'attack', 'release'] as const) {
    const said = key === 'curve' ? signal.curve !== undefined : signal[key] > 0;
    if (isShare || !said) continue;
    findings.push({
      code: 'signal-unit',
      message: `signal "${name}" is in ${UNIT_WORDS[unitOf(name)]}, and ${key === 'curve' ? 'a curve goes' : `${key} is the time`} from 0 to 1: give it a range, which says what is 0 and what is 1.`,
      path: [...path, key],
      atKey: true,
    });
  }
  return findings;
}

function checkOperands(
  signal: SignalFile,
  name: string,
  operands: readonly string[],
  unitOf: (name: string) => SignalFigures['unit'],
  path: Path,
): Finding[] {
  const isProduct = 'product' in signal;
  const key =
    (['product', 'sum', 'least', 'greatest'] as const).find(one => one in signal) ?? 'sum';
  const withUnit = operands.filter(one => unitOf(one) !== 'share');
  const [first, ...others] = isProduct ? withUnit : operands;
  if (first === undefined) return [];
  const odd = others.find(one => isProduct || unitOf(one) !== unitOf(first));
  if (odd === undefined) return [];
  const rule = isProduct
    ? 'only one signal of a product may have a unit'
    : 'all of them must have the same unit, or none';
  return [
    {
      code: 'signal-unit',
      message: `signal "${name}" puts "${first}" (${UNIT_WORDS[unitOf(first)]}) and "${odd}" (${UNIT_WORDS[unitOf(odd)]}) together: ${rule}. A range removes the unit.`,
      path: [...path, key, operandsOf(signal).indexOf(odd)],
    },
  ];
}
