import { createSocket } from 'node:dgram';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { ask } from '../../src/daemon/asking/ask.js';
import { Daemon, SALT_LANTERN, until } from './support.js';

/** Eight of them fill the receive buffer of a socket that asks for more than the system's usual limit (208 KiB, doubled). */
const LARGE = Buffer.alloc(60_000);
const A_BURST = 200;

it('a flood that the system dropped is told with the sockets at which it came', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-full-'));
  const daemon = Daemon.run(SALT_LANTERN, {}, ['--state-dir', folder]);
  const sender = createSocket('udp4');
  let flood: NodeJS.Timeout | undefined;
  try {
    await until('it is live', () => daemon.enginePid > 0);
    // Positions are heard by the engine, orders by the supervisor.
    flood = setInterval(() => {
      for (const port of [9010, 9011])
        for (let i = 0; i < A_BURST; i++) sender.send(LARGE, port, '127.0.0.1');
    }, 200);
    const isTold = (port: number) =>
      daemon.log.some(
        ({ kind, msg }) => kind === 'dropped' && msg.includes(`(UDP 127.0.0.1:${port})`),
      );
    await until('both are in the log', () => isTold(9010) && isTold(9011), 60);
    clearInterval(flood);
    const { text } = await ask(folder, ['status']);
    expect(text).toMatch(
      /\d+ datagrams lost at input "tracking" \(UDP 127\.0\.0\.1:9010\): the system/,
    );
    expect(text).toMatch(
      /\d+ datagrams lost at input "operator" \(UDP 127\.0\.0\.1:9011\): the system/,
    );
  } finally {
    clearInterval(flood);
    sender.close();
    await daemon.stop();
    rmSync(folder, { recursive: true });
  }
}, 120_000);
