import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import {
  EngineRecorder,
  type RecordingNews,
} from '../../../src/daemon/recorder/engine-recorder.js';
import { deleteOldest, makeRunFolder } from '../../../src/daemon/recorder/folders.js';
import { createEngine } from '../../../src/engine/engine.js';
import { step } from '../../../src/engine/step.js';
import { viewOf } from '../../../src/engine/view.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import { type RecordedItem, readPart } from '../../../src/recording/decode.js';
import { Replay } from '../../../src/recording/replay.js';
import { parseShow } from '../../../src/show/parse.js';

const TEXT = readFileSync('config/salt-lantern.show.yaml', 'utf8');
const parsed = parseShow(TEXT, 'a.show.yaml');
if (!parsed.ok) throw new Error('the show has errors');
const { show } = parsed;

let parent = '';
beforeEach(() => {
  parent = mkdtempSync(join(tmpdir(), 'lampwright-recorder-'));
});
afterEach(() => rmSync(parent, { recursive: true, force: true }));

function recorder(folder: string, partBytes: number, said: RecordingNews[] = [], retryMs?: number) {
  const orders = {
    folder,
    parent,
    partBytes,
    partS: 3600,
    totalBytes: undefined,
    version: '0.1.0',
  };
  const source = { text: TEXT, file: 'a.show.yaml', tickHz: 40 };
  return new EngineRecorder(orders, show, source, news => said.push(news), retryMs);
}

const goesOn = (said: readonly RecordingNews[]) => said.filter(({ state }) => state === 'well');

describe('while nothing can be written', () => {
  it('says nothing of going on at a new attempt; once the disk has taken some of it, how much is missing', async () => {
    const folder = join(parent, 'run');
    mkdirSync(folder);
    const said: RecordingNews[] = [];
    const recording = recorder(folder, 1e9, said, 50);
    // The writer writes by the thread pool, every 0.2 s: real time.
    const until = async (is: () => boolean) => {
      for (let i = 0; i < 300 && !is(); i++) {
        runTicks(recording, 1);
        await sleep(10);
      }
      expect(is()).toBe(true);
    };
    await until(() => readdirSync(folder).length > 0);
    renameSync(folder, `${folder}.away`);
    await until(() => said.length > 0);
    expect(said[0]?.state).toBe('faulty');
    const before = recording.lostRecords;
    // Several attempts, each of which takes records and loses them.
    for (let i = 0; i < 120; i++) {
      runTicks(recording, 1);
      await sleep(10);
    }
    expect(said).toHaveLength(1);
    expect(recording.lostRecords).toBeGreaterThan(before);
    renameSync(`${folder}.away`, folder);
    await until(() => goesOn(said).length > 0);
    await recording.close();
    const missing = Number(/again; (\d+) records are missing$/.exec(said[1]?.message ?? '')?.[1]);
    expect(missing).toBe(recording.lostRecords);
    const gaps = items(folder).flatMap(one => (one.type === 'gap' ? [one.value] : []));
    expect(gaps).toEqual([expect.objectContaining({ records: missing })]);
    expect(said).toHaveLength(2);
  });
});

function runTicks(recording: EngineRecorder, ticks: number): void {
  const state = createEngine(show);
  for (let tick = 0; tick < ticks; tick++) {
    const nowS = 50 + tick / 40;
    const args = [5 + Math.sin(tick / 20), 4, 1.4].map(value => ({ type: 'f' as const, value }));
    const bytes = Buffer.from(encodePacket({ address: '/tracker/1/position', args }));
    const inputs = { datagrams: [{ input: 0, bytes, arrivalS: nowS - 0.003 }], unixOffsetS: 1e9 };
    recording.intake('tick', inputs, nowS);
    const { levels, events } = step(state, inputs, nowS);
    recording.frame(levels, events, nowS);
  }
}

function items(folder: string): RecordedItem[] {
  return readdirSync(folder)
    .sort()
    .flatMap(name => [...readPart(readFileSync(join(folder, name)))]);
}

