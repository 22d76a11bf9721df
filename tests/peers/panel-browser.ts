import type { ChildProcess } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { connect, createServer, type Socket } from 'node:net';
import { type BrowserServer, chromium } from 'playwright-core';
import type { Trackers } from '../system/support.js';
import { spawn } from '../tethered.js';

/** Debian's Chromium, as a process that a test can kill. */
export function launchBrowser(): Promise<BrowserServer> {
  return chromium.launchServer({
    executablePath: '/usr/bin/chromium',
    args: [
      ...['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run'],
      ...['--disable-background-networking', '--disable-component-update', '--disable-sync'],
    ],
  });
}

/** Ines, Tobias and the Gull where they are lit, swaying: a place that repeats to the last bit is a feed that hangs. */
export function walk(trackers: Trackers, silent: ReadonlySet<number> = new Set()): NodeJS.Timeout {
  return setInterval(() => {
    const sway = 0.01 * Math.sin(performance.now() / 300);
    for (const [tracker, x, y] of [
      [1, 2, 6],
      [2, 8.4, 7],
      [3, 5, 4],
    ] as const) {
      if (silent.has(tracker)) trackers.silence(tracker);
      else trackers.place(tracker, x + sway, y - sway);
    }
  }, 25);
}

const BYSTANDER = `
try { require('node:os').setPriority(-20) } catch {}
let last = Date.now()
setInterval(() => {
  const now = Date.now()
  if (now - last > 120) console.log(now)
  last = now
}, 10)`;

/**
 * A process that nobody attacks, of the light's own priority and in a session of its own as the daemon is. When it
 * got no processor for 0.12 s, the machine was late, for instance because the tests beside this one start daemons.
 */
export class Bystander {
  readonly #child: ChildProcess = spawn(process.execPath, ['-e', BYSTANDER], {
    stdio: ['ignore', 'pipe', 'ignore'],
    detached: true,
  });
  readonly #lateAtMs: number[] = [];

  constructor() {
    process.once('exit', () => this.#child.kill());
    let text = '';
    this.#child.stdout?.on('data', (piece: Buffer) => {
      const lines = (text + piece.toString()).split('\n');
      text = lines.pop() ?? '';
      this.#lateAtMs.push(...lines.map(Number));
    });
  }

  /** Whether the machine was late in the two seconds before, or just after. */
  wasLateNear(atMs: number): boolean {
    return this.#lateAtMs.some(ms => ms > atMs - 2000 && ms < atMs + 500);
  }

  close(): void {
    this.#child.kill();
  }
}

/** A wire to a port that can be cut: neither end hears of it, and what was sent meanwhile comes when it is mended. */
export class Wire {
  readonly #pairs = new Set<readonly [Socket, Socket]>();
  readonly #server;
  #isCut = false;

  constructor(port: number, toPort: number) {
    this.#server = createServer(near => {
      const far = connect(toPort, '127.0.0.1');
      const pair = [near, far] as const;
      this.#pairs.add(pair);
      for (const [one, other] of [pair, [far, near] as const]) {
        one.on('error', () => undefined);
        one.on('close', () => {
          this.#pairs.delete(pair);
          other.destroy();
        });
      }
      if (!this.#isCut) join(pair);
    }).listen(port, '127.0.0.1');
  }

  cut(): void {
    this.#isCut = true;
    for (const pair of this.#pairs) for (const end of pair) end.unpipe().pause();
  }

  mend(): void {
    this.#isCut = false;
    for (const pair of this.#pairs) join(pair);
  }

  close(): void {
    this.#server.close();
    for (const [near] of this.#pairs) near.destroy();
  }
}

function join([near, far]: readonly [Socket, Socket]): void {
  near.pipe(far);
  far.pipe(near);
}

/** The daemon's child that serves the panel. */
export function panelPid(daemonPid: number): number {
  for (const entry of readdirSync('/proc')) {
    if (!/^\d+$/.test(entry)) continue;
    try {
      const isPanel = readFileSync(`/proc/${entry}/cmdline`, 'utf8').includes('panel-process');
      const parent = / \w (\d+) /.exec(readFileSync(`/proc/${entry}/stat`, 'utf8'))?.[1];
      if (isPanel && Number(parent) === daemonPid) return Number(entry);
    } catch {
      // It has ended meanwhile.
    }
  }
  throw new Error('no panel runs');
}
