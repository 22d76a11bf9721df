import { isIPv4 } from 'node:net';
import { isPsnTracker } from '../../protocols/psn/position.js';
import { isGroup } from '../../show/model/destinations.js';
import type { InputPlan, Show } from '../../show/model/model.js';
import { listed } from '../../show/problems/problem.js';
import { IDENTITY } from '../../stage/rotation.js';
import { vec3 } from '../../stage/vector.js';

/** Where reports are sent, and in which form. */
export interface PlayTarget {
  readonly protocol: 'osc' | 'psn';
  readonly address: string;
  readonly port: number;
  /** Address or name of the interface from which they are sent; undefined: the system decides. */
  readonly from: string | undefined;
  /** The input whose form they have. */
  readonly input: InputPlan;
  carries(tracker: string): boolean;
}

/** @returns the target, or a message that says what is wrong */
export function targetOf(
  show: Show,
  to: string | undefined,
  from: string | undefined,
): PlayTarget | string {
  const inputs = show.inputs.filter(one => one.carries === 'positions');
  const [first] = inputs;
  const named = to === undefined ? first : inputs.find(one => one.name === to);
  if (named !== undefined) {
    const { group } = named.psn ?? {};
    const everywhere = named.listen === '0.0.0.0' ? '127.0.0.1' : named.listen;
    const isName = group === undefined && !isIPv4(everywhere);
    if (isName)
      return `--to: input "${named.name}" listens on ${everywhere}; give its address, psn:HOST:PORT.`;
    return made(named, group ?? everywhere, named.port, from ?? (group && named.listen));
  }
  const found = /^(?:(osc|psn):)?([^:]+):(\d+)$/.exec(to ?? '');
  const [, protocol, host = '', portText = ''] = found ?? [];
  const port = Number(portText);
  if (found === null || !isIPv4(host) || !(port >= 1 && port <= 65_535)) {
    const names = inputs.map(one => one.name);
    return `--to is an input of the show (${names.length === 0 ? 'it has none' : listed(names)}), or HOST:PORT with or without osc: or psn: before it, such as psn:236.10.10.10:56565; not "${to}".`;
  }
  const isOf = (one: InputPlan) =>
    protocol === undefined || (protocol === 'psn') === (one.psn !== undefined);
  return made(inputs.find(isOf) ?? plainInput(protocol === 'psn'), host, port, from);
}

function made(
  input: InputPlan,
  address: string,
  port: number,
  from: string | undefined,
): PlayTarget | string {
  if (isGroup(address) && from === undefined) {
    return `--interface is missing: ${address} is a multicast group, so give the interface to send from.`;
  }
  const protocol = input.psn === undefined ? 'osc' : 'psn';
  return {
    protocol,
    address,
    port,
    from,
    input,
    carries: one => protocol === 'osc' || isPsnTracker(one),
  };
}

/** The stage frame in the plainest form of a protocol, for a receiver that isn't in the show. */
function plainInput(isPsn: boolean): InputPlan {
  const roles = ['x', 'y', 'z', 'quality'] as const;
  return {
    carries: 'positions',
    name: 'play',
    listen: '',
    port: 0,
    allow: 'any',
    maxDatagramBytes: 1472,
    timeTags: 'due',
    isStamped: false,
    routes: isPsn
      ? []
      : [
          {
            address: '/tracker/{tracker}/position',
            arguments: roles.map(role => ({ role, optional: false })),
            unitM: 1,
            axes: ['x', 'y', 'z'],
          },
        ],
    psn: isPsn
      ? { group: undefined, axes: ['x', 'z', 'y'], quality: [0, 1], stamps: 'if sent' }
      : undefined,
    origin: vec3(0, 0, 0),
    rotation: IDENTITY,
    scale: 1,
  };
}
