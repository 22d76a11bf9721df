import type { ChildProcess } from 'node:child_process';
import { createSocket, type Socket } from 'node:dgram';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { Packet } from 'sacn';
import { afterAll } from 'vitest';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import { spawn } from '../tethered.js';

/** Lines of each daemon's log that a failed wait shows. */
const SHOWN_LINES = 15;
const running = new Set<Daemon>();

/** A test that fails leaves its daemon behind, and the runner ends its own processes without an `exit`. */
afterAll(() => {
  for (const daemon of running) daemon.signal('SIGKILL');
});

/** Real processes, real sockets on loopback; so these tests wait for wall time, as users do. */
export const SALT_LANTERN = 'config/salt-lantern.show.yaml';

export interface LogLine {
  readonly level: number;
  readonly msg: string;
  readonly kind?: string;
  readonly [key: string]: unknown;
}

/** A running `lampwright`, and what it has logged. */
export class Daemon {
  readonly log: LogLine[] = [];
  stderr = '';
  readonly #child: ChildProcess;
  readonly exited: Promise<number | null>;

  constructor(
    command: string,
    args: readonly string[],
    env: Readonly<Record<string, string>> = {},
  ) {
    this.#child = spawn(command, args, {
      stdio: ['ignore', 'pipe', 'pipe'],
      env: { ...process.env, ...env },
      // Not of the terminal in which the tests are run: SIGHUP would mean its end.
      detached: true,
    });
    const { stdout, stderr } = this.#child;
    if (stdout === null || stderr === null) throw new Error('no pipes');
    createInterface({ input: stdout }).on('line', line => {
      if (line.startsWith('{')) this.log.push(JSON.parse(line) as LogLine);
    });
    stderr.on('data', (text: Buffer) => {
      this.stderr += text.toString();
    });
    running.add(this);
    this.exited = new Promise(resolve =>
      this.#child.once('exit', code => {
        running.delete(this);
        resolve(code);
      }),
    );
  }

  static run(
    show: string,
    env: Readonly<Record<string, string>> = {},
    options: readonly string[] = [],
  ): Daemon {
    const args = ['dist/main.js', 'run', show, '--log', 'json', ...withoutPanel(options)];
    return new Daemon(process.execPath, args, env);
  }

  /** The same on a host of the test's own; `ip netns exec` becomes the daemon, so signals reach it. */
  static inNamespace(name: string, show: string, options: readonly string[] = []): Daemon {
    const command = [
      process.execPath,
      'dist/main.js',
      'run',
      show,
      '--log',
      'json',
      ...withoutPanel(options),
    ];
    return new Daemon('ip', ['netns', 'exec', name, ...command]);
  }

  get pid(): number {
    return this.#child.pid ?? 0;
  }

  /** Process of the engine that was started last; 0 before the first, to wait for and never to signal. */
  get enginePid(): number {
    const started = this.log.filter(line => line.kind === 'engine-started');
    return Number(started.at(-1)?.pid ?? 0);
  }

  signalEngine(signal: NodeJS.Signals): void {
    // To the system, 0 means the caller's own group.
    if (this.enginePid === 0) throw new Error(`no engine; the daemon said ${this.stderr}`);
    process.kill(this.enginePid, signal);
  }

  signal(signal: NodeJS.Signals): void {
    this.#child.kill(signal);
  }

  /** Stops it cleanly and gives its exit code. */
  async stop(): Promise<number | null> {
    if (this.#child.exitCode === null) this.#child.kill('SIGTERM');
    const code = await Promise.race([this.exited, sleep(15_000).then(() => undefined)]);
    if (code !== undefined) return code;
    this.#child.kill('SIGKILL');
    throw new Error(`the daemon did not stop; it said ${this.stderr}`);
  }
}

/** Only the tests of the panel need its process. */
function withoutPanel(options: readonly string[]): readonly string[] {
  return options.includes('--panel') ? options : [...options, '--panel', 'off'];
}

/** Waits until something holds; the deadline is no measure, and generous: on a busy machine a start takes ten seconds. */
export async function until(what: string, holds: () => boolean, withinS = 20): Promise<void> {
  const deadline = Date.now() + withinS * 1000;
  while (!holds()) {
    if (Date.now() > deadline) {
      const logs = [...running].flatMap(({ log }) => log.slice(-SHOWN_LINES));
      const lines = logs.map(line => `\n  ${JSON.stringify(line)}`).join('');
      throw new Error(`not within ${withinS} s: ${what}; the log ends with${lines}`);
    }
    await sleep(10);
  }
}

export interface Received {
  readonly atS: number;
  readonly slots: Uint8Array;
  readonly sequence: number;
  readonly terminated: boolean;
  /** Who sends, in hexadecimal and by name (E1.31 5.6, 6.2.2); empty for Art-Net. */
  readonly cid: string;
  readonly source: string;
}

/** Receives sACN of one universe, decoded by the npm package `sacn`. */
export class SacnReceiver {
  readonly packets: Received[] = [];
  readonly #socket: Socket;

