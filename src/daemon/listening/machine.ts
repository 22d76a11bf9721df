import { readFileSync } from 'node:fs';
import type { InterfaceFact } from '../../readiness/facts.js';
import { parseRoutes, type Route } from '../../readiness/routing.js';
import { interfaceList, readCarrier } from '../lighting/interfaces.js';

/** IFF_MULTICAST of linux/if.h. */
const MULTICAST = 0x1000;

/** The IPv4 interfaces of this machine, as the system shows them now. */
export function readInterfaces(): InterfaceFact[] {
  return Object.entries(interfaceList.now).flatMap(([name, infos]) =>
    (infos ?? [])
      .filter(info => info.family === 'IPv4')
      .map(({ address, netmask, internal }) => ({
        name,
        address,
        netmask,
        loopback: internal,
        carrier: readCarrier(name),
        multicast: internal ? undefined : readMulticast(name),
      })),
  );
}

function readMulticast(name: string): boolean | undefined {
  const device = name.split(':')[0] ?? '';
  if (!/^[\w.-]+$/.test(device)) return undefined;
  try {
    const flags = Number.parseInt(readFileSync(`/sys/class/net/${device}/flags`, 'latin1'), 16);
    return Number.isNaN(flags) ? undefined : (flags & MULTICAST) !== 0;
  } catch {
    return undefined;
  }
}

/** undefined where the system does not tell (not Linux, or not allowed). */
export function readRoutes(): Route[] | undefined {
  try {
    return parseRoutes(readFileSync('/proc/net/route', 'latin1'));
  } catch {
    return undefined;
  }
}
