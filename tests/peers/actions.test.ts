import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, Trackers, until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';

const PORT = 9050;
let show: ReturnType<typeof variantOf>;
let daemon: Daemon;
let trackers: Trackers;

beforeEach(() => {
  show = variantOf('config/minimal.show.yaml', [
    [
      'mappings:',
      `signals:
  at-stove: { presence: { zone: stove, of: ines } }
conditions:
  lit: { signal: at-stove, on: 0.5, off: 0.2 }
receivers:
  sound: { address: 127.0.0.1, port: ${PORT} }
actions:
  - { condition: lit, send: sound, address: /stove/enter, arguments: [7, 0.5, low, true] }
  - { condition: lit, on: leave, send: sound, address: /stove/leave }
mappings:`,
    ],
  ]);
  trackers = new Trackers();
  daemon = Daemon.run(show.file);
});
afterEach(async () => {
  trackers.close();
  await daemon.stop();
  show.remove();
});

/** To the stove, or back, in 3 s: a jump would be a loss, and sends nothing. */
async function walk(way: 1 | -1): Promise<void> {
  for (let i = 0; i <= 30; i++) {
    const share = way === 1 ? i / 30 : 1 - i / 30;
    trackers.place(1, 5 - 3 * share, 1 + 2 * share);
    await sleep(100);
  }
}

it('what a condition sends is read by oscdump (liblo)', async () => {
  // Line by line, as a pipe would keep it back.
  const dump = spawn('stdbuf', ['-oL', 'oscdump', String(PORT)]);
  let said = '';
  dump.stdout.on('data', (text: Buffer) => {
    said += text.toString();
  });
  try {
    trackers.place(1, 5, 1);
    await until('ines is live', () => daemon.log.some(({ to }) => to === 'live'), 20);
    await walk(1);
    await until('it is entered', () => said.includes('/stove/enter'), 20);
    await walk(-1);
    await until('it is left', () => said.includes('/stove/leave'), 20);
  } finally {
    dump.kill();
  }
  const lines = said.trim().split('\n');
  expect(lines).toHaveLength(2);
  expect(lines[0]).toMatch(/\/stove\/enter ifsT 7 0\.500000 "low" #T$/);
  expect(lines[1]).toMatch(/\/stove\/leave\s*$/);
});
