import { axisMap, isPermutation } from '../../protocols/axes.js';
import { compileTemplate } from '../../protocols/osc/address.js';
import { ROLES_OF_TRUST } from '../../protocols/osc/position-out.js';
import { enumerated } from '../../stage/enumerated.js';
import { type Finding, type Path, suggestion } from '../problems/problem.js';
import { listensAt } from '../resolve/routes.js';
import type { PositionsFile } from '../schema/positions.js';
import type { ShowFile } from '../schema/schema.js';

/** More receivers of positions than any house has; each costs a round in each tick. */
const MOST = 64;

/** Positions of people that are sent to others. */
export function checkPositions(show: ShowFile): Finding[] {
  const all = Object.entries(show.positions);
  const findings = all.flatMap(([name, one]) => check(show, one, ['positions', name]));
  if (all.length > MOST) {
    findings.push({
      code: 'bad-value',
      message: `the show has ${all.length} outputs of positions; at most ${MOST} are allowed.`,
      path: ['positions'],
      atKey: true,
    });
  }
  return findings;
}

function check(show: ShowFile, given: PositionsFile, path: Path): Finding[] {
  const performers = Object.keys(show.performers);
  const chosen = given.performers ?? performers;
  return [
    ...unknown(show.receivers, 'receiver', given.to, [...path, 'to']),
    ...chosen.flatMap((name, index) =>
      given.performers === undefined
        ? []
        : unknown(show.performers, 'performer', name, [...path, 'performers', index]),
    ),
    ...Object.keys(given.ids).flatMap(name => {
      const found = unknown(show.performers, 'performer', name, [...path, 'ids', name], true);
      if (found.length > 0 || chosen.includes(name)) return found;
      const message = `"${name}" has a number, but is not among the performers of this output.`;
      return [{ code: 'bad-value' as const, message, path: [...path, 'ids', name], atKey: true }];
    }),
    ...sameNumbers(given, path),
    ...axes(given, path),
    ...(given.protocol === 'osc' ? template(given, path) : []),
    ...loop(show, given, path),
  ];
}

function sameNumbers({ ids }: PositionsFile, path: Path): Finding[] {
  const seen = new Map<number, string>();
  return Object.entries(ids).flatMap(([name, id]): Finding[] => {
    const other = seen.get(id);
    seen.set(id, name);
    if (other === undefined) return [];
    const message = `"${name}" has the number ${id}, as "${other}" does; give each a different one.`;
    return [{ code: 'bad-value', message, path: [...path, 'ids', name] }];
  });
}

function axes({ axes: given }: PositionsFile, path: Path): Finding[] {
  if (isPermutation(axisMap(given, 1))) return [];
  const message = `axes use one axis of the stage twice (${given.join(', ')}); send each of x, y and z once.`;
  return [{ code: 'route-axes', message, path: [...path, 'axes'] }];
}

function template(
  { address, arguments: roles }: Extract<PositionsFile, { protocol: 'osc' }>,
  path: Path,
): Finding[] {
  const findings: Finding[] = [];
  const plain = address.replaceAll('{performer}', 'p').replaceAll('{id}', '1');
  const compiled = compileTemplate(plain);
  if (!compiled.ok || compiled.template.hasTracker) {
    const message = `"${address}" is not an OSC address: parts with a / before each, without spaces and without # * , ? [ ] { }, but for {performer} and {id}.`;
    findings.push({ code: 'positions-address', message, path: [...path, 'address'] });
  }
  const isNamed = /\{(performer|id)\}/.test(address);
  if (!isNamed && !roles.some(role => ['performer', 'label', 'id'].includes(role))) {
    const message = `nothing in it says whose position it is; put {performer} or {id} into the address, or "performer", "label" or "id" among the arguments.`;
    findings.push({ code: 'positions-address', message, path: [...path, 'address'] });
  }
  if (!roles.some(role => ROLES_OF_TRUST.some(one => one === role))) {
    const message = `the receiver could not tell who is lost: put ${enumerated(
      ROLES_OF_TRUST.map(one => `"${one}"`),
      8,
      'or',
    )} among the arguments.`;
    findings.push({ code: 'positions-trust', message, path: [...path, 'arguments'] });
  }
  return findings;
}

/** Positions sent to one of our own inputs would be tracked: the show would follow itself. */
function loop(show: ShowFile, { to }: PositionsFile, path: Path): Finding[] {
  const receiver = Object.hasOwn(show.receivers, to) ? show.receivers[to] : undefined;
  if (receiver === undefined) return [];
  const hears = Object.entries(show.inputs).find(([, input]) => {
    const group = input.protocol === 'psn' && input.group !== 'none' ? input.group : undefined;
    return (group ?? listensAt(input)) === receiver.address && input.port === receiver.port;
  });
  if (hears === undefined) return [];
  const message = `receiver "${to}" is where input "${hears[0]}" of this show listens, so the show would track its own positions. Give it another address or port.`;
  return [{ code: 'positions-loop', message, path: [...path, 'to'] }];
}

function unknown(
  there: Readonly<Record<string, unknown>>,
  what: string,
  name: string,
  path: Path,
  atKey = false,
): Finding[] {
  if (Object.hasOwn(there, name)) return [];
  const names = Object.keys(there);
  const known = names.length === 0 ? ` The show has no ${what}s.` : suggestion(name, names);
  const message = `there is no ${what} "${name}".${known}`;
  return [{ code: 'unknown-name', message, path, ...(atKey ? { atKey } : {}) }];
}
