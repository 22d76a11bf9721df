import { execFileSync, spawn, spawnSync } from 'node:child_process';
import { readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { getPriority } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { loadShow } from '../../src/commands/files/show-file.js';
import { unpackInParts } from '../../src/daemon/engine/packed-show.js';
import { Daemon, SALT_LANTERN, until, variantOf } from './support.js';

/** As it is built: the process that reads is a file of its own. */
const { loadShowInChild }: typeof import('../../src/commands/running/show-in-child.js') =
  await import('../../dist/commands/running/show-in-child.js' as string);

function readers(...args: string[]): string[] {
  const { stdout } = spawnSync('pgrep', [...args, '-f', 'show-process'], { encoding: 'utf8' });
  return stdout.split('\n').filter(one => one !== '');
}

/** Of each thread (proc_pid_stat(5): field 19). */
function nicesOf(pid: string): number[] {
  return readdirSync(`/proc/${pid}/task`).map(thread => {
    const stat = readFileSync(`/proc/${pid}/task/${thread}/stat`, 'latin1');
    return Number(stat.slice(stat.lastIndexOf(')') + 2).split(' ')[16]);
  });
}

describe('a process that reads a show', () => {
  it('reads the same as this one', async () => {
    const [there, here] = [await loadShowInChild(SALT_LANTERN), loadShow(SALT_LANTERN)];
    if (!there.ok || !here.ok) throw new Error('the example is broken');
    const { packed = [], missing: _, ...read } = there;
    expect(read).toEqual(here);
    // And what the engine gets of it is the same show.
    const parts = unpackInParts(packed);
    let part = parts.next();
    while (part.done !== true) part = parts.next();
    expect(part.value).toEqual(here.show);
  });

  it.each([
    [
      'memory',
      { heapMiB: 6, longestMs: 30_000 },
      "the show can't be read: reading it takes more than 6 MiB of memory.",
    ],
    [
      'time',
      { heapMiB: 512, longestMs: 1 },
      'the machine was too busy to read it within 0.001 s; save it again.',
    ],
  ])('has a limit of %s, and its death is a refused show', async (_, limits, why) => {
    expect(await loadShowInChild(SALT_LANTERN, limits)).toMatchObject({
      ok: false,
      problems: [{ code: 'reading-failed', message: why }],
    });
  });

  it.each([
    ['SIGTERM', 'was killed (SIGTERM)'],
    ['SIGKILL', 'was killed (SIGKILL, by somebody or by the system, because memory ran out)'],
  ])('that is killed by %s is told of as that', async (signal, why) => {
    const read = loadShowInChild(SALT_LANTERN);
    const kill = () =>
      spawnSync('pkill', [`-${signal.slice(3)}`, '-P', String(process.pid), '-f', 'show-process']);
    await until('there is one', () => kill().status === 0);
    expect(await read).toMatchObject({
      problems: [{ message: `the show can't be read: the process that reads it ${why}.` }],
    });
  });

  it('is behind the one that started it, with all of its threads', async () => {
    const read = loadShowInChild(SALT_LANTERN);
    const behind = Math.min(19, getPriority() + 5);
    await until('it is', () => {
      const [reader] = readers('-P', String(process.pid));
      const nices = reader === undefined ? [] : nicesOf(reader);
      return nices.length > 4 && nices.every(nice => nice === behind);
    });
    expect(await read).toMatchObject({ ok: true });
  });

  it('that is stopped ends with the process that started it', async () => {
    const beside = new URL('../../dist/commands/running/show-in-child.js', import.meta.url).href;
    const body = `import('${beside}').then(({ loadShowInChild }) => loadShowInChild('${SALT_LANTERN}'))`;
    const parent = spawn(process.execPath, ['--input-type=module', '-e', body], {
      stdio: 'ignore',
    });
    let [reader] = [] as string[];
    await until('there is one', () => {
      [reader] = readers('-P', String(parent.pid));
      return reader !== undefined;
    });
    process.kill(Number(reader), 'SIGSTOP');
    parent.kill('SIGKILL');
    try {
      await until('it has ended', () => !readers().includes(String(reader)));
    } finally {
      // Where it has not: nothing else would end it.
      if (readers().includes(String(reader))) process.kill(Number(reader), 'SIGKILL');
    }
  });

  it('is one at a time, and who asks meanwhile shares the next', async () => {
    const asked = Array.from({ length: 20 }, () => loadShowInChild(SALT_LANTERN));
    const different = new Set(await Promise.all(asked));
    expect(different.size).toBeLessThanOrEqual(2);
  });
});

describe('a running show', () => {
  const variant = variantOf('config/minimal.show.yaml', [['port: 9010', 'port: 9063']]);
  const daemon = Daemon.run(variant.file);
  afterAll(async () => {
    await daemon.stop();
    variant.remove();
  });
  const refusals = () => daemon.log.filter(line => line.kind === 'reload-refused');
  /** Of the supervisor since it began, MiB (proc_pid_status(5), VmHWM). */
  const peakMiB = () =>
    Number(/VmHWM:\s+(\d+)/.exec(readFileSync(`/proc/${daemon.pid}/status`, 'utf8'))?.[1]) / 1024;

  it('refuses whatever is put in place of its file, and takes no memory for it', async () => {
    await until('it runs', () => daemon.log.some(line => line.msg?.includes('is running')));
    const text = readFileSync(variant.file, 'utf8');
    const before = peakMiB();
    const beside = (path: string) => join(dirname(variant.file), path);
    execFileSync('mkfifo', [beside('pipe')]);
    const cases: [string, RegExp][] = [
      [`${text}${'# much ado\n'.repeat(1.5e6)}`, /it has 15\.\d MiB, and at most 4 MiB are read/],
      [`x: [${'1,'.repeat(2e6)}]\n`, /more than 500000 words and punctuation marks/],
      [`x: ${'['.repeat(4e6)}\n`, /nested too deeply/],
      [`${text}profiles: { a: { file: /dev/zero } }\n`, /that is a device, not a file/],
      [`${text}profiles: { a: { file: pipe } }\n`, /that is a pipe \(FIFO\), not a file/],
    ];
    for (const [i, [broken, why]] of cases.entries()) {
      writeFileSync(variant.file, broken);
      daemon.signal('SIGHUP');
      await until(`it is refused: ${why}`, () => refusals().length === i + 1, 30);
      expect(refusals()[i]?.msg).toMatch(why);
    }
    rmSync(variant.file);
    execFileSync('mkfifo', [variant.file]);
    daemon.signal('SIGHUP');
    await until('a pipe is refused', () => refusals().length === cases.length + 1, 30);
    expect(peakMiB() - before).toBeLessThan(64);
  });
});
