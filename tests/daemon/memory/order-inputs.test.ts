import { createSocket } from 'node:dgram';
import { once } from 'node:events';
import { expect, it, vi } from 'vitest';
import type { OrdersOnPipe } from '../../../src/daemon/engine/engine-orders.js';
import { OrderInputs } from '../../../src/daemon/memory/order-inputs.js';

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
