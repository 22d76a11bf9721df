import { axisMap, isPermutation } from '../../protocols/axes.js';
import { compileRoutes, type RouteError } from '../../protocols/osc/route.js';
import { isPsnTracker } from '../../protocols/psn/position.js';
import { unreachable } from '../../stage/unreachable.js';
import type { ProblemCode } from '../problems/codes.js';
import { type Finding, suggestion } from '../problems/problem.js';
import { hasStamp, listensAt, routeOptionsOf } from '../resolve/routes.js';
import type { InputFile, ShowFile } from '../schema/schema.js';

/** The outputs for which the machines of pairs have addresses. */
function checkPairs({ operator, outputs }: ShowFile): Finding[] {
  const known = Object.keys(outputs);
  return (['standby', 'main'] as const).flatMap(key => {
    const given = operator?.[key];
    if (given === undefined || typeof given === 'string') return [];
    const unknown = Object.keys(given).filter(name => !known.includes(name));
    return unknown.map(name => ({
      code: 'unknown-name' as const,
      message: `there is no output "${name}".${suggestion(name, known)}`,
      path: ['operator', key, name],
      atKey: true,
    }));
  });
}

/** Inputs, their routes, and who wears which tracker. */
export function checkInputs(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  const taken = new Map<string, string>();
  for (const [name, input] of Object.entries(show.inputs)) {
    const socket = socketOf(input);
    const other = taken.get(socket);
    if (other !== undefined) {
      findings.push({
        code: 'input-port-taken',
        message: `input "${name}" listens on ${socket}, as input "${other}" does; use one input with several routes, or another port.`,
        path: ['inputs', name, 'port'],
      });
    }
    taken.set(socket, name);
    if (input.protocol === 'psn') {
      findings.push(...checkPsn(name, input));
      continue;
    }
    const notOurs = noAddressOfOurs(input.listen);
    if (notOurs !== undefined) {
      findings.push({
        code: 'bad-value',
        message: `input "${name}" listens on ${input.listen}, ${notOurs} Set \`listen\` to the address of this machine on the tracking network, and have the tracking system send there.`,
        path: ['inputs', name, 'listen'],
      });
    }
    input.routes.forEach((route, index) => {
      if (input.timeTags !== 'measured' || !hasStamp(route)) return;
      findings.push({
        code: 'route-arguments',
        message: `input "${name}" already takes the time of measurement from its time tags (timeTags: measured), and an input can follow only one clock. Leave "stamp" out, or leave timeTags at "due".`,
        path: ['inputs', name, 'routes', index, 'arguments'],
      });
    });
    const compiled = compileRoutes(input.routes.map(routeOptionsOf));
    if (compiled.ok) continue;
    const guessed = new Set(compiled.errors.filter(isOtherBraces).map(({ route }) => route));
    findings.push(
      ...compiled.errors
        // Somebody who wrote {id} meant the tracker.
        .filter(({ reason, route }) => reason !== 'no-tracker' || !guessed.has(route))
        .map(error => routeFinding(name, error)),
    );
  }

  const { operator } = show;
  const notOurs = operator === undefined ? undefined : noAddressOfOurs(operator.listen);
  if (notOurs !== undefined) {
    findings.push({
      code: 'bad-value',
      message: `the operator input listens on ${operator?.listen}, ${notOurs} Set \`listen\` to the address of this machine on the network of the desk, and have the desk send there.`,
      path: ['operator', 'listen'],
    });
  }
  const socket = `${operator?.listen}:${operator?.port}`;
  const other = taken.get(socket);
  if (operator !== undefined && other !== undefined) {
    findings.push({
      code: 'input-port-taken',
      message: `the operator input listens on ${socket}, as input "${other}" does; give orders and positions different ports.`,
      path: ['operator', 'port'],
    });
  }
  findings.push(...checkPairs(show));

  findings.push(...checkNumbers(show));
  const wearer = new Map<string, string>();
  for (const [name, performer] of Object.entries(show.performers)) {
    performer.trackers.forEach(({ id: tracker }, index) => {
      const other = wearer.get(tracker);
      if (other !== undefined) {
        findings.push({
          code: 'tracker-shared',
          message:
            other === name
              ? `tracker ${tracker} is listed twice for performer "${name}".`
              : `tracker ${tracker} is worn by performer "${other}" already; each tracker belongs to one performer.`,
          path: ['performers', name, 'trackers', index],
        });
      }
      wearer.set(tracker, name);
    });
  }
  const spares = new Set<string>();
  show.spares.forEach(({ id: tracker }, index) => {
    const other = wearer.get(tracker);
    if (other !== undefined || spares.has(tracker)) {
      findings.push({
        code: 'tracker-shared',
        message:
          other === undefined
            ? `tracker ${tracker} is listed twice among the spares.`
            : `tracker ${tracker} is worn by performer "${other}" already; nobody wears a spare.`,
        path: ['spares', index],
      });
    }
    spares.add(tracker);
  });
  return findings;
}

