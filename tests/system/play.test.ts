import { execFileSync } from 'node:child_process';
import { createSocket } from 'node:dgram';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Decoder } from '@jwetzell/posistagenet';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { spawn } from '../tethered.js';
import { Daemon, until, variantOf } from './support.js';

/** A scene is played to a running show, which is recorded; then the recording, by another protocol. Ports of this file's own. */
const [IN, OUT] = [19_720, 19_721];
const SCENE = 'config/scenes/lantern.scene.yaml';
let show: ReturnType<typeof variantOf>;
let folder: string;
let daemon: Daemon;

beforeEach(() => {
  show = variantOf('config/salt-lantern.show.yaml', [['port: 9010', `port: ${IN}`]]);
  folder = mkdtempSync(join(tmpdir(), 'lampwright-play-'));
  const kept = ['--state-dir', join(folder, 'state'), '--record', join(folder, 'rec')];
  daemon = Daemon.run(show.file, {}, kept);
});
afterEach(async () => {
  await daemon.stop();
  show.remove();
  rmSync(folder, { recursive: true });
});

const play = (...args: string[]) =>
  spawn(process.execPath, ['dist/main.js', 'play', ...args], { stdio: ['ignore', 'pipe', 'pipe'] });
const status = () =>
  execFileSync(process.execPath, ['dist/main.js', 'tell', join(folder, 'state'), 'status'], {
    encoding: 'utf8',
  });

it('a running show follows what is played, and says that it is a rehearsal; its recording plays too', async () => {
  await until('the engine runs', () => daemon.enginePid !== 0, 20);
  const playing = play(SCENE, '--show', show.file, '--rehearsal', join(folder, 'state'));
  const live = () => {
    const became = daemon.log.filter(({ kind, to }) => kind === 'performer' && to === 'live');
    return new Set(became.map(one => one.performer));
  };
  await until('somebody is live', () => live().size > 0, 40);
  expect(status()).toContain('REHEARSAL (the lighting of the lantern); ');
  playing.kill('SIGINT');
  const [code] = await once(playing, 'exit');
  expect(code).toBe(0);
  expect(status()).not.toContain('REHEARSAL');
  await daemon.stop();

  const receiver = createSocket('udp4');
  const heard = new Decoder();
  receiver.on('message', bytes => heard.decode(bytes));
  receiver.bind(OUT, '127.0.0.1');
  await once(receiver, 'listening');
  const again = play(join(folder, 'rec'), '--to', `psn:127.0.0.1:${OUT}`, '--loop');
  try {
    await until('all trackers are heard', () => [1, 2, 3].every(id => heard.trackers[id]?.pos), 40);
    // Upright: y of PosiStageNet is the height at which they are worn.
    for (const id of [1, 2, 3]) {
      const y = heard.trackers[id]?.pos?.y ?? 0;
      expect(y).toBeGreaterThan(0.8);
      expect(y).toBeLessThan(2.2);
    }
  } finally {
    again.kill('SIGINT');
    await once(again, 'exit');
    receiver.close();
  }
}, 120_000);
