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
 * What prevents another show, as far as can be known without touching the running one: a missing interface, or a
 * taken port. Ports of the running show itself don't count.
 * @param places in the file that name something this machine doesn't have, as far as known
 * @returns in plain words; empty: nothing
 */
export async function proofOf(
  next: Show,
  running: Show,
  places: readonly Problem[] = [],
  find: InterfaceFinder = findInterface,
): Promise<string[]> {
  const missing = new Map<string, string[]>();
  // Sockets of a show with the same outputs stay, and are looked after even while their interface is lost.
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

/** As `check` would print it, if the place in the file is known. */
function placed(message: string, about: string, places: readonly Problem[]): string {
  const place = places.find(one => one.message.startsWith(`${about}: `));
  return place === undefined ? message : formatProblem({ ...place, message });
}

type Socket = Pick<Show['inputs'][number], 'listen' | 'port' | 'psn'>;

/** Whether the two sockets would conflict. */
function isHeldBy(one: Socket, ours: Socket): boolean {
  const everywhere = '0.0.0.0';
  // Sockets of a group share it.
  if (one.port !== ours.port || one.psn?.group !== ours.psn?.group) return false;
  return one.listen === ours.listen || one.listen === everywhere || ours.listen === everywhere;
}
