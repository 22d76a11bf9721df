import {
  cpSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Daemon, lampwright, SALT_LANTERN, Trackers, until, variantOf } from './support.js';

const PORT = 9431;

interface ReplayResult {
  readonly ok: boolean;
  readonly runs: readonly {
    readonly ticks: number;
    readonly compared: number;
    readonly differing: number;
    readonly eventsDiffering: number;
    readonly whole: boolean;
    readonly gaps: number;
    readonly endedCleanly: boolean;
  }[];
  readonly cut: readonly { readonly fault: string }[];
}

/** Real processes that run in real time: a few seconds of a show, with its engine killed in the middle. */
describe('a recording of the daemon', () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-recording-'));
  const show = variantOf(SALT_LANTERN, [['port: 9010', `port: ${PORT}`]]);
  let recording = '';

  beforeAll(async () => {
    const daemon = Daemon.run(show.file, {}, ['--record', folder]);
    const trackers = new Trackers(PORT);
    try {
      trackers.place(1, 5, 4);
      trackers.place(2, 2, 6);
      await until('both are live', () => isLive(daemon, 'ines') && isLive(daemon, 'tobias'));
      trackers.place(1, 5.5, 4.2);
      trackers.silence(2);
      await until('tobias is lost', () =>
        daemon.log.some(line => line.performer === 'tobias' && line.to === 'losing'),
      );
      // What a killed engine had not written yet is lost: a tenth of a second.
      await sleep(500);
      const before = daemon.enginePid;
      daemon.signalEngine('SIGKILL');
      await until('another engine', () => daemon.enginePid !== before);
      await sleep(1500);
      expect(await daemon.stop()).toBe(0);
    } finally {
      trackers.close();
    }
    recording = join(folder, readdirSync(folder)[0] ?? '');
  });
  afterAll(() => {
    rmSync(folder, { recursive: true, force: true });
    show.remove();
  });

  async function replay(path: string): Promise<{ code: number | null; result: ReplayResult }> {
    const { code, stdout } = await lampwright(['replay', path, '--json']);
    return { code, result: JSON.parse(stdout) as ReplayResult };
  }

  it('has a part for each engine and one for the supervisor', () => {
    expect(readdirSync(recording).sort()).toEqual([
      'engine-0001.lwrec',
      'engine-0002.lwrec',
      'supervisor-0001.lwrec',
    ]);
  });

  it('replays byte for byte, also of the engine that was killed', async () => {
    const { code, result } = await replay(recording);
    expect(result.cut).toEqual([]);
    expect(result.runs).toHaveLength(2);
    expect(result.runs.map(run => run.endedCleanly)).toEqual([false, true]);
    for (const run of result.runs) {
      expect(run).toMatchObject({ differing: 0, eventsDiffering: 0, whole: true, gaps: 0 });
      expect(run.ticks).toBeGreaterThan(40);
      expect(run.compared).toBeGreaterThanOrEqual(run.ticks - 1);
    }
    expect(code).toBe(0);
  });

  it('is readable to its last whole record when it was cut off', async () => {
    const copy = join(folder, 'copy');
    cpSync(recording, copy, { recursive: true });
    const part = join(copy, 'engine-0001.lwrec');
    truncateSync(part, Math.floor(statSync(part).size * 0.7));
    const { code, result } = await replay(part);
    expect(result.cut).toMatchObject([{ fault: 'the last record was cut off' }]);
    expect(result.runs[0]).toMatchObject({ differing: 0, whole: true });
    expect(result.runs[0]?.ticks).toBeGreaterThan(40);
    expect(code).toBe(0);
    rmSync(copy, { recursive: true });
  });

  it('tells in words what another show would have done', async () => {
    const other = variantOf(show.file, [['set: { Dimmer: 100 }', 'set: { Dimmer: 60 }']]);
    const { code, stdout } = await lampwright(['replay', recording, '--show', other.file]);
    other.remove();
    expect(code).toBe(0);
    expect(stdout).toMatch(/lantern\n {4}Dimmer: different for/);
    expect(stdout).toMatch(/60 % instead of (99|100) %/);
  });

  it('is told of after the show: the loss, the engine that was killed, and what to fix', async () => {
    const page = join(folder, 'after.html');
    const { code, stdout } = await lampwright(['report', recording, '--json', '--html', page]);
    expect(code).toBe(0);
    const report = JSON.parse(stdout) as {
      losses: { performer: string; why: string }[];
      actions: { what: string }[];
      performers: { name: string; availability: number | null }[];
    };
    expect(report.losses).toContainEqual(
      // The engine is killed while he is still lost: both are told, and the longer one counts as the cause.
      expect.objectContaining({
        performer: 'tobias',
        why: expect.stringContaining('the tracker was not heard'),
      }),
    );
    const told = report.actions.map(({ what }) => what).join('\n');
    expect(told).toContain('the engine was killed (SIGKILL)');
    expect(told).toContain('all light began to fade to its safe values');
    expect(report.performers.find(({ name }) => name === 'gull')?.availability).toBeNull();
    expect(readFileSync(page, 'utf8')).toContain('After the show: The Salt Lantern');
  });

  it('can be made by a rehearsal, and is replayed like any other', async () => {
    const made = join(folder, 'rehearsed');
    const scene = 'config/scenes/lantern.scene.yaml';
    const args = ['rehearse', SALT_LANTERN, scene, '--record', made];
    const { code, stdout } = await lampwright(args);
    expect(code).toBe(0);
    expect(stdout).toMatch(/The Gull +for +\d\.\d s {2}the tracker was not heard; upstage left/);
    const explained = join(folder, 'reports.csv');
    const again = await lampwright(['replay', made, '--json', '--explain', explained]);
    expect(JSON.parse(again.stdout)).toMatchObject({
      ok: true,
      runs: [{ ticks: 2400, differing: 0 }],
    });
    const [head, first] = readFileSync(explained, 'utf8').split('\n');
    expect(head).toMatch(
      /^unixS,arrivalS,timeS,performer,tracker,x,y,z,quality,verdict,innovationM/,
    );
    expect(first).toMatch(/,ines,1,.*,started,/);
  });

  it('is not made of a scene with errors: where and what is told', async () => {
    const scene = join(folder, 'bad.scene.yaml');
    writeFileSync(scene, 'lampwright: 1\nscene: x\nlength: 5\nperformers:\n  inez: {}\n');
    expect(await lampwright(['rehearse', SALT_LANTERN, scene])).toMatchObject({
      code: 1,
      stderr: expect.stringContaining(`${scene}:5:3: the show has no performer "inez"`),
    });
    const missing = await lampwright(['rehearse', SALT_LANTERN, join(folder, 'none.yaml')]);
    expect(missing.code).toBe(2);
  });

  it('is not found, or is none: told so', async () => {
    expect(await lampwright(['replay', join(folder, 'nothing')])).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('there is no such file or folder'),
    });
    expect(await lampwright(['replay', SALT_LANTERN])).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('is not a recording'),
    });
  });

  it('to a place that cannot be written does not keep the show from running, and is told', async () => {
    const daemon = Daemon.run(show.file, {}, ['--record', '/proc/nowhere']);
    await until('the engine', () => daemon.enginePid !== 0);
    expect(await daemon.stop()).toBe(0);
    const told = daemon.log.find(line => line.kind === 'recording');
    expect(told).toMatchObject({ level: 50, state: 'faulty' });
    expect(told?.msg).toContain('nothing is recorded to /proc/nowhere');
  });

  it('of a size that means nothing is refused', async () => {
    const args = ['run', show.file, '--record', folder, '--record-total', '20 bananas'];
    expect(await lampwright(args)).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('--record-total is a size'),
    });
  });
});

