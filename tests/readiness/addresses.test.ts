import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { parseRoutes, routeTo } from '../../src/readiness/routing.js';
import { dotted, ipv4, isIn, networkText, overlap, prefixLength } from '../../src/stage/ipv4.js';

const address = (text: string) => {
  const value = ipv4(text);
  if (value === undefined) throw new Error(`${text} is no address`);
  return value;
};
const network = (text: string) => {
  const [at = '', bits = '32'] = text.split('/');
  return { address: address(at), mask: (0xffffffff << (32 - Number(bits))) >>> 0 };
};

describe('addresses', () => {
  it.each(['1.2.3', '1.2.3.4.5', '256.1.1.1', 'eth0', '1.2.3.x', '', '1.2.3.-4'])(
    '%s is none',
    text => expect(ipv4(text)).toBeUndefined(),
  );

  it('come back as they went', () => {
    const part = fc.integer({ min: 0, max: 255 });
    fc.assert(
      fc.property(fc.tuple(part, part, part, part), parts => {
        expect(dotted(address(parts.join('.')))).toBe(parts.join('.'));
      }),
      { seed: 31 },
    );
  });

  // RFC 1878 tables: masks and their lengths.
  it.each([
    ['255.255.255.0', 24],
    ['255.255.240.0', 20],
    ['255.0.0.0', 8],
    ['255.255.255.252', 30],
  ])('the mask %s has %d bits', (mask, bits) => expect(prefixLength(address(mask))).toBe(bits));

  it.each([
    ['10.0.0.0/8', '10.1.2.3/24', true],
    ['192.168.1.10/24', '192.168.1.200/24', true],
    ['192.168.1.10/25', '192.168.1.200/25', false],
    ['2.0.0.1/8', '10.0.0.1/8', false],
  ])('%s and %s have addresses in common: %s', (a, b, common) => {
    expect(overlap(network(a), network(b))).toBe(common);
    expect(overlap(network(b), network(a))).toBe(common);
  });

  it('are named by their network', () => {
    expect(networkText(network('192.168.1.77/26'))).toBe('192.168.1.64/26');
    expect(isIn(network('192.168.1.77/26'), address('192.168.1.100'))).toBe(true);
    expect(isIn(network('192.168.1.77/26'), address('192.168.1.128'))).toBe(false);
  });
});

/** As the kernel of a machine with two interfaces printed it (x86-64: addresses of the low byte first). */
const PROC_NET_ROUTE = `Iface	Destination	Gateway 	Flags	RefCnt	Use	Metric	Mask		MTU	Window	IRTT
eth0	00000000	010200C0	0003	0	0	100	00000000	0	0	0
eth0	000200C0	00000000	0001	0	0	0	00FFFFFF	0	0	0
eth1	0000020A	00000000	0001	0	0	0	0000FFFF	0	0	0
eth1	000000E0	00000000	0001	0	0	0	000000F0	0	0	0
eth2	0000030A	00000000	0201	0	0	0	0000FFFF	0	0	0
`;

describe('routes', () => {
  const routes = parseRoutes(PROC_NET_ROUTE);

  it('are read, but for those that refuse', () => {
    expect(routes.map(one => `${one.interface} ${networkText(one)}`)).toEqual([
      'eth0 0.0.0.0/0',
      'eth0 192.0.2.0/24',
      'eth1 10.2.0.0/16',
      'eth1 224.0.0.0/4',
    ]);
    expect(dotted(routes[0]?.gateway ?? 0)).toBe('192.0.2.1');
  });

  it.each([
    ['192.0.2.77', 'eth0'],
    ['10.2.1.1', 'eth1'],
    ['239.255.0.1', 'eth1'],
    ['8.8.8.8', 'eth0'],
  ])('the longest network wins: %s by %s', (to, by) =>
    expect(routeTo(routes, address(to))?.interface).toBe(by),
  );

  it('the least metric wins among equals, and without a way there is none', () => {
    const [one] = routes;
    if (one === undefined) throw new Error('no route');
    expect(routeTo([one, { ...one, interface: 'usb0', metric: 20 }], 1)?.interface).toBe('usb0');
    expect(routeTo(routes.slice(1), address('8.8.8.8'))).toBeUndefined();
  });

  it('of a text that is none are none', () => expect(parseRoutes('what\nis this')).toEqual([]));
});