describe('the recorder of the engine', () => {
  it('goes on in a new file when one is full, and the replay does not notice', async () => {
    const folder = makeRunFolder(parent, 'The Salt Lantern', new Date(0));
    expect(folder.endsWith('1970-01-01T00-00-00Z-the-salt-lantern')).toBe(true);
    const recording = recorder(folder, 20_000);
    runTicks(recording, 400);
    await recording.close();
    expect(readdirSync(folder).length).toBeGreaterThan(3);
    expect(readdirSync(folder)[0]).toBe('engine-0001.lwrec');
    const replay = new Replay();
    for (const item of items(folder)) replay.take(item);
    const runs = replay.finish();
    expect(runs).toHaveLength(1);
    expect(runs[0]).toMatchObject({
      ticks: 400,
      compared: 400,
      differing: 0,
      eventsDiffering: 0,
      gaps: 0,
      endedCleanly: true,
    });
  });

  it('of an engine that was started again goes on counting the parts', async () => {
    const folder = makeRunFolder(parent, 'x', new Date(0));
    for (let run = 0; run < 2; run++) {
      const recording = recorder(folder, 1e6);
      runTicks(recording, 10);
      await recording.close();
    }
    expect(readdirSync(folder)).toEqual(['engine-0001.lwrec', 'engine-0002.lwrec']);
    const starts = items(folder).filter(({ type }) => type === 'start');
    expect(starts.map(item => (item as { value: { part: number } }).value.part)).toEqual([1, 1]);
  });

  it('counts and reports what a slow disk could not take, and marks the gap', async () => {
    const folder = makeRunFolder(parent, 'x', new Date(0));
    const said: RecordingNews[] = [];
    const recording = recorder(folder, 1e9, said);
    // No turn of the event loop, so that nothing is written: more than is kept in memory.
    const { levels } = viewOf(createEngine(show));
    const flood = Array.from({ length: 500 }, () => ({
      input: 0,
      bytes: Buffer.alloc(1000),
      arrivalS: 1,
    }));
    for (let tick = 0; tick < 40; tick++) {
      recording.intake('tick', { datagrams: flood, unixOffsetS: 0 }, tick / 40);
      recording.frame(levels, [], tick / 40);
    }
    expect(recording.lostRecords).toBeGreaterThan(10);
    expect(said).toEqual([expect.objectContaining({ state: 'behind' })]);
    await new Promise(resolve => setTimeout(resolve, 500));
    recording.intake('tick', { datagrams: [], unixOffsetS: 0 }, 1);
    recording.frame(levels, [], 1);
    await recording.close();
    expect(said.at(-1)).toMatchObject({ state: 'well' });
    const gap = items(folder).find(({ type }) => type === 'gap');
    expect(gap).toMatchObject({ value: { records: recording.lostRecords } });
  });
});

describe('old recordings', () => {
  it('are deleted, the oldest first, beyond the total; nothing else is touched', async () => {
    const sizes = [3000, 2000, 1000];
    const folders = sizes.map((bytes, i) => {
      const folder = makeRunFolder(parent, 'x', new Date(i * 1e6));
      writeFileSync(join(folder, 'engine-0001.lwrec'), Buffer.alloc(bytes));
      return folder;
    });
    writeFileSync(join(parent, 'notes.txt'), Buffer.alloc(5000));
    writeFileSync(join(folders[1] ?? '', 'notes.txt'), 'mine');
    await new Promise(resolve => setTimeout(resolve, 20));
    // Written again last: now the newest.
    writeFileSync(join(folders[0] ?? '', 'engine-0001.lwrec'), Buffer.alloc(3000));
    await deleteOldest(parent, 4000);
    expect(readdirSync(parent).sort()).toEqual(
      [...folders.map(folder => folder.slice(parent.length + 1)), 'notes.txt'].sort(),
    );
    expect(readdirSync(folders[1] ?? '')).toEqual(['notes.txt']);
    await deleteOldest(parent, 0);
    expect(readdirSync(folders[0] ?? '')).toEqual(['engine-0001.lwrec']);
    expect(readdirSync(parent)).not.toContain(folders[2]?.slice(parent.length + 1));
  });
});
