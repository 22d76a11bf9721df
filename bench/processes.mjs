import { execFileSync, spawn } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';

const TICKS_PER_S = Number(execFileSync('getconf', ['CLK_TCK'], { encoding: 'utf8' }));

export function start(args, options = {}) {
  return spawn(process.execPath, args, {
    stdio: ['ignore', options.stdout ?? 'ignore', 'inherit'],
  });
}

export async function stop(child) {
  if (child.exitCode !== null || child.signalCode !== null) return;
  const ended = new Promise(resolve => child.once('exit', resolve));
  child.kill('SIGTERM');
  await Promise.race([ended, sleep(6000).then(() => child.kill('SIGKILL'))]);
}

/** A process and its children. */
export function family(pid) {
  const children = readdirSync('/proc')
    .filter(name => /^\d+$/.test(name))
    .filter(name => statOf(name)?.parent === pid)
    .map(Number);
  return [pid, ...children];
}

/** Seconds of CPU of some processes so far. */
export function cpuS(pids) {
  return pids.reduce((sum, pid) => sum + (statOf(pid)?.cpu ?? 0), 0) / TICKS_PER_S;
}

/** The same by what the scheduler has counted, to the nanosecond: of all threads that there are (sched-stats.rst of Linux). */
export function scheduledS(pids) {
  return (
    pids.reduce((sum, pid) => {
      const threads = readdirSync(`/proc/${pid}/task`);
      return threads.reduce((all, thread) => {
        const [ranNs] = readFileSync(`/proc/${pid}/task/${thread}/schedstat`, 'utf8').split(' ');
        return all + Number(ranNs);
      }, sum);
    }, 0) / 1e9
  );
}

export function rssMiB(pid) {
  const match = /VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'));
  return Number(match?.[1] ?? 0) / 1024;
}

function statOf(pid) {
  try {
    const text = readFileSync(`/proc/${pid}/stat`, 'utf8');
    const fields = text.slice(text.lastIndexOf(')') + 2).split(' ');
    return { parent: Number(fields[1]), cpu: Number(fields[11]) + Number(fields[12]) };
  } catch {
    return undefined;
  }
}
