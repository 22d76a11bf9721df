import { type ChildProcess, execFileSync, spawnSync } from 'node:child_process';
import { copyFileSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Daemon, until } from '../system/support.js';
import { spawn } from '../tethered.js';

const MINIMAL = 'config/minimal.show.yaml';
let folder: string;
let unit: string;

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-unit-'));
  // A template is checked as one of its instances.
  unit = join(folder, 'lampwright@main.service');
  copyFileSync('systemd/lampwright@.service', unit);
});
afterAll(() => rmSync(folder, { recursive: true }));

describe('the unit', () => {
  it('has nothing that systemd-analyze verify complains of', () => {
    // It ends with 0 on unknown keys too, so any output counts.
    const { status, stdout, stderr } = spawnSync('systemd-analyze', ['verify', unit], {
      encoding: 'utf8',
    });
    expect({ status, stdout, stderr }).toEqual({ status: 0, stdout: '', stderr: '' });
  });

  it('is hardened: an exposure of 1.5 at most', () => {
    const { status, stdout } = spawnSync(
      'systemd-analyze',
      ['security', '--offline=true', '--threshold=15', '--no-pager', unit],
      { encoding: 'utf8' },
    );
    expect(stdout).toContain('Overall exposure level');
    expect(status).toBe(0);
  });

  it('allows every system call that a running daemon makes', async () => {
    const trace = join(folder, 'calls');
    const daemon = new Daemon('strace', [
      '-f', '-qq', '-e', 'signal=none', '-o', trace, process.execPath, 'dist/main.js', 'run', MINIMAL, '--log', 'json',
    ], { NOTIFY_SOCKET: join(folder, 'nobody-listens') }); // biome-ignore format: a command line
    await until('the engine runs under strace', () => daemon.enginePid > 0, 30);
    await sleep(1500); // the calls of a running show, after those of the start
    process.kill(daemon.enginePid, 'SIGKILL');
    await until(
      'an engine is started again',
      () => daemon.log.filter(l => l.kind === 'engine-started').length > 1,
      30,
    );
    // SIGTERM to strace itself would detach it; the daemon is its child.
    const supervisor = execFileSync('ps', ['-o', 'pid=', '--ppid', String(daemon.pid)], {
      encoding: 'utf8',
    });
    process.kill(Number(supervisor.trim().split('\n')[0]), 'SIGTERM');
    await daemon.exited;
    const calls = new Set(
      [...readFileSync(trace, 'utf8').matchAll(/^\d+ +(?:<\.\.\. )?([a-z_0-9]+)[( ]/gm)].map(
        m => m[1] ?? '',
      ),
    );
    expect(calls.size).toBeGreaterThan(30);
    const allowed = new Set<string>();
    for (const [, deny, words = ''] of readFileSync(unit, 'utf8').matchAll(
      /^SystemCallFilter=(~?)(.+)$/gm,
    )) {
      for (const call of words.split(' ').flatMap(word => [...callsOf(word)])) {
        if (deny === '~') allowed.delete(call);
        else allowed.add(call);
      }
    }
    expect([...calls].filter(call => !allowed.has(call))).toEqual([]);
  });
});

/** A word of the filter: a call, or a set with the sets within it. */
function callsOf(word: string): Set<string> {
  if (!word.startsWith('@')) return new Set([word]);
  const text = execFileSync('systemd-analyze', ['--no-pager', 'syscall-filter', word], {
    encoding: 'utf8',
  });
  const lines = text.split('\n').slice(1);
  const names = lines.map(line => line.trim()).filter(line => line !== '' && !line.startsWith('#'));
  return new Set(names.flatMap(name => [...callsOf(name)]));
}

/** The manager's end of the notification socket, by Python: prints each message. */
const MANAGER = `
import os, socket, sys
s = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
s.bind(sys.argv[1])
print("listening", flush=True)
while True:
    print(s.recv(4096).decode().replace("\\n", ";"), flush=True)
`;

describe('with a manager that listens', () => {
  const heard: { readonly atS: number; readonly text: string }[] = [];
  let manager: ChildProcess;
  let daemon: Daemon;
  const nowS = () => performance.now() / 1000;
  const strokesSince = (atS: number) =>
    heard.filter(one => one.atS > atS && one.text.includes('WATCHDOG=1')).length;

  beforeAll(async () => {
    const socket = join(folder, 'notify');
    manager = spawn('python3', ['-c', MANAGER, socket], { stdio: ['ignore', 'pipe', 'inherit'] });
    if (manager.stdout === null) throw new Error('no pipe');
    createInterface({ input: manager.stdout }).on('line', text =>
      heard.push({ atS: nowS(), text }),
    );
    await until('the manager listens', () => heard.length > 0);
    // As in the unit: unchanged levels go out every 0.9 s (E1.31 6.6.2), and each is a proof.
    daemon = Daemon.run(MINIMAL, { NOTIFY_SOCKET: socket, WATCHDOG_USEC: '2000000' });
  });
  afterAll(async () => {
    await daemon.stop();
    manager.kill();
  });

  it('says ready, strokes while it sends, stops with the ticks, and says that it stops', async () => {
    await until('it is ready', () => heard.some(one => one.text.includes('READY=1')));
    await until('it strokes', () => strokesSince(0) >= 3);
    await until('the engine runs', () => daemon.enginePid > 0);

    // Without the engine the safe look is sent: that is a beat, and it goes out.
    daemon.signalEngine('SIGKILL');
    const killedS = nowS();
    await sleep(3200); // three of the repeats
    expect(strokesSince(killedS)).toBeGreaterThanOrEqual(3);

    daemon.signal('SIGSTOP');
    await sleep(300); // what was under way
    const stoppedS = nowS();
    await sleep(2500); // longer than the manager would wait
    expect(strokesSince(stoppedS)).toBe(0);
    daemon.signal('SIGCONT');
    const onS = nowS();
    await until('it strokes again', () => strokesSince(onS) >= 2);

    expect(await daemon.stop()).toBe(0);
    expect(
      heard.some(
        one => one.text.includes('STOPPING=1') && one.text.includes('EXTEND_TIMEOUT_USEC='),
      ),
    ).toBe(true);
  });
});
