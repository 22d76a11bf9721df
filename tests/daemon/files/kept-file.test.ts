import { execFileSync } from 'node:child_process';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Continuity } from '../../../src/daemon/beats/continuity.js';
import { AcceptedShow } from '../../../src/daemon/files/accepted-show.js';
import { type KeptEvent, KeptFile } from '../../../src/daemon/files/kept-file.js';
import { monotonicS } from '../../../src/daemon/machine/clock.js';

let parent: string;
let folder: string;
let told: KeptEvent[];
beforeEach(() => {
  parent = mkdtempSync(join(tmpdir(), 'lampwright-kept-'));
  folder = join(parent, 'state');
  told = [];
});
afterEach(() => rmSync(parent, { recursive: true }));

const file = () => join(folder, 'it');
const content = () => readFileSync(file(), 'utf8');
const kinds = () => told.map(({ kind }) => kind);
const kept = (sparesOthers = false) =>
  new KeptFile({
    what: 'identity',
    file: file(),
    sparesOthers,
    mostBytes: 100,
    onEvent: event => told.push(event),
  });

describe('a kept file', () => {
  it('is written at once, its folder made, and said nothing of', async () => {
    const it = kept();
    it.keep('one');
    it.keep('two');
    await it.look();
    expect(content()).toBe('two');
    await it.end();
    expect(told).toEqual([]);
  });

  it('whose folder goes is told of once; the folder is not made anew, and written to once it is back', async () => {
    const it = kept();
    it.keep('one');
    await it.look();
    rmSync(folder, { recursive: true });
    await it.look();
    it.keep('two');
    await it.look();
    await it.look();
    expect(told).toEqual([
      { kind: 'unkept', what: 'identity', file: file(), reason: 'the folder is gone' },
    ]);
    expect(existsSync(folder)).toBe(false);
    mkdirSync(folder);
    await it.look();
    expect(content()).toBe('two');
    expect(kinds()).toEqual(['unkept', 'kept']);
    await it.end();
  });

  it.each([false, true])(
    'whose folder was away, and is back with it, is told to be kept',
    async spares => {
      const it = kept(spares);
      it.keep('one');
      await it.look();
      renameSync(folder, `${folder}-away`);
      await it.look();
      expect(kinds()).toEqual(['unkept']);
      renameSync(`${folder}-away`, folder);
      await it.look();
      await it.look();
      expect(kinds()).toEqual(['unkept', 'kept']);
      await it.end();
    },
  );

  it('that comes back as it was before is brought up to date', async () => {
    const it = kept();
    it.keep('old');
    await it.look();
    renameSync(folder, join(parent, 'away'));
    it.keep('new');
    await it.look();
    renameSync(join(parent, 'away'), folder);
    await it.look();
    expect(content()).toBe('new');
    await it.end();
  });

  it('takes the place of what lies there, or leaves it and says so', async () => {
    const ours = kept();
    ours.keep('ours');
    await ours.look();
    writeFileSync(file(), "somebody else's");
    await ours.look();
    expect(content()).toBe('ours');
    await ours.end();
    const spares = kept(true);
    spares.expect('another', undefined);
    await spares.look();
    expect(content()).toBe('ours');
    expect(told).toMatchObject([
      { kind: 'unkept', reason: expect.stringContaining('not the one') },
    ]);
    rmSync(file());
    await spares.look();
    expect(content()).toBe('another');
    expect(kinds()).toEqual(['unkept', 'kept']);
    await spares.end();
  });

  it('with a FIFO in its place waits for nobody', async () => {
    mkdirSync(folder);
    execFileSync('mkfifo', [file()]);
    const spares = kept(true);
    spares.expect('one', undefined);
    await spares.look();
    expect(told).toMatchObject([{ kind: 'unkept', reason: expect.stringContaining('FIFO') }]);
    await spares.end();
    const ours = kept();
    ours.keep('one');
    await ours.look();
    expect(content()).toBe('one');
    await ours.end();
  });

  it('says it again, in the same words for all attempts, when there is another reason', async () => {
    writeFileSync(folder, 'a file in place of the folder');
    const it = kept();
    it.keep('one');
    await it.look();
    await it.look();
    rmSync(folder);
    mkdirSync(join(folder, 'it', 'in-the-way'), { recursive: true });
    await it.look();
    await it.look();
    rmSync(folder, { recursive: true });
    await it.look();
    await it.end();
    expect(told.map(event => event.kind === 'unkept' && event.reason)).toEqual([
      'a part of its path is not a folder',
      'that is a folder',
      'the folder is gone',
    ]);
  });

  it('that can not be written is tried again', async () => {
    writeFileSync(folder, 'a file in place of the folder');
    const it = kept();
    it.keep('one');
    await it.look();
    expect(kinds()).toEqual(['unkept']);
    rmSync(folder);
    mkdirSync(folder);
    await it.look();
    expect(kinds()).toEqual(['unkept', 'kept']);
    expect(content()).toBe('one');
    await it.end();
  });
});

it('the accepted show is there for a restart after its folder has gone and come back', async () => {
  const accepted = new AcceptedShow(folder, event => told.push(event));
  accepted.keep('a.show.yaml', 'the text');
  await accepted.end();
  expect(AcceptedShow.read(folder, 'a.show.yaml')?.text).toBe('the text');
  expect(AcceptedShow.read(folder, 'b.show.yaml')).toBeUndefined();
});

describe('what a successor goes on from', () => {
  const streams = [
    { protocol: 'sacn' as const, onWire: 1, sequence: 9, address: '10.0.0.2', to: [] },
  ];
  const continuity = () =>
    new Continuity({
      stateFolder: undefined,
      runtimeFolder: folder,
      file: 'a.show.yaml',
      standby: false,
      onEvent: event => told.push(event),
    });

  it('is written again where the runtime folder has gone and come back', () => {
    mkdirSync(folder);
    const before = continuity();
    before.keep([1], streams);
    before.write(new Uint8Array(512), monotonicS(), 0);
    rmSync(folder, { recursive: true });
    before.write(new Uint8Array(512), monotonicS(), 0);
    before.lookAfter();
    before.lookAfter();
    expect(told).toMatchObject([
      { kind: 'unkept', what: 'last-look', reason: 'there is no such folder' },
    ]);
    mkdirSync(folder);
    before.lookAfter();
    before.write(new Uint8Array(512).fill(7), monotonicS(), 0);
    before.lookAfter();
    expect(kinds()).toEqual(['unkept', 'kept']);
    const found = continuity().find();
    expect(found?.levels[0]).toBe(7);
    expect(found?.streams[0]?.sequence).toBe(9);
    before.end();
  });
});
