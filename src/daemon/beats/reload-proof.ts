import type { Show } from '../../show/model/model.js';
import { formatProblem, type Problem } from '../../show/problems/problem.js';
import { blockedInputs } from '../engine/input-socket.js';
import {
  DOWN,
  findInterface,
  type InterfaceFinder,
  interfacesThere,
  isDown,
  NO_CARRIER,
  readCarrier,
} from '../lighting/interfaces.js';
import { sendsAlike } from './sends-alike.js';

/**
 * What speaks against another show, as far as can be known while nothing of the running one has been touched: that
 * an interface is missing, or a port is taken. What the running show has itself is its own.
 * @param places where the file names what this machine doesn't have, as far as that is known
 * @returns in plain words; empty where nothing does
 */
export async function proofOf(
  next: Show,
  running: Show,
  places: readonly Problem[] = [],
  find: InterfaceFinder = findInterface,
): Promise<string[]> {
  const missing = new Map<string, string[]>();
  // Sockets of a show that sends alike stay, and are looked after, also while their interface is lost.
  const opened = sendsAlike(next, running) ? [] : next.outputs;
  for (const { name, interface: wanted } of opened) {
    if (find(wanted) === undefined) missing.set(wanted, [...(missing.get(wanted) ?? []), name]);
  }
  const outputs = [...missing].map(([wanted, names]) => {
    const called = names.map(name => `"${name}"`).join(' and ');
    const why =
      readCarrier(wanted) === false
        ? NO_CARRIER
        : isDown(wanted)
          ? `${DOWN}.`
          : `this machine has no such interface; it has ${interfacesThere()}.`;
    const message = `output ${called} can't send from interface ${wanted}: ${why}`;
    return placed(message, `output "${names[0]}"`, places);
  });
  const others = next.inputs.filter(one => !running.inputs.some(ours => isHeldBy(one, ours)));
  const inputs = others.map(async plan => {
    const blocked = await blockedInputs([plan]);
    return blocked.map(message => placed(message, `input "${plan.name}"`, places));
  });
  return [...outputs, ...(await Promise.all(inputs)).flat()];
}

/** As `check` would print it, where whoever read the file has found its place. */
function placed(message: string, about: string, places: readonly Problem[]): string {
  const place = places.find(one => one.message.startsWith(`${about}: `));
  return place === undefined ? message : formatProblem({ ...place, message });
}

type Socket = Pick<Show['inputs'][number], 'listen' | 'port' | 'psn'>;

/** Whether the socket of the one is in the way of the other's. */
function isHeldBy(one: Socket, ours: Socket): boolean {
  const everywhere = '0.0.0.0';
  // Sockets of a group share it.
  if (one.port !== ours.port || one.psn?.group !== ours.psn?.group) return false;
  return one.listen === ours.listen || one.listen === everywhere || ours.listen === everywhere;
}
