import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { Daemon, SALT_LANTERN, until } from './support.js';

/** Place of `nice` in /proc/PID/stat behind the name of the program, from 0 (proc_pid_stat(5): field 19). */
const NICE = 16;
const niceOf = (stat: string) => Number(stat.slice(stat.lastIndexOf(')') + 2).split(' ')[NICE]);

function nicesOf(pid: number): Set<number> {
  const tasks = readdirSync(`/proc/${pid}/task`);
  return new Set(
    tasks.map(task => niceOf(readFileSync(`/proc/${pid}/task/${task}/stat`, 'latin1'))),
  );
}

/** Of its session, where the kernel schedules sessions as groups (sched(7)). */
const groupNiceOf = (pid: number) =>
  Number(/nice (-?\d+)/.exec(readFileSync(`/proc/${pid}/autogroup`, 'latin1'))?.[1]);

function panelOf(daemon: number): number {
  const children = readFileSync(`/proc/${daemon}/task/${daemon}/children`, 'latin1');
  const pids = children.trim().split(' ').map(Number);
  const commandOf = (pid: number) => readFileSync(`/proc/${pid}/cmdline`, 'latin1');
  return pids.find(pid => commandOf(pid).includes('panel-process')) ?? 0;
}

/** Ended, though whoever adopted it may not have looked yet (proc_pid_stat(5): state). */
function hasEnded(pid: number): boolean {
  const file = `/proc/${pid}/stat`;
  return !existsSync(file) || /\) [ZX] /.test(readFileSync(file, 'latin1'));
}

it('runs the panel five steps of nice behind the light, as a process and as a session', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-behind-'));
  const daemon = Daemon.run(SALT_LANTERN, {}, ['--state-dir', folder, '--panel', '127.0.0.1:7240']);
  try {
    await until('the panel listens', () => daemon.log.some(({ kind }) => kind === 'panel'), 40);
    const panel = panelOf(daemon.pid);
    const [own = 0] = nicesOf(daemon.pid);
    expect([...nicesOf(daemon.enginePid)]).toEqual([own]);
    expect([...nicesOf(panel)]).toEqual([own + 5]);
    // A kernel without such groups has no such file.
    if (!existsSync('/proc/self/autogroup')) return;
    expect(groupNiceOf(panel)).toBe(own + 5);
    for (const light of [daemon.pid, daemon.enginePid])
      expect(groupNiceOf(light)).toBeLessThanOrEqual(own);
  } finally {
    await daemon.stop();
    rmSync(folder, { recursive: true });
  }
}, 60_000);

it('ends a panel that stands still with its daemon, and leaves its port to the next', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-behind-'));
  const daemon = Daemon.run(SALT_LANTERN, {}, ['--state-dir', folder, '--panel', '127.0.0.1:7240']);
  try {
    await until('the panel listens', () => daemon.log.some(({ kind }) => kind === 'panel'), 40);
    const panel = panelOf(daemon.pid);
    expect(panel).toBeGreaterThan(0);
    process.kill(panel, 'SIGSTOP');
    daemon.signal('SIGKILL');
    await until('the panel has ended', () => hasEnded(panel), 5);
  } finally {
    daemon.signal('SIGKILL');
    rmSync(folder, { recursive: true, force: true });
  }
}, 60_000);