function socketOf(input: InputFile): string {
  const where = input.protocol === 'psn' && input.group !== 'none' ? input.group : listensAt(input);
  return `${where}:${input.port}`;
}

function checkPsn(name: string, input: Extract<InputFile, { protocol: 'psn' }>): Finding[] {
  const { axes, quality, group, interface: wanted } = input;
  const at = ['inputs', name];
  const findings: Finding[] = [];
  if (!isPermutation(axisMap(axes, 1))) {
    const message = `axes use one axis of the feed twice (${axes.join(', ')}); use each of x, y and z once.`;
    findings.push(finding('route-axes', message, [...at, 'axes']));
  }
  if (quality[0] === quality[1]) {
    findings.push(finding('bad-value', emptyScale(quality.join(', ')), [...at, 'quality']));
  }
  const first = Number(group.split('.')[0]);
  if (group !== 'none' && !(first >= 224 && first < 240)) {
    findings.push({
      code: 'bad-value',
      message: `group ${group} is not a multicast group, which is an address from 224.0.0.0 to 239.255.255.255; write \`group: none\` if the server sends to the address of this machine.`,
      path: [...at, 'group'],
    });
  }
  const notOurs = noAddressOfOurs(wanted);
  if (notOurs !== undefined) {
    findings.push({
      code: 'bad-value',
      message: `input "${name}" listens on the interface ${wanted}, ${notOurs.replace(/, and .*/, '.')} The group belongs in \`group\`; \`interface\` is the address or name of an interface of this machine.`,
      path: [...at, 'interface'],
    });
  }
  return findings;
}

function emptyScale(found: string): string {
  return `quality has the same worst and best (${found}); give two different numbers.`;
}

/** In a show with only PosiStageNet, a tracker that is not a number can never be heard. */
function checkNumbers({ inputs, performers, spares }: ShowFile): Finding[] {
  const all = Object.values(inputs);
  if (all.length === 0 || all.some(({ protocol }) => protocol !== 'psn')) return [];
  const fault = (id: string, path: readonly (string | number)[]): Finding[] => {
    if (isPsnTracker(id)) return [];
    const message = `tracker "${id}" can't be heard: PosiStageNet numbers its trackers from 0 to 65535.`;
    return [finding('tracker-number', message, path)];
  };
  return [
    ...Object.entries(performers).flatMap(([name, { trackers }]) =>
      trackers.flatMap(({ id }, index) => fault(id, ['performers', name, 'trackers', index])),
    ),
    ...spares.flatMap(({ id }, index) => fault(id, ['spares', index])),
  ];
}

/** Why nothing can be heard at an address; undefined if it may belong to this machine. */
function noAddressOfOurs(listen: string): string | undefined {
  const first = Number(listen.split('.')[0]);
  // The name of an interface is not a number.
  if (!(first >= 224)) return undefined;
  return first < 240
    ? 'a multicast group, which is not an address of this machine.'
    : 'which is not the address of an interface.';
}

