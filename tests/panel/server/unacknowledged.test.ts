import { createServer } from 'node:net';
import { expect, it } from 'vitest';
import { unacknowledged, unacknowledgedIn } from '../../../src/panel/server/unacknowledged.js';

/** As Linux 6 printed it: one that listens, one that reads, one gone for 20 s, one gone whose window is full, and another port's. */
const TABLE = `  sl  local_address rem_address   st tx_queue rx_queue tr tm->when retrnsmt   uid  timeout inode
   0: 01004E0A:1C48 00000000:0000 0A 00000000:00000000 00:00000000 00000000     0        0 186760 1 0000000000000000 100 0 0 10 0
   1: 01004E0A:1C48 03004E0A:83E7 01 00000000:00000000 00:00000000 00000000     0        0 186761 1 0000000053962f4a 20 4 31 10 -1
   2: 01004E0A:1C48 02004E0A:83E8 01 0001442B:00000000 01:00000062 0000000A     0        2 186762 2 0000000053962f4b 326 4 31 1 -1
   3: 01004E0A:1C48 04004E0A:83E9 01 0001442B:00000000 04:00000062 00000000     0        3 186763 2 0000000053962f4c 326 4 31 1 -1
   4: 01004E0A:1C49 02004E0A:83EA 01 0001442B:00000000 01:00000062 0000000A     0        2 186764 2 0000000053962f4d 326 4 31 1 -1
`;
/** Mapped IPv4, and IPv6, as a panel that listens at [::] has them. */
const TABLE_6 = `  sl  local_address                         remote_address                        st tx_queue rx_queue tr tm->when retrnsmt   uid  timeout inode
   0: 0000000000000000FFFF00000900000A:1C48 0000000000000000FFFF00000800000A:0401 01 00000001:00000000 01:00000062 00000001     0        0 1 2 0 326 4 31 1 -1
   1: 000000FD000000000000000009000000:1C48 000000FD000000000000000008000000:0402 01 00000001:00000000 01:00000062 00000001     0        0 1 2 0 326 4 31 1 -1
`;

it('tells the other ends that acknowledge nothing, as Node writes them', () => {
  expect(unacknowledgedIn(TABLE, 7240, 'LE')).toEqual(['10.78.0.2 33768', '10.78.0.4 33769']);
  expect(unacknowledgedIn(TABLE_6, 7240, 'LE')).toEqual(['::ffff:10.0.0.8 1025', 'fd00::8 1026']);
  expect(unacknowledgedIn('', 7240)).toEqual([]);
  expect(unacknowledgedIn('no table at all\nnor here', 7240)).toEqual([]);
});

it('has nothing against a connection of this machine that is read', async () => {
  const server = createServer();
  await new Promise<void>(resolve => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as { port: number };
  expect(unacknowledged(port)).toEqual([]);
  server.close();
});
