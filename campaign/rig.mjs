// One daemon (or two), its feed and the receiver, on the campaign's hosts.
import { execFile, execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { promisify } from 'node:util';
import { Capture } from './capture.mjs';
import { HOSTS, spawnOn } from './hosts.mjs';
import { LIVE, PLACES } from './show.mjs';

const run = promisify(execFile);
/** As systemd does by RestartSec of the unit. */
const RESTART_MS = 100;

export async function until(what, holds, withinS) {
  const end = Date.now() + withinS * 1000;
  while (!holds()) {
    if (Date.now() > end) throw new Error(`not within ${withinS} s: ${what}`);
    await sleep(5);
  }
}

export class Daemon {
  log = [];
  stderr = '';
  restarts = 0;
  #child;
  #ending = false;
  #pidInTerminal;

  /** @param how terminal: run in a terminal of its own, where nobody starts it again */
  constructor(
    host,
    args,
    { env = {}, stdout = 'pipe', misbehaves = false, terminal = false } = {},
  ) {
    this.host = host;
    this.args = args;
    const preload = misbehaves ? ['--import', './campaign/misbehave.mjs'] : [];
    // Before all else on the machine, as the unit has it.
    const command = [
      'nice',
      '-n',
      '-10',
      process.execPath,
      ...preload,
      'dist/main.js',
      'run',
      ...args,
    ];
    this.terminal = terminal;
    // A pseudo-terminal by `script` (util-linux).
    this.command = terminal
      ? ['script', '-q', '-c', `exec ${command.join(' ')}`, '/dev/null']
      : command;
    // As systemd's RuntimeDirectory: a folder in memory of its own.
    const memory = mkdtempSync('/dev/shm/lampwright-campaign-');
    process.once('exit', () => rmSync(memory, { recursive: true, force: true }));
    this.options = {
      env: { ...process.env, RUNTIME_DIRECTORY: memory, ...env },
      stdio: [terminal ? 'pipe' : 'ignore', stdout, 'pipe'],
    };
    this.#start();
  }

  #start() {
    const child = spawnOn(this.host, this.command, this.options);
    this.#child = child;
    child.stdout?.on('error', () => undefined);
    if (child.stdout) {
      createInterface({ input: child.stdout }).on('line', line => {
        if (line.startsWith('{')) this.log.push({ ...JSON.parse(line), heardS: Date.now() / 1000 });
      });
    }
    child.stderr.on('data', text => {
      this.stderr += text;
    });
    child.once('exit', () => {
      if (this.#ending || this.terminal) return;
      this.restarts += 1;
      setTimeout(() => this.#ending || this.#start(), RESTART_MS);
    });
  }

  get pid() {
    if (!this.terminal) return this.#child.pid;
    this.#pidInTerminal ??= Number(execFileSync('ps', ['-o', 'pid=', '--ppid', this.#child.pid]));
    return this.#pidInTerminal;
  }

  /** As a dropped ssh session, or a window that is closed. */
  closeTerminal() {
    this.#pidInTerminal = this.pid; // nobody's child afterwards
    this.#child.kill('SIGKILL');
  }

  get enginePid() {
    return Number(this.log.findLast(line => line.kind === 'engine-started')?.pid ?? 0);
  }

  /** The engine as the system knows it, where the log can't be read. */
  async engineFromSystem() {
    const { stdout } = await run('ps', ['-o', 'pid=', '--ppid', String(this.pid)]);
    return Number(stdout.trim().split('\n')[0]);
  }

  signalEngine(signal) {
    if (this.enginePid > 0) process.kill(this.enginePid, signal);
  }

  signal(signal) {
    if (this.terminal) process.kill(this.pid, signal);
    else this.#child.kill(signal);
  }

  told(kind) {
    return this.log.filter(line => line.kind === kind);
  }

  /** Its reader stays, and reads no more. */
  stallLog() {
    this.#child.stdout.pause();
    this.#child.stdout.removeAllListeners('data');
    this.#child.stdout.pause();
  }

  closeLog() {
    this.#child.stdout.destroy();
  }

  rssMiB(pid) {
    try {
      return Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]) / 1024;
    } catch {
      return 0;
    }
  }

  /** @returns what was wrong with its end, or undefined */
  async stop() {
    this.#ending = true;
    const { pid } = this;
    const child = this.#child;
    if (!isRunning(pid)) return undefined;
    this.signal('SIGTERM');
    try {
      await until('it has ended', () => !isRunning(pid), 8);
    } catch {
      process.kill(pid, 'SIGKILL');
      return 'it did not end when it was told to';
    }
    // Whose child it is in a terminal that is closed nobody knows.
    if (this.terminal) return undefined;
    if (child.exitCode === null && child.signalCode === null) {
      await new Promise(resolve => child.once('exit', resolve));
    }
    return child.exitCode === 0 ? undefined : `it ended with ${child.exitCode ?? child.signalCode}`;
  }
}

/** Not what has ended and is waited for (proc_pid_stat(5)). */
function isRunning(pid) {
  try {
    return !/^\d+ \(.*\) [ZX] /.test(readFileSync(`/proc/${pid}/stat`, 'utf8'));
  } catch {
    return false;
  }
}

export class Rig {
  daemons = [];
  #others = [];

  static async open(show) {
    const rig = new Rig();
    rig.show = show;
    rig.capture = await Capture.open('lwcg');
    const targets = [HOSTS.lwca, HOSTS.lwcb];
    rig.feed = spawnOn('lwcg', [process.execPath, 'campaign/feed.mjs', ...targets]);
    return rig;
  }

  start(host, options = [], how = {}) {
    const log = how.log ?? 'json';
    const file = how.file ?? this.show.file;
    const daemon = new Daemon(host, [file, '--log', log, ...options], how);
    this.daemons.push(daemon);
    return daemon;
  }

  /** A program beside, ended with the run. */
  beside(host, command, options) {
    const child = spawnOn(host, command, options);
    this.#others.push(child);
    return child;
  }

  /** Another run of the same show, with all that a daemon has. @returns once it has ended */
  async runBeside(host, { args, options }, more) {
    const command = [process.execPath, 'dist/main.js', 'run', ...args, ...more];
    const child = this.beside(host, command, { ...options, stdio: ['ignore', 'pipe', 'pipe'] });
    let said = '';
    for (const stream of [child.stdout, child.stderr]) {
      stream.on('data', text => {
        said += text;
      });
    }
    await until('the second one has ended', () => child.exitCode !== null, 10);
    return { code: child.exitCode, said };
  }

  order(order) {
    this.feed.stdin.write(`${JSON.stringify(order)}\n`);
  }

  place(name, dx = 0, dy = 0) {
    const [tracker, x, y] = PLACES[name];
    this.order({ place: [tracker, x + dx, y + dy] });
  }

  isLive(names = ['ines', 'gull']) {
    const levels = (protocol, universe) => this.capture.latest(protocol, universe);
    return names.every(name => LIVE[name](levels));
  }

  async tell(folder, ...words) {
    const { stdout, stderr } = await run(process.execPath, [
      'dist/main.js',
      'tell',
      folder,
      ...words,
    ]).catch(error => error);
    return `${stdout}${stderr}`;
  }

  async close() {
    for (const child of this.#others) child.kill('SIGKILL');
    await Promise.all(this.daemons.map(daemon => daemon.stop()));
    await this.ola?.close();
    this.feed.kill();
    this.capture.close();
    this.orders?.close();
    await sleep(50);
  }
}
