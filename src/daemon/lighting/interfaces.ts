import { readFileSync } from 'node:fs';
import { isIPv4 } from 'node:net';
import { networkInterfaces } from 'node:os';
import { systemFault } from '../machine/system-fault.js';

/** An interface of this machine as a lighting socket needs it. */
export interface LightingInterface {
  /** As the system names it. */
  readonly name: string;
  readonly address: string;
  readonly loopback: boolean;
  readonly netmask: string;
  /** Directed broadcast address, for ArtPoll. */
  readonly broadcast: string;
}

type Listed = ReturnType<typeof networkInterfaces>;

/**
 * The interfaces of this machine. To list them takes a descriptor and memory; where there is none the list that
 * was read last stands: that it can't be read says nothing about the interfaces.
 */
export class InterfaceList {
  #last: Listed = {};
  #fault: string | undefined;

  constructor(private readonly read: () => Listed = networkInterfaces) {}

  /** As of now, or as last known. */
  get now(): Listed {
    try {
      this.#last = this.read();
      this.#fault = undefined;
    } catch (error) {
      this.#fault = systemFault(error);
    }
    return this.#last;
  }

  /** Why the list could not be read the last time; undefined: it could. */
  get fault(): string | undefined {
    return this.#fault;
  }
}

/** Of this process. */
export const interfaceList = new InterfaceList();

/** Finds an interface by its IPv4 address or name; undefined where this machine has none such now. */
export type InterfaceFinder = (wanted: string) => LightingInterface | undefined;

/** A name stands for the first IPv4 address of its interface. */
export const findInterface: InterfaceFinder = wanted => {
  // All of 127.0.0.0/8 is the loopback interface, whatever addresses it lists.
  if (isIPv4(wanted) && wanted.startsWith('127.')) {
    const [netmask, broadcast] = ['255.0.0.0', '127.255.255.255'];
    return { name: 'lo', address: wanted, loopback: true, netmask, broadcast };
  }
  for (const [name, infos] of Object.entries(interfaceList.now)) {
    for (const info of infos ?? []) {
      if (info.family !== 'IPv4' || (name !== wanted && info.address !== wanted)) continue;
      const { address, netmask, internal: loopback } = info;
      return { name, address, loopback, netmask, broadcast: broadcastOf(address, netmask) };
    }
  }
  return undefined;
};

/** What is wrong with an interface that is not listed for want of one. */
export const NO_CARRIER = 'it has no carrier: is its cable out, or its switch off?';

/** Whether a cable (or a radio link) is in; undefined where the system does not say. */
export type CarrierReader = (name: string) => boolean | undefined;

/**
 * Linux says so in a file of its own. A pulled cable leaves the interface its address, and all sends
 * succeed: nothing else tells of it. An interface that is down has no carrier to read (EINVAL).
 */
export const readCarrier: CarrierReader = name => {
  const carrier = readOf(name, 'carrier');
  return carrier === undefined ? undefined : carrier !== '0';
};

function readOf(name: string, what: 'carrier' | 'flags' | 'ifindex'): string | undefined {
  // An alias (eth0:1) has the carrier of its interface; a path has no place in a name.
  const device = name.split(':')[0] ?? '';
  if (!/^[\w.-]+$/.test(device)) return undefined;
  try {
    return readFileSync(`/sys/class/net/${device}/${what}`, 'latin1').trim();
  } catch {
    return undefined;
  }
}

/** IFF_UP of linux/if.h: somebody, or the system, has set the interface up. */
const IS_UP = 0x1;

export const DOWN = 'the interface is there, but down';

/** Whether this machine has an interface of this name that is not up: the system does not list its addresses. */
export function isDown(name: string): boolean {
  if (!isThere(name)) return false;
  const flags = readOf(name, 'flags');
  return flags === undefined || (Number(flags) & IS_UP) === 0;
}

/** IFF_MULTICAST of linux/if.h. */
const MULTICAST = 0x1000;

/** Whether it takes packets of groups; undefined where the system does not say. */
export function readMulticast(name: string): boolean | undefined {
  const flags = Number(readOf(name, 'flags'));
  return Number.isNaN(flags) ? undefined : (flags & MULTICAST) !== 0;
}

/** By the list of the network that this process is in: what /sys says may be of another. */
function isThere(name: string): boolean {
  return devices().includes(name.split(':')[0] ?? '');
}

/** Names of all interfaces, those that are down too. */
function devices(): string[] {
  try {
    const lines = readFileSync('/proc/net/dev', 'latin1').split('\n').slice(2);
    return lines.flatMap(line => line.split(':')[0]?.trim() || []);
  } catch {
    return [];
  }
}

/** Names of the interfaces that are there, but not up. */
export function interfacesDown(): string[] {
  return devices().filter(isDown);
}

/** Why an interface that was asked for is not found. */
export function absenceOf(wanted: string): string {
  return isDown(wanted)
    ? `${wanted}: ${DOWN}; set it up (as root: ip link set ${wanted} up)`
    : `this machine has no interface ${wanted}; it has ${interfacesThere()}`;
}

/** The number under which the system knows an interface: another one each time that it is made; undefined where it does not say. */
export function interfaceIndex(name: string): string | undefined {
  return readOf(name, 'ifindex');
}

/** What there is, for the message to somebody who named another: `eth0 (10.0.0.2), lo (127.0.0.1)`. */
export function interfacesThere(): string {
  const there = Object.entries(interfaceList.now).flatMap(([name, infos]) =>
    (infos ?? []).filter(info => info.family === 'IPv4').map(info => `${name} (${info.address})`),
  );
  return there.length === 0 ? 'no network interface that is up' : there.join(', ');
}

/** The address with all host bits set. */
export function broadcastOf(address: string, netmask: string): string {
  const mask = netmask.split('.').map(Number);
  return address
    .split('.')
    .map((part, i) => Number(part) | (~(mask[i] ?? 255) & 0xff))
    .join('.');
}