  private constructor(socket: Socket, universe: number) {
    this.#socket = socket;
    socket.on('message', bytes => {
      // The package's decoder knows data packets only; Universe Discovery has root vector 8.
      if (bytes.readUInt32BE(18) !== 4) return;
      const packet = new Packet(Buffer.from(bytes));
      if (packet.universe !== universe) return;
      this.packets.push({
        atS: performance.now() / 1000,
        slots: Uint8Array.from(packet.payloadAsBuffer ?? []),
        sequence: packet.sequence,
        terminated: ((bytes[112] ?? 0) & 0x40) !== 0,
        cid: bytes.toString('hex', 22, 38),
        source: bytes.toString('utf8', 44, bytes.indexOf(0, 44)),
      });
    });
  }

  static async open(universe: number, address = '127.0.0.1'): Promise<SacnReceiver> {
    const socket = createSocket('udp4');
    await new Promise<void>(resolve => socket.bind(5568, address, resolve));
    return new SacnReceiver(socket, universe);
  }

  get last(): Uint8Array {
    return this.packets.at(-1)?.slots ?? new Uint8Array(512);
  }

  close(): void {
    this.#socket.close();
  }
}

/** Receives ArtDmx of one Port-Address, read by the field table of Art-Net 4. */
export class ArtnetReceiver {
  readonly packets: Received[] = [];
  readonly #socket: Socket;

  private constructor(socket: Socket, portAddress: number) {
    this.#socket = socket;
    socket.on('message', bytes => {
      if (bytes.toString('latin1', 0, 8) !== 'Art-Net\0' || bytes.readUInt16LE(8) !== 0x5000)
        return;
      if (bytes.readUInt16LE(14) !== portAddress) return;
      this.packets.push({
        atS: performance.now() / 1000,
        slots: Uint8Array.from(bytes.subarray(18, 18 + bytes.readUInt16BE(16))),
        sequence: bytes[12] ?? 0,
        terminated: false,
        cid: '',
        source: '',
      });
    });
  }

  static async open(portAddress: number, address = '127.0.0.1'): Promise<ArtnetReceiver> {
    const socket = createSocket('udp4');
    await new Promise<void>(resolve => socket.bind(6454, address, resolve));
    return new ArtnetReceiver(socket, portAddress);
  }

  get last(): Uint8Array {
    return this.packets.at(-1)?.slots ?? new Uint8Array(512);
  }

  close(): void {
    this.#socket.close();
  }
}

/** Reports positions of trackers at 40 Hz until told otherwise. */
export class Trackers {
  readonly #socket = createSocket('udp4');
  readonly #at = new Map<number, readonly [number, number, number]>();
  readonly #timer: NodeJS.Timeout;

  constructor(private readonly port = 9010) {
    this.#timer = setInterval(() => {
      for (const [tracker, at] of this.#at) this.#send(tracker, at);
    }, 25);
  }

  place(tracker: number, x: number, y: number, z = 1.4): void {
    this.#at.set(tracker, [x, y, z]);
  }

  silence(tracker: number): void {
    this.#at.delete(tracker);
  }

  close(): void {
    clearInterval(this.#timer);
    this.#socket.close();
  }

  #send(tracker: number, at: readonly number[]): void {
    const args = at.map(value => ({ type: 'f' as const, value }));
    const datagram = encodePacket({ address: `/tracker/${tracker}/position`, args });
    this.#socket.send(datagram, this.port, '127.0.0.1');
  }
}

/** `check --json` of a show. */
export interface CheckResult {
  readonly ok: boolean;
  readonly errors: readonly {
    readonly code: string;
    readonly line: number;
    readonly column: number;
  }[];
  readonly show: {
    readonly performers: readonly string[];
    readonly zones: readonly string[];
    readonly fixtures: readonly string[];
    readonly universes: readonly number[];
    readonly safeLook: Readonly<Record<string, readonly number[]>>;
  } | null;
}

export async function checkJson(show: string): Promise<CheckResult> {
  const { stdout } = await lampwright(['check', show, '--json']);
  return JSON.parse(stdout) as CheckResult;
}

/** Runs one command to its end. */
export async function lampwright(
  args: readonly string[],
): Promise<{ code: number | null; stdout: string; stderr: string }> {
  const child = spawn(process.execPath, ['dist/main.js', ...args], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let stdout = '';
  let stderr = '';
  child.stdout.on('data', (text: Buffer) => {
    stdout += text.toString();
  });
  child.stderr.on('data', (text: Buffer) => {
    stderr += text.toString();
  });
  const code = await new Promise<number | null>(resolve => child.once('close', resolve));
  return { code, stdout, stderr };
}

/** The example show with some of its text replaced, in a folder of its own. */
export function variantOf(show: string, replacements: readonly (readonly [string, string])[]) {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-test-'));
  let text = readFileSync(show, 'utf8');
  for (const [from, to] of replacements) {
    if (!text.includes(from)) throw new Error(`${show} has no ${from}`);
    text = text.replaceAll(from, to);
  }
  const file = join(folder, 'variant.show.yaml');
  writeFileSync(file, text);
  return { file, remove: () => rmSync(folder, { recursive: true }) };
}

/** Longest time between two packets, seconds. */
export function longestGapS(packets: readonly Received[]): number {
  let longest = 0;
  packets.forEach((packet, i) => {
    const before = packets[i - 1];
    if (before !== undefined) longest = Math.max(longest, packet.atS - before.atS);
  });
  return longest;
}