describe('a recording of a daemon that people talk to', () => {
  it('replays what they ordered, and the show that was loaded anew', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'lampwright-recording-'));
    const state = join(folder, 'state');
    // A busy machine keeps the daemon waiting for more than 0.25 s, and that alone leads to the safe look.
    const show = variantOf(SALT_LANTERN, [
      ['port: 9010', `port: ${PORT}`],
      ['engineSilent: { after: 0.25', 'engineSilent: { after: 2'],
    ]);
    const daemon = Daemon.run(show.file, {}, ['--record', folder, '--state-dir', state]);
    const trackers = new Trackers(PORT);
    try {
      trackers.place(1, 5, 4);
      await until('ines is live', () => isLive(daemon, 'ines'));
      // On a quick machine what follows comes sooner, and a reload on the way from the safe look goes by way of it.
      await until('the engine has the light', () =>
        daemon.log.some(({ kind, to }) => kind === 'lights' && to === 'live'),
      );
      expect((await lampwright(['tell', state, 'stop', 'ines'])).code).toBe(0);
      await until('ines is stopped', () => daemon.log.some(line => line.to === 'losing'));
      const text = readFileSync(show.file, 'utf8');
      writeFileSync(show.file, text.replace('set: { Dimmer: 100 }', 'set: { Dimmer: 60 }'));
      const before = daemon.enginePid;
      await sleep(200);
      expect((await lampwright(['tell', state, 'reload'])).code).toBe(0);
      // The engine goes on: so does what it records, as another run.
      const reloaded = () => daemon.log.find(({ kind }) => kind === 'reloaded');
      await until('it is loaded', () => reloaded() !== undefined);
      expect(reloaded()).not.toHaveProperty('because');
      expect(daemon.enginePid).toBe(before);
      await sleep(1000);
      expect(await daemon.stop()).toBe(0);
    } finally {
      trackers.close();
    }
    const recording = join(folder, readdirSync(folder).find(name => name.includes('T')) ?? '');
    const { code, stdout } = await lampwright(['replay', recording, '--json']);
    const { runs } = JSON.parse(stdout) as ReplayResult;
    expect(runs.map(run => [run.differing, run.eventsDiffering, run.endedCleanly])).toEqual([
      [0, 0, true],
      [0, 0, true],
    ]);
    expect(code).toBe(0);
    const report = await lampwright(['report', recording]);
    expect(report.stdout).toContain(
      'The show was reloaded once. This report covers the whole evening.',
    );
    const now = (minutes: number) =>
      new Date(Date.now() + minutes * 60_000).toTimeString().slice(0, 8);
    const backwards = await lampwright(['report', recording, '--from', now(5), '--to', now(-5)]);
    expect(backwards.code).toBe(2);
    expect(backwards.stderr).toMatch(/--from \S+ is not before --to \S+\.\n/);
    rmSync(folder, { recursive: true });
    show.remove();
  });
});

function isLive(daemon: Daemon, performer: string): boolean {
  return daemon.log.some(line => line.performer === performer && line.to === 'live');
}
