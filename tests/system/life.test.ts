import { execFileSync } from 'node:child_process';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { pathToFileURL } from 'node:url';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { spawn } from '../tethered.js';
import {
  checkJson,
  Daemon,
  longestGapS,
  SALT_LANTERN,
  SacnReceiver,
  Trackers,
  until,
  variantOf,
} from './support.js';

/** What could end the supervisor itself, or the light with it. Ports and addresses of this file's own. */
const POSITIONS = 19_610;
const RECEIVER = '127.0.0.96';
const STOVE = 0;
const LIT = 217;
/** E1.31 6.7.1: after so long receivers let a source go. */
const SOURCE_LOSS_S = 2.5;

let show: ReturnType<typeof variantOf>;
let folder: string;
let daemon: Daemon;
let sacn: SacnReceiver;
let trackers: Trackers;
let safe: readonly number[];

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-life-'));
  show = variantOf(SALT_LANTERN, [
    ['port: 9010', `port: ${POSITIONS}`],
    ['port: 9011', `port: ${POSITIONS + 1}`],
    ['to: [127.0.0.1]', `to: [${RECEIVER}]`],
  ]);
  safe = (await checkJson(show.file)).show?.safeLook['1'] ?? [];
  sacn = await SacnReceiver.open(1, RECEIVER);
  trackers = new Trackers(POSITIONS);
  trackers.place(1, 2, 6);
});

afterEach(async () => {
  trackers.close();
  sacn.close();
  await daemon.stop();
  show.remove();
  rmSync(folder, { recursive: true });
});

async function lit(): Promise<void> {
  await until('the stove is lit', () => sacn.last[STOVE] === LIT, 20);
}

/** The greatest change of one slot from one packet to the next, of 255. */
function largestStep(from: number, slot = STOVE): number {
  let largest = 0;
  for (let i = Math.max(1, from); i < sacn.packets.length; i++) {
    const [before, after] = [sacn.packets[i - 1], sacn.packets[i]];
    largest = Math.max(largest, Math.abs((after?.slots[slot] ?? 0) - (before?.slots[slot] ?? 0)));
  }
  return largest;
}

/** One that has ended stays in the table until its new parent, which is none of ours, has taken note (proc(5): Z). */
function isAlive(pid: number): boolean {
  try {
    const stat = readFileSync(`/proc/${pid}/stat`, 'latin1');
    return !/^[ZX]/.test(stat.slice(stat.lastIndexOf(')') + 2));
  } catch {
    return false;
  }
}

describe('the supervisor', () => {
  it('goes on at its safe look while no descriptor is left for an engine, and starts one when there is', async () => {
    // By its name: addresses of 127/8 are not looked for in the list of interfaces.
    const named = variantOf(show.file, [['interface: 127.0.0.1', 'interface: lo']]);
    daemon = Daemon.run(named.file);
    await lit();
    named.remove();
    const first = daemon.enginePid;
    const open = readdirSync(`/proc/${daemon.pid}/fd`).length;
    // prlimit is part of util-linux.
    execFileSync('prlimit', ['--pid', String(daemon.pid), `--nofile=${open - 4}:1024`]);
    const from = sacn.packets.length;
    daemon.signalEngine('SIGKILL');
    const refused = () => daemon.log.filter(line => /could not be started/.test(line.msg));
    await until('it could not start an engine, again and again', () => refused().length > 2);
    await until('it is at the safe look', () => sacn.last[STOVE] === safe[STOVE]);
    // Each second the interface is looked for; that needs a descriptor too.
    const listed = (kind: string) => daemon.log.filter(line => line.kind === kind).length;
    await until('it can not list the interfaces', () => listed('interfaces-unread') > 0);
    await sleep(1000); // an unchanged universe is sent every 0.9 s
    execFileSync('prlimit', ['--pid', String(daemon.pid), '--nofile=1024:1024']);
    await until('there is an engine again', () => daemon.enginePid !== first, 20);
    await lit();
    expect([listed('interfaces-unread'), listed('interfaces-read')]).toEqual([1, 1]);
    expect(listed('interface-lost')).toBe(0);
    expect(longestGapS(sacn.packets.slice(from))).toBeLessThan(SOURCE_LOSS_S);
  });

  it('ends with a code that a service is started again for when something throws, says why, and sends nothing more', async () => {
    const bug = join(folder, 'bug.mjs');
    // In the supervisor only, two seconds after the start; nobody awaits the promise.
    writeFileSync(
      bug,
      `if (process.argv[2] === 'run') setTimeout(() => Promise.reject(new Error('a bug of ours')), 2000);`,
    );
    daemon = Daemon.run(show.file, { NODE_OPTIONS: `--import ${pathToFileURL(bug)}` });
    expect(await daemon.exited).toBe(3);
    expect(daemon.log.find(line => line.kind === 'crash')).toMatchObject({
      level: 60,
      msg: expect.stringContaining('a bug of ours'),
      stack: expect.stringContaining('bug.mjs'),
    });
    // No Stream_Terminated: the next one goes on with the stream.
    expect(sacn.packets.some(packet => packet.terminated)).toBe(false);
    const prevented = /^RestartPreventExitStatus=(.+)$/m.exec(
      readFileSync('systemd/lampwright@.service', 'utf8'),
    )?.[1];
    // Neither this nor a code that Node ends with by itself: those are started again.
    expect(prevented).toBe('78');
  });

  it('takes an engine with it that hangs, when it is killed', async () => {
    daemon = Daemon.run(show.file);
    await lit();
    const engine = daemon.enginePid;
    daemon.signalEngine('SIGSTOP');
    daemon.signal('SIGKILL');
    await until('the engine is gone', () => !isAlive(engine), 2);
  });

  it('that stood still for three seconds begins its fade where the light stood', async () => {
    daemon = Daemon.run(show.file);
    await lit();
    const engine = daemon.enginePid;
    daemon.signal('SIGSTOP');
    await sleep(3000); // the stall itself
    const from = sacn.packets.length;
    daemon.signal('SIGCONT');
    await until('it says so', () => daemon.log.some(line => line.kind === 'stood-still'));
    await until('it is on its way', () => sacn.last[STOVE] !== LIT);
    await until('it is at the safe look', () => sacn.last[STOVE] === safe[STOVE]);
    // A fade of a second or more moves a tenth of the way in the longest beat that counts; 1 for rounding.
    expect(largestStep(from)).toBeLessThanOrEqual((LIT - (safe[STOVE] ?? 0)) * 0.1 + 1);
    await lit();
    // It was the supervisor that did not listen.
    expect(daemon.enginePid).toBe(engine);
  });

  it('runs on when it is sent what would end Node, and opens no debugger', async () => {
    daemon = Daemon.run(show.file);
    await lit();
    const from = sacn.packets.length;
    const both = ['SIGUSR1', 'SIGUSR2'] as const;
    const stops = ['SIGTSTP', 'SIGTTIN'] as const;
    const ends = ['SIGALRM', 'SIGVTALRM', 'SIGPROF', 'SIGIO', 'SIGPWR', 'SIGXCPU'] as const;
    for (const signal of [...both, ...stops, ...ends]) {
      daemon.signal(signal);
      if (both.some(one => one === signal)) daemon.signalEngine(signal);
      await until(`${signal} is told of`, () => daemon.log.some(line => line.signal === signal));
    }
    daemon.signalEngine('SIGHUP');
    await sleep(1000); // for what would come of them
    expect(sacn.packets.slice(from).every(packet => packet.slots[STOVE] === LIT)).toBe(true);
    expect(daemon.stderr).not.toContain('Debugger');
    daemon.signal('SIGQUIT');
    expect(await daemon.exited).toBe(0);
    expect(sacn.packets.at(-1)?.terminated).toBe(true);
  });
});

