import { createSocket } from 'node:dgram';
import { once } from 'node:events';
import { expect, it } from 'vitest';
import { SocketDrops, type SocketPlace } from '../../../src/daemon/machine/socket-drops.js';

// udp(7) and proc(5): what a full receive buffer can't take is dropped by the kernel, and counted in /proc/net/udp.
it('counts what the kernel dropped because a socket of this process was full, once', async () => {
  const counted: number[] = [];
  const places: SocketPlace[] = [];
  const drops = new SocketDrops((count, at) => {
    counted.push(count);
    places.push(at);
  });
  const [full, sender] = [createSocket('udp4'), createSocket('udp4')];
  let read = 0;
  full.on('message', () => {
    read += 1;
  });
  full.bind(0, '127.0.0.1');
  await once(full, 'listening');
  full.setRecvBufferSize(4096);
  await drops.look();
  const { port } = full.address();
  sender.connect(port, '127.0.0.1');
  await once(sender, 'connect');
  // Nothing is read in between: what is sent at once, without a callback, leaves in one turn of the loop.
  const sent = 500;
  for (let i = 0; i < sent; i++) sender.send(Buffer.alloc(512));
  await new Promise<void>(resolve => sender.send(Buffer.alloc(1), () => resolve()));
  for (let before = -1; before !== read; ) {
    before = read;
    await new Promise(resolve => setImmediate(resolve));
    await new Promise(resolve => setImmediate(resolve));
  }
  await drops.look();
  await drops.look();
  expect(counted).toHaveLength(1);
  expect(places).toEqual([{ address: '127.0.0.1', port }]);
  expect(read + (counted[0] ?? 0)).toBe(sent + 1);
  full.close();
  sender.close();
});
