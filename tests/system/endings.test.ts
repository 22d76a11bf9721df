import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Daemon, SacnReceiver, Trackers, until, variantOf } from './support.js';

/** How `run` ends, and with which code. A port of this file's own. */
const POSITIONS = 19_640;

let folder: string;
let show: ReturnType<typeof variantOf>;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-end-'));
  show = variantOf('config/minimal.show.yaml', [['port: 9010', `port: ${POSITIONS}`]]);
});
afterEach(() => {
  show.remove();
  rmSync(folder, { recursive: true });
});

/** Started as systemd does; nobody listens there. */
const SERVED = { NOTIFY_SOCKET: '/nowhere/notify' };

function codeOf(args: readonly string[], env: Readonly<Record<string, string>>): number | null {
  const { NOTIFY_SOCKET: _, ...rest } = process.env;
  return spawnSync(process.execPath, args, { env: { ...rest, ...env } }).status;
}

describe('78 (EX_CONFIG of sysexits.h), which a service manager leaves alone', () => {
  const broken = variantOf('config/minimal.show.yaml', [['universes: [1]', 'universes: [0]']]);
  const RUN = ['dist/main.js', 'run'];

  it.each([
    ['a show with errors', [...RUN, broken.file], 1, 78],
    ['no such show', [...RUN, '/nowhere.show.yaml'], 2, 78],
    ['an unknown option', [...RUN, broken.file, '--loud'], 2, 78],
    // Node's own: it can't read the program, which the next start may.
    ['no program', ['dist/nowhere.js', 'run', broken.file], 1, 1],
  ])('%s', (_, args, byHand, served) => {
    expect([codeOf(args, {}), codeOf(args, SERVED)]).toEqual([byHand, served]);
  });
});

describe('a second signal', () => {
  it.each([
    ['at once is the same press of Ctrl-C: it fades to its end', 0, false],
    ['of somebody who presses twice as fast as people do ends it at once', 150, true],
  ])('%s', async (_, afterMs, endsAtOnce) => {
    const trackers = new Trackers(POSITIONS);
    trackers.place(1, 2, 3);
    const sacn = await SacnReceiver.open(1);
    const daemon = Daemon.run(show.file);
    await until('the stove is lit', () => sacn.last[0] === 255, 20);
    const startedMs = performance.now();
    daemon.signal('SIGINT');
    await sleep(afterMs);
    daemon.signal('SIGINT');
    expect(await daemon.exited).toBe(0);
    const tookMs = performance.now() - startedMs;
    trackers.close();
    sacn.close();
    expect(sacn.packets.slice(-3).every(({ terminated }) => terminated)).toBe(true);
    // The fade takes 2 s (docs/reference/show-file.md, watchdog.engineSilent).
    const last = sacn.packets.at(-1)?.slots[0] ?? 0;
    expect(last > 200 === endsAtOnce, `level ${last} after ${tookMs} ms`).toBe(true);
    expect(tookMs < 1000, `${tookMs} ms`).toBe(endsAtOnce);
  });
});

it('a state folder that can not be made, below /proc, is told of, and the light is out', async () => {
  const daemon = Daemon.run(show.file, {}, [
    '--state-dir',
    '/proc/lampwright/state',
    '--record',
    '/proc/lampwright/recordings',
  ]);
  await until('the engine runs', () => daemon.enginePid > 0);
  for (const kind of ['control-fault', 'recording', 'unkept']) {
    const line = daemon.log.find(one => one.kind === kind);
    expect(line?.msg, kind).toContain(
      "ENOENT: no such file or directory, mkdir '/proc/lampwright'",
    );
  }
  expect(await daemon.stop()).toBe(0);
});
