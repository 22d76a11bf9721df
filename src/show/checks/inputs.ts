import { compileRoutes, type RouteError } from '../../protocols/osc/route.js';
import { unreachable } from '../../stage/unreachable.js';
import type { ProblemCode } from '../codes.js';
import type { Finding } from '../problem.js';
import { hasStamp, routeOptionsOf } from '../routes.js';
import type { ShowFile } from '../schema.js';

/** Inputs, their routes, and who wears which tracker. */
export function checkInputs(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  const taken = new Map<string, string>();
  for (const [name, input] of Object.entries(show.inputs)) {
    const socket = `${input.listen}:${input.port}`;
    const other = taken.get(socket);
    if (other !== undefined) {
      findings.push({
        code: 'input-port-taken',
        message: `input "${name}" listens on ${socket}, as input "${other}" does; use one input with several routes, or another port.`,
        path: ['inputs', name, 'port'],
      });
    }
    taken.set(socket, name);
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
        message: `input "${name}" takes the time of measurement from its time tags already (timeTags: measured), and one clock is followed an input; leave "stamp" out, or timeTags at "due".`,
        path: ['inputs', name, 'routes', index, 'arguments'],
      });
    });
    const compiled = compileRoutes(input.routes.map(routeOptionsOf));
    if (compiled.ok) continue;
    const guessed = new Set(compiled.errors.filter(isOtherBraces).map(({ route }) => route));
    findings.push(
      ...compiled.errors
        // Who wrote {id} has said where the tracker stands, in other words.
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
      message: `the operator input listens on ${socket}, as input "${other}" does; orders and positions come in at ports of their own.`,
      path: ['operator', 'port'],
    });
  }

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
            : `tracker ${tracker} is worn by performer "${other}" already; a spare is one that nobody wears.`,
        path: ['spares', index],
      });
    }
    spares.add(tracker);
  });
  return findings;
}

/** Why nothing can be heard at an address; undefined where it may be one of this machine. */
function noAddressOfOurs(listen: string): string | undefined {
  const first = Number(listen.split('.')[0]);
  if (first < 224) return undefined;
  return first < 240
    ? 'a multicast group, and no group is joined.'
    : 'which is no address of an interface.';
}

/** A part of an address in braces that is not {tracker}. */
function isOtherBraces({ reason, found }: RouteError): boolean {
  return reason === 'forbidden-character' && /^\{[^{}/]*\}$/.test(found);
}

function routeFinding(input: string, error: RouteError): Finding {
  const route = ['inputs', input, 'routes', error.route] as const;
  switch (error.key) {
    case 'axes':
      return finding(
        'route-axes',
        `axes use one axis of the feed twice (${error.found}); each of x, y and z goes in once.`,
        [...route, 'axes'],
      );
    case 'arguments':
      return finding('route-arguments', `${argumentsFault(error)}.`, [...route, 'arguments']);
    case 'address':
      return finding('route-address', `${addressFault(error)}.`, [...route, 'address']);
    case 'unitM':
      return finding('bad-value', `the unit can't be used (${error.found}).`, [...route, 'unit']);
    default:
      return unreachable(error.key);
  }
}

function argumentsFault({ reason, found }: RouteError): string {
  switch (reason) {
    case 'duplicate-role':
      return `"${found}" stands twice among the arguments`;
    case 'too-few-axes':
      return 'a position needs at least two of x, y and z that always come';
    case 'optional-before-required':
      return `"${found}" comes after an argument that may be missing; those with ? stand last`;
    case 'two-trackers':
      return 'the tracker is named in the address and among the arguments; one of them is enough';
    case 'optional-tracker':
      return 'the tracker may not be missing; write it without ?';
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
      return `"${found}" doesn't say where the tracker stands; use {tracker} for that part, or put "tracker" among the arguments`;
    case 'no-leading-slash':
      return `an OSC address begins with /, and this one with "${found}"`;
    case 'empty-part':
      return 'an OSC address has something between two slashes, and does not end with one';
    case 'forbidden-character':
      if (isOtherBraces(error)) {
        return `"${found}" is no part of an OSC address; where the tracker's name stands, write {tracker}`;
      }
      return `"${found}" can't stand in an OSC address; only {tracker} may, as one whole part`;
    case 'placeholder-not-whole-part':
      return `{tracker} stands for everything between two slashes, and here it is part of "${found}"`;
    case 'several-placeholders':
      return '{tracker} stands twice in the address; once is enough';
    default:
      return `the address can't be used: ${found}`;
  }
}

function finding(code: ProblemCode, message: string, path: readonly (string | number)[]): Finding {
  return { code, message, path };
}