describe('a recording whose folder is gone', () => {
  it('is no reason for anything: a new engine runs, it is told of, and taken up again when the folder is back', async () => {
    const records = join(folder, 'records');
    daemon = Daemon.run(show.file, {}, ['--record', records]);
    await lit();
    const first = daemon.enginePid;
    const recording = (state: string) =>
      daemon.log.filter(line => line.kind === 'recording' && line.state === state).length;
    // As a stick that is pulled: not even the folder of the folder is left.
    rmSync(records, { recursive: true });
    await until('it is told of', () => recording('faulty') > 0);
    daemon.signalEngine('SIGKILL');
    await until('there is an engine again', () => daemon.enginePid !== first);
    await until('it is at the safe look', () => sacn.last[STOVE] === safe[STOVE]);
    await lit();
    expect(daemon.log.filter(line => line.kind === 'engine-ended').length).toBe(1);
    mkdirSync(records);
    // After a fault the disk is tried again every 10 s.
    await until('it is recorded again', () => recording('well') > 0, 20);
    // Engine and supervisor each have a recorder, and each tries by itself.
    const parts = () => readdirSync(records).flatMap(run => readdirSync(join(records, run)));
    const isEngines = (name: string) => name.startsWith('engine-');
    await until('the engine has a part again', () => parts().some(isEngines), 20);
  });
});

describe('in a terminal', () => {
  /** A pseudo-terminal by `script` (util-linux); what is run there leaves its process and its exit code in files. */
  function inTerminal() {
    const [pidFile, codeFile] = [join(folder, 'pid'), join(folder, 'code')];
    const run = `${process.execPath} dist/main.js run ${show.file}`;
    const shell = `trap "" HUP; sh -c 'echo $$ > ${pidFile}; exec ${run}'; echo $? > ${codeFile}`;
    const terminal = spawn('script', ['-q', '-c', shell, '/dev/null'], {
      stdio: ['pipe', 'pipe', 'ignore'],
    });
    let screen = '';
    terminal.stdout.on('data', (text: Buffer) => {
      screen += text.toString();
    });
    const numberIn = (file: string) => {
      const text = existsSync(file) ? readFileSync(file, 'utf8').trim() : '';
      return text === '' ? undefined : Number(text);
    };
    return {
      terminal,
      screen: () => screen,
      pid: () => numberIn(pidFile) ?? 0,
      code: () => numberIn(codeFile),
    };
  }

  beforeEach(() => {
    // `afterEach` stops the one of the other tests.
    daemon = new Daemon('true', []);
  });

  it('goes on when the terminal is closed, and ends cleanly when it is told to', async () => {
    const { terminal, pid, code } = inTerminal();
    await lit();
    const from = sacn.packets.length;
    terminal.kill('SIGKILL');
    await sleep(2000); // for what would come of it
    const after = sacn.packets.slice(from);
    expect(after.length).toBeGreaterThan(1);
    expect(after.every(packet => packet.slots[STOVE] === LIT)).toBe(true);
    process.kill(pid(), 'SIGTERM');
    await until('it has ended', () => code() !== undefined);
    expect(code()).toBe(0);
    expect(sacn.packets.at(-1)?.terminated).toBe(true);
  });

  it('ends although the terminal is stopped with Ctrl-S', async () => {
    const { terminal, pid, code } = inTerminal();
    await lit();
    terminal.stdin.write('\x13');
    await sleep(300); // the terminal takes it in
    process.kill(pid(), 'SIGTERM');
    await until('it has ended', () => !isAlive(pid()) || code() !== undefined);
    expect(sacn.packets.at(-1)?.terminated).toBe(true);
    terminal.kill();
  });
});