/** A part of an address in braces that is not {tracker}. */
function isOtherBraces({ reason, found }: RouteError): boolean {
  return reason === 'forbidden-character' && /^\{[^{}/]*\}$/.test(found);
}

function routeFinding(input: string, error: RouteError): Finding {
  const route = ['inputs', input, 'routes', error.route] as const;
  switch (error.key) {
    case 'axes':
      if (error.reason === 'parts-differ') return partsDiffer(error, [...route, 'axes']);
      return finding(
        'route-axes',
        `axes use one axis of the feed twice (${error.found}); use each of x, y and z once.`,
        [...route, 'axes'],
      );
    case 'arguments':
      return finding('route-arguments', `${argumentsFault(error)}.`, [...route, 'arguments']);
    case 'address':
      return finding('route-address', `${addressFault(error)}.`, [...route, 'address']);
    case 'each':
      return finding('route-arguments', `${argumentsFault(error)}.`, [...route, 'each']);
    case 'box':
      return finding(
        'bad-value',
        `in box, 0 and 1 are the same place (${error.found}); give two different ones.`,
        [...route, 'box'],
      );
    case 'quality':
      return finding('bad-value', emptyScale(error.found), [...route, 'quality']);
    case 'unitM':
      if (error.reason === 'parts-differ') return partsDiffer(error, [...route, 'unit']);
      return finding('bad-value', `the unit can't be used (${error.found}).`, [...route, 'unit']);
    default:
      return unreachable(error.key);
  }
}

function partsDiffer({ key }: RouteError, path: readonly (string | number)[]): Finding {
  const what = key === 'axes' ? 'axes that differ' : 'a unit that differs';
  const message = `it has ${what} from the routes with which it makes one position; give them all the same.`;
  return finding('route-arguments', message, path);
}

function argumentsFault({ reason, found }: RouteError): string {
  switch (reason) {
    case 'duplicate-role':
      return `"${found}" appears twice among the arguments`;
    case 'too-few-axes':
      return 'a position needs at least two of x, y and z without ?: in this route, or in several routes with one axis each';
    case 'optional-before-required':
      return `"${found}" comes after an argument that may be missing; those with ? must be last`;
    case 'optional-in-each':
      return `"${found}" can't be optional in \`each\`, because it would not be clear where the next tracker begins; write it without ?`;
    case 'outside-each':
      return `"${found}" belongs to one tracker, so put it into \`each\`; only "stamp" and "ignore" may come before it`;
    case 'two-trackers':
      return 'the tracker is named in the address and among the arguments; one of them is enough';
    case 'optional-tracker':
      return "the tracker can't be optional; write it without ?";
    default:
      return `the arguments can't be used: ${found}`;
  }
}

function addressFault(error: RouteError): string {
  const { reason, found } = error;
  switch (reason) {
    case 'duplicate-address':
      return `"${found}" is the address of an earlier route`;
    case 'no-tracker':
      return `"${found}" doesn't say which part is the tracker; write {tracker} for that part, or put "tracker" among the arguments`;
    case 'no-leading-slash':
      return `an OSC address begins with /, and this one with "${found}"`;
    case 'empty-part':
      return 'an OSC address has no empty parts, and does not end with a slash';
    case 'forbidden-character':
      if (isOtherBraces(error)) {
        return `"${found}" can't be a part of an OSC address; write {tracker} in place of the tracker's name`;
      }
      return `"${found}" can't be in an OSC address (braces only as {tracker})`;
    case 'several-placeholders':
      return '{tracker} appears twice in the address; once is enough';
    default:
      return `the address can't be used: ${found}`;
  }
}

function finding(code: ProblemCode, message: string, path: readonly (string | number)[]): Finding {
  return { code, message, path };
}
