import { readFileSync } from 'node:fs';
import type { InterfaceFact } from '../../readiness/facts.js';
import { parseRoutes, type Route } from '../../readiness/routing.js';
import { interfaceList, readCarrier, readMulticast } from '../lighting/interfaces.js';

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

/** undefined where the system does not tell (not Linux, or not allowed). */
export function readRoutes(): Route[] | undefined {
  try {
    return parseRoutes(readFileSync('/proc/net/route', 'latin1'));
  } catch {
    return undefined;
  }
}
