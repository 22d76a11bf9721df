import { execFileSync } from 'node:child_process';
import {
  chmodSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { OwnFolder } from '../../../src/daemon/files/own-folder.js';
import { StateStore, type StoreEvent } from '../../../src/daemon/memory/store.js';

let folder: string;
let events: StoreEvent[];
const stores: StateStore<{ a: number }>[] = [];

function storeOf(where = folder, show = 'The Salt Lantern'): StateStore<{ a: number }> {
  const store = new StateStore<{ a: number }>({
    folder: new OwnFolder(where),
    show,
    parse: value => {
      const { a } = value as { a?: unknown };
      return typeof a === 'number' ? { a } : '"a" is no number';
    },
    ofOtherShow: ({ a }) => ({ a: -a }),
    onEvent: event => events.push(event),
  });
  stores.push(store);
  return store;
}

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-state-'));
  events = [];
});
afterEach(() => {
  for (const store of stores.splice(0)) store.close();
  rmSync(folder, { recursive: true });
});

it('gives back what was kept, the newest, also in a folder that was not there', async () => {
  const deep = join(folder, 'a', 'b');
  const store = storeOf(deep);
  expect(store.load()).toBeUndefined();
  for (let a = 0; a < 100; a++) store.save({ a });
  await store.settled();
  expect(storeOf(deep).load()).toEqual({ a: 99 });
  expect(existsSync(`${store.file}.new`)).toBe(false);
  expect(events).toEqual([]);
});

it.each([
  ['half a file', '{"lampwright":1,"show":"The Salt La', /it is not JSON/],
  ['an empty file', '', /it is not JSON/],
  ['noughts, as after a power cut', '\0\0\0\0', /it is not JSON/],
  ['a list', '[]', /not of version 1/],
  ['null', 'null', /not of version 1/],
  ['another version', '{"lampwright":2,"show":"The Salt Lantern","a":1}', /not of version 1/],
  ['no show', '{"lampwright":1,"a":1}', /does not say of which show/],
  [
    'something else in it',
    '{"lampwright":1,"show":"The Salt Lantern","a":"x"}',
    /"a" is no number/,
  ],
])('a bad file is told of and set aside: %s', async (_, text, reason) => {
  const store = storeOf();
  writeFileSync(store.file, text);
  expect(store.load()).toBeUndefined();
  expect(events).toEqual([
    { kind: 'state-unreadable', file: store.file, reason: expect.stringMatching(reason) },
  ]);
  expect(readFileSync(`${store.file}.unreadable`, 'utf8')).toBe(text);
  store.save({ a: 1 });
  await store.settled();
  expect(storeOf().load()).toEqual({ a: 1 });
});

it('of another show takes what holds in this one, once, and sets the file aside', async () => {
  const store = storeOf();
  const text = '{"lampwright":1,"show":"Hamlet","a":1}';
  writeFileSync(store.file, text);
  expect(store.load()).toEqual({ a: -1 });
  expect(events).toEqual([{ kind: 'state-of-other-show', file: store.file, show: 'Hamlet' }]);
  expect(readFileSync(`${store.file}.unreadable`, 'utf8')).toBe(text);
  await store.settled();
  expect(storeOf().load()).toEqual({ a: -1 });
  expect(events).toHaveLength(1);
});

it('a folder that can’t be written is told of once, and the newest is kept when it can', async () => {
  const file = join(folder, 'in-the-way');
  writeFileSync(file, '');
  const store = storeOf(file);
  store.save({ a: 1 });
  await store.settled();
  store.save({ a: 2 });
  await store.settled();
  expect(events.map(event => event.kind)).toEqual(['state-unsaved']);
  rmSync(file);
  store.save({ a: 3 });
  await store.settled();
  expect(events.map(event => event.kind)).toEqual(['state-unsaved', 'state-saved']);
  expect(storeOf(file).load()).toEqual({ a: 3 });
});

it('a fault that has become another one is told with what it is now', async () => {
  const file = join(folder, 'in-the-way');
  writeFileSync(file, '');
  const store = storeOf(file);
  const save = async () => {
    store.save({ a: 1 });
    await store.settled();
  };
  await save();
  await save();
  rmSync(file);
  mkdirSync(join(file, 'operator.json', 'x'), { recursive: true });
  await save();
  await save();
  rmSync(join(file, 'operator.json'), { recursive: true });
  await save();
  expect(events.map(event => ('reason' in event ? event.reason : event.kind))).toEqual([
    expect.stringContaining('EEXIST'),
    expect.stringContaining('EISDIR'),
    'state-saved',
  ]);
});

it('what can’t be read is left where it is', () => {
  const store = storeOf();
  writeFileSync(store.file, '{}');
  chmodSync(store.file, 0o000);
  // root reads everything; for others this is the message of the system.
  store.load();
  expect(events[0]?.kind).toBe('state-unreadable');
});

it('a FIFO in the way of either file holds nothing', async () => {
  const store = storeOf();
  // mkfifo is part of coreutils.
  execFileSync('mkfifo', [store.file, `${store.file}.new`]);
  expect(store.load()).toBeUndefined();
  expect(events).toEqual([
    { kind: 'state-unreadable', file: store.file, reason: expect.stringMatching(/FIFO/) },
  ]);
  store.save({ a: 1 });
  await store.settled();
  expect(storeOf().load()).toEqual({ a: 1 });
});

it('a folder that vanishes is told of and not made anew; once it is back, what was kept is kept there again', async () => {
  const where = join(folder, 'state');
  const store = storeOf(where);
  store.save({ a: 7 });
  await store.settled();
  // It looks once a second: real time, as the disk is real.
  await sleep(1200);
  rmSync(where, { recursive: true });
  for (let i = 0; i < 100 && events.length < 1; i++) await sleep(50);
  store.save({ a: 8 });
  await store.settled();
  expect(existsSync(where)).toBe(false);
  mkdirSync(where);
  for (let i = 0; i < 100 && events.length < 2; i++) await sleep(50);
  expect(events).toEqual([
    { kind: 'state-unsaved', file: store.file, reason: 'the folder is gone' },
    { kind: 'state-saved', file: store.file },
  ]);
  expect(storeOf(where).load()).toEqual({ a: 8 });
  store.close();
});
