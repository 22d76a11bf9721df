import { isIn, type Network, prefixLength } from '../stage/ipv4.js';

/** A way that the system knows to a network. */
export interface Route extends Network {
  readonly interface: string;
  /** 0 where the network is at hand. */
  readonly gateway: number;
  readonly metric: number;
}

const COLUMN = { interface: 0, destination: 1, gateway: 2, flags: 3, metric: 6, mask: 7 } as const;
/** RTF_UP and RTF_REJECT of linux/route.h. */
const UP = 0x1;
const REJECT = 0x200;

/** The text of Linux' /proc/net/route; lines that are none are left out. */
export function parseRoutes(text: string): Route[] {
  return text.split('\n').flatMap(line => {
    const cells = line.trim().split(/\s+/);
    const [destination, gateway, mask] = [
      swapped(cells[COLUMN.destination]),
      swapped(cells[COLUMN.gateway]),
      swapped(cells[COLUMN.mask]),
    ];
    const flags = Number.parseInt(cells[COLUMN.flags] ?? '', 16);
    const name = cells[COLUMN.interface];
    if (destination === undefined || gateway === undefined || mask === undefined) return [];
    if (name === undefined || (flags & UP) === 0 || (flags & REJECT) !== 0) return [];
    const metric = Number(cells[COLUMN.metric] ?? 0);
    return [{ interface: name, address: destination, gateway, mask, metric }];
  });
}

/** The kernel prints addresses as numbers of the machine: the first part of a dotted one stands last. */
function swapped(hex: string | undefined): number | undefined {
  if (hex === undefined || !/^[0-9A-F]{8}$/i.test(hex)) return undefined;
  const value = Number.parseInt(hex, 16);
  return (
    (((value & 0xff) << 24) |
      ((value & 0xff00) << 8) |
      ((value >>> 8) & 0xff00) |
      (value >>> 24)) >>>
    0
  );
}

/** The way that the system takes: the longest network that holds the address, then the least metric. */
export function routeTo(routes: readonly Route[], address: number): Route | undefined {
  let best: Route | undefined;
  for (const route of routes) {
    if (!isIn(route, address)) continue;
    const longer = prefixLength(route.mask) - prefixLength(best?.mask ?? 0);
    if (best === undefined || longer > 0 || (longer === 0 && route.metric < best.metric)) {
      best = route;
    }
  }
  return best;
}
