import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { spawn } from '../tethered.js';
import { Daemon, until, variantOf } from './support.js';

const show = variantOf('config/minimal.show.yaml', []);
const folder = mkdtempSync(join(tmpdir(), 'lampwright-watch-'));
let daemon: Daemon;
beforeAll(async () => {
  daemon = Daemon.run(show.file, {}, ['--state-dir', folder]);
  await until('it runs', () => daemon.log.some(({ msg }) => msg?.includes('is running')));
});
afterAll(async () => {
  await daemon.stop();
  show.remove();
  rmSync(folder, { recursive: true });
});

it.each([[[]], [['--plain']], [['--json']]])(
  'watch %j ends when nobody reads on, as behind `| head`',
  async options => {
    const watch = spawn(process.execPath, ['dist/main.js', 'watch', folder, ...options], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    watch.stdout.once('data', () => watch.stdout.destroy());
    try {
      await until('it has ended', () => watch.exitCode !== null || watch.signalCode !== null);
      expect(watch.exitCode).toBe(0);
    } finally {
      watch.kill('SIGKILL');
    }
  },
);
