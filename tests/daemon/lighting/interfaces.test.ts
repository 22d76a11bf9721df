import { networkInterfaces } from 'node:os';
import { describe, expect, it } from 'vitest';
import {
  broadcastOf,
  findInterface,
  InterfaceList,
  interfacesThere,
} from '../../../src/daemon/lighting/interfaces.js';

describe('the broadcast address', () => {
  // RFC 919, section 7: all ones in the host part; the first two are its examples' kind.
  it.each([
    ['36.40.1.2', '255.0.0.0', '36.255.255.255'],
    ['36.40.1.2', '255.255.0.0', '36.40.255.255'],
    ['10.77.0.1', '255.255.255.0', '10.77.0.255'],
    ['192.168.7.70', '255.255.255.192', '192.168.7.127'],
    ['2.0.0.9', '255.255.255.255', '2.0.0.9'],
  ])('of %s with mask %s is %s', (address, netmask, broadcast) => {
    expect(broadcastOf(address, netmask)).toBe(broadcast);
  });
});

describe('the list of interfaces', () => {
  it('stands as last read while the system gives none, and is read anew when it does', () => {
    const lists = [{ eth0: [] }, 'EMFILE', 'EMFILE', { eth1: [] }] as const;
    let at = 0;
    const list = new InterfaceList(() => {
      const next = lists[at++] ?? {};
      if (next === 'EMFILE') throw new Error('too many open files');
      return next as Record<string, []>;
    });
    expect([list.now, list.fault]).toEqual([{ eth0: [] }, undefined]);
    for (let i = 0; i < 2; i++) {
      expect([list.now, list.fault]).toEqual([{ eth0: [] }, 'too many open files']);
    }
    expect([list.now, list.fault]).toEqual([{ eth1: [] }, undefined]);
  });

  it('is empty where the system never gave one', () => {
    const list = new InterfaceList(() => {
      throw new Error('out of memory');
    });
    expect(list.now).toEqual({});
  });
});

describe('an interface', () => {
  it('is there for every address of 127.0.0.0/8', () => {
    expect(findInterface('127.8.9.1')).toMatchObject({ address: '127.8.9.1', loopback: true });
  });

  it('is found by name as by address, as the system lists them', () => {
    for (const [name, infos] of Object.entries(networkInterfaces())) {
      const info = infos?.find(({ family }) => family === 'IPv4');
      if (info === undefined) continue;
      const { address, netmask } = info;
      expect(findInterface(name)).toMatchObject({ address, netmask, loopback: info.internal });
      expect(findInterface(address)).toEqual(findInterface(name));
      expect(interfacesThere()).toContain(`${name} (${address})`);
    }
  });

  // 192.0.2.0/24, 198.51.100.0/24 and 203.0.113.0/24 are for documentation (RFC 5737).
  it.each(['203.0.113.9', 'nosuch0', '1270.0.0.1', ''])('%j is not there', wanted => {
    expect(findInterface(wanted)).toBeUndefined();
  });
});
