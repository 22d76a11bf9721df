import { expect, test } from 'vitest';
import { socketInWords } from '../../../src/daemon/machine/socket-words.js';

const input = (name: string, listen: string, port: number, group?: string) => ({
  name,
  listen,
  port,
  psn: group === undefined ? undefined : { group },
});
const INPUTS = [
  input('stage', '10.0.0.5', 9010),
  input('pit', '10.0.1.5', 9010),
  input('server', 'eth1', 56565, '236.10.10.10'),
];

test.each([
  ['10.0.1.5', 9010, 'input "pit" (UDP 10.0.1.5:9010)'],
  ['10.0.9.9', 9010, 'UDP 10.0.9.9:9010'],
  ['236.10.10.10', 56565, 'input "server" (UDP 236.10.10.10:56565)'],
  ['*', 56565, 'input "server" (UDP *:56565)'],
  // E1.31 9.3.1 and Art-Net 4: the ports of the protocols.
  ['239.255.0.7', 5568, 'sACN (UDP 239.255.0.7:5568)'],
  ['0.0.0.0', 6454, 'Art-Net (UDP 0.0.0.0:6454)'],
  ['10.0.0.5', 40000, 'UDP 10.0.0.5:40000'],
])('a socket at %s:%i is %s', (address, port, words) => {
  expect(socketInWords({ address, port }, INPUTS as never)).toBe(words);
});
