import { chmodSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Carrier } from '../../../src/daemon/service/carrier.js';

let folder: string;
let carrier: Carrier;
const path = process.env.PATH;

/** A systemd-notify of our own. */
function install(script: string): void {
  const file = join(folder, 'systemd-notify');
  writeFileSync(file, `#!/bin/sh\n${script}\n`);
  chmodSync(file, 0o755);
}

function carry(...args: string[]): Promise<string | undefined> {
  return new Promise(resolve => carrier.carry(args, resolve));
}

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-carrier-'));
  process.env.PATH = `${folder}:${path}`;
  carrier = new Carrier();
});

afterEach(() => {
  carrier.end();
  process.env.PATH = path;
  rmSync(folder, { recursive: true });
});

it('hands systemd-notify each assignment as a word of its own, whatever is in it', async () => {
  const file = join(folder, 'said');
  install(`for word in "$@"; do printf '%s|' "$word"; done >> ${file}; echo >> ${file}`);
  expect(await carry('READY=1')).toBeUndefined();
  const odd = `STATUS=a "b" 'c' $(id) \\n * ; é`;
  expect(await carry('STOPPING=1', odd, 'A=', 'B=2', 'C=3')).toBeUndefined();
  expect(readFileSync(file, 'utf8')).toBe(`READY=1|\nSTOPPING=1|${odd}|A=|B=2|C=3|\n`);
});

it('says why a message did not go, and carries the next', async () => {
  install('[ "$1" = READY=1 ] || { echo "no" >&2; echo "manager" >&2; exit 3; }');
  expect(await carry('STATUS=x')).toBe('it ended with code 3: no manager');
  expect(await carry('READY=1')).toBeUndefined();
});

it('starts another shell for the next message when the first has gone', async () => {
  install('if [ "$1" = A=1 ]; then kill -9 $PPID; fi');
  expect(await carry('A=1')).toMatch(/its shell ended with/);
  expect(await carry('B=1')).toBeUndefined();
});

it('where there is no shell says so, and goes on when there is one', async () => {
  install('exit 0');
  process.env.PATH = '/nowhere';
  expect(await carry('A=1')).toBe('spawn sh ENOENT');
  process.env.PATH = `${folder}:${path}`;
  expect(await carry('A=1')).toBeUndefined();
});

it.each(['$PPID', '$$'])(
  'one that is stopped (%s) is noticed before a stroke is missed',
  async who => {
    const file = join(folder, 'pid');
    install(`if [ "$1" = A=1 ]; then echo $$ > ${file}; kill -STOP ${who}; fi`);
    const fromMs = performance.now();
    expect(await carry('A=1')).toBe('its shell was stopped');
    // Of the 2 s of the watchdog, with strokes each 0.67 s.
    expect(performance.now() - fromMs).toBeLessThan(1300);
    expect(await carry('B=1')).toBeUndefined();
    // Neither the shell nor what it had started is left, stopped for good.
    const pid = Number(readFileSync(file, 'utf8'));
    const isLeft = () => {
      try {
        return !/\) Z/.test(readFileSync(`/proc/${pid}/stat`, 'latin1'));
      } catch {
        return false;
      }
    };
    for (let i = 0; i < 200 && isLeft(); i++) await sleep(10);
    expect(isLeft()).toBe(false);
  },
);
