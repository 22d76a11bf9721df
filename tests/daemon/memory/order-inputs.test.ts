import { createSocket } from 'node:dgram';
import { once } from 'node:events';
import { expect, it, vi } from 'vitest';
import type { OrdersOnPipe } from '../../../src/daemon/engine/engine-orders.js';
import { InputSocket } from '../../../src/daemon/engine/input-socket.js';
import { OrderInputs } from '../../../src/daemon/memory/order-inputs.js';
import { SOLO } from '../../engine/shows.js';
import { showOf } from '../../show/show-of.js';

it('tells an engine of orders that none took, and of datagrams that the kernel dropped, once', async () => {
  const told: OrdersOnPipe[] = [];
  let isThere = false;
  const inputs = new OrderInputs({
    forward: orders => {
      if (isThere) told.push(orders);
      return isThere;
    },
    heard: () => undefined,
    fault: () => undefined,
    back: () => undefined,
  });
  inputs.lose(3);
  const turn = () => new Promise(resolve => setImmediate(resolve));
  await turn();
  await turn();
  isThere = true;
  inputs.tellNew();
  await vi.waitFor(() => expect(told).toMatchObject([{ lost: 3, overflowed: {} }]));

  // Any UDP socket of this process: nothing reads it, as this turn of the loop does not end before all is sent.
  const [full, sender] = [createSocket('udp4'), createSocket('udp4')];
  full.bind(0, '127.0.0.1');
  await once(full, 'listening');
  full.setRecvBufferSize(4096);
  sender.connect(full.address().port, '127.0.0.1');
  await once(sender, 'connect');
  for (let i = 0; i < 500; i++) sender.send(Buffer.alloc(512));
  // The kernel is asked once a second.
  await vi.waitFor(() => expect(told).toHaveLength(2), 5000);
  const socket = `UDP 127.0.0.1:${full.address().port}`;
  expect(told[1]?.overflowed).toEqual({ [socket]: expect.any(Number) });
  expect(told[1]?.overflowed[socket]).toBeGreaterThan(0);
  expect(told[1]?.lost).toBe(0);
  inputs.close();
  full.close();
  sender.close();
});

it('listens to others after a reload, at the same socket', async () => {
  const show = (allow: string) =>
    showOf(`${SOLO}operator: { listen: 127.0.62.7, port: 19311, allow: [${allow}] }\n`);
  const told: OrdersOnPipe[] = [];
  const inputs = new OrderInputs({
    forward: orders => told.push(orders) > 0,
    heard: () => undefined,
    fault: () => undefined,
    back: () => undefined,
  });
  const opened = vi.spyOn(InputSocket.prototype, 'open');
  await inputs.take(show('127.0.0.9'));
  await inputs.take(show('127.0.0.1'));
  expect(opened).toHaveBeenCalledOnce();
  opened.mockRestore();
  const sender = createSocket('udp4');
  sender.send(Buffer.from('stop'), 19_311, '127.0.62.7');
  await vi.waitFor(() => expect(told).toHaveLength(1), 5000);
  expect(told[0]).toMatchObject({
    datagrams: [[1, expect.any(String), expect.any(Number), '127.0.0.1']],
  });
  expect(told[0]?.refused).toBe(0);
  inputs.close();
  sender.close();
});
