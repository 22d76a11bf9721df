import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { LastLook, type LookOptions } from '../../../src/daemon/files/last-look.js';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-look-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

const LEVELS = Uint8Array.from({ length: 512 }, (_, i) => i & 0xff);
const CID = Uint8Array.from({ length: 16 }, (_, i) => 200 + i);
const KEY = { standby: false };
const STREAM = { protocol: 'sacn' as const, address: '10.0.0.2', to: [] };
const STREAMS = [
  {
    protocol: 'sacn' as const,
    onWire: 63999,
    sequence: 7,
    address: '10.0.0.2',
    to: ['239.255.1.2', '10.0.0.7'],
  },
  { protocol: 'artnet' as const, onWire: 32767, sequence: 255, address: 'eth0', to: [] },
];
const open = (more: Partial<LookOptions> = {}) => {
  const opened = LastLook.open(folder, {
    ...KEY,
    cid: CID,
    universes: [3],
    streams: STREAMS,
    ...more,
  });
  return opened.ok ? opened.look : undefined;
};

it('gives the newest levels to who comes within 10 s, also after a hang and a slow start', () => {
  const look = open();
  look?.write(new Uint8Array(512), 99, 0);
  look?.write(LEVELS, 100, 0);
  expect(LastLook.read(folder, KEY, 101)).toMatchObject({
    universes: [3],
    levels: LEVELS,
    losingForS: 0,
    writtenS: 100,
  });
  expect(LastLook.read(folder, KEY, 105)?.levels).toEqual(LEVELS);
  expect(LastLook.read(folder, KEY, 110.1)).toBeUndefined();
  // Of another boot, whose clock had come farther.
  expect(LastLook.read(folder, KEY, 50)).toBeUndefined();
  truncateSync(join(folder, 'last-look'), 100);
  expect(LastLook.read(folder, KEY, 101)).toBeUndefined();
  truncateSync(join(folder, 'last-look'), 40);
  expect(LastLook.read(folder, KEY, 101)).toBeUndefined();
  look?.close();
});

it('gives identity and numbers, but never to the other machine of a pair', () => {
  const numbers = STREAMS.map(one => ({ ...one }));
  const look = open({ streams: numbers });
  numbers[0] = Object.assign(numbers[0] as object, { sequence: 250 }) as (typeof numbers)[0];
  look?.write(LEVELS, 100, 0);
  expect(LastLook.read(folder, KEY, 101)).toMatchObject({
    cid: CID,
    streams: [{ ...STREAMS[0], sequence: 250 }, STREAMS[1]],
  });
  expect(LastLook.read(folder, { ...KEY, standby: true }, 101)).toBeUndefined();
  look?.close();
});

it('keeps apart what an output has sent that was cut off while others sent the same universe', () => {
  const left = Uint8Array.from(LEVELS, level => 255 - level);
  const shared = { ...STREAM, onWire: 3, sequence: 1, left };
  const streams = [
    { ...STREAM, onWire: 2, sequence: 1 },
    { ...shared, isApart: true, isOut: true },
    { ...shared, isApart: false, isOut: false },
    { ...shared, isApart: true, isOut: false },
    { ...shared, left: undefined, isApart: true, isOut: true },
  ];
  const look = open({ streams });
  look?.write(LEVELS, 100, 0);
  const found = LastLook.read(folder, KEY, 101);
  expect(found?.levels).toEqual(LEVELS);
  expect(found?.streams.map(one => [one.left, one.hasToReturn])).toEqual([
    [undefined, undefined],
    [left, true],
    [undefined, undefined],
    [left, false],
    [undefined, undefined],
  ]);
  look?.close();
});

it('says for how long the light has been on its way to the safe look, the time in between included', () => {
  const look = open();
  look?.write(LEVELS, 100, 1.25);
  expect(LastLook.read(folder, KEY, 100.5)?.losingForS).toBeCloseTo(1.75);
  look?.close();
});

it('gives nothing after a clean end, or where there is no folder', () => {
  const look = open();
  look?.write(LEVELS, 100, 0);
  look?.end();
  look?.write(LEVELS, 100, 0);
  expect(LastLook.read(folder, KEY, 100)).toBeUndefined();
  const nowhere = join(folder, 'nowhere');
  expect(LastLook.open(nowhere, { ...KEY, cid: CID, universes: [], streams: [] })).toEqual({
    ok: false,
    reason: 'there is no such folder',
  });
  expect(LastLook.read(nowhere, KEY, 100)).toBeUndefined();
});

it('does not wait at a FIFO in its place, and takes the place of it', () => {
  for (const name of ['last-look', 'last-look.new']) execFileSync('mkfifo', [join(folder, name)]);
  expect(LastLook.read(folder, KEY, 100)).toBeUndefined();
  const look = open();
  look?.write(LEVELS, 100, 0);
  expect(LastLook.read(folder, KEY, 101)?.levels).toEqual(LEVELS);
  look?.close();
});

it('keeps what the show before has sent until the next one has sent something', () => {
  const before = open({ streams: [{ ...STREAM, onWire: 1, sequence: 77 }] });
  before?.write(LEVELS, 100, 0);
  before?.close();
  // Killed now, between two shows, it goes on with the numbers that were sent.
  const next = open({ universes: [3, 4] });
  expect(LastLook.read(folder, KEY, 101)?.streams[0]?.sequence).toBe(77);
  next?.write(new Uint8Array(1024), 101, 0);
  expect(LastLook.read(folder, KEY, 102)).toMatchObject({ streams: STREAMS, universes: [3, 4] });
  next?.close();
});

it('knows whether a successor would find it: not where its folder has gone, or another lies in its place', () => {
  const look = open();
  expect(look?.isInPlace).toBe(true);
  look?.write(LEVELS, 100, 0);
  expect(look?.isInPlace).toBe(true);
  rmSync(folder, { recursive: true });
  look?.write(LEVELS, 101, 0);
  expect(look?.isInPlace).toBe(false);
  mkdirSync(folder);
  expect(look?.isInPlace).toBe(false);
  writeFileSync(join(folder, 'last-look'), '');
  expect(look?.isInPlace).toBe(false);
  look?.close();
});

it('says why it could not be written', () => {
  const look = open();
  expect([look?.isWritten, look?.fault]).toEqual([false, undefined]);
  rmSync(folder, { recursive: true });
  look?.write(LEVELS, 100, 0);
  expect([look?.isWritten, look?.fault]).toEqual([false, 'there is no such folder']);
  mkdirSync(folder);
});

it('gives what lay under the levels of a desk, where something did', () => {
  const ground = LEVELS.toReversed();
  const look = open({ hasGround: true });
  look?.write(LEVELS, 100, 0, ground);
  expect(LastLook.read(folder, KEY, 101)).toMatchObject({ levels: LEVELS, groundLevels: ground });
  look?.close();
  const plain = open();
  plain?.write(LEVELS, 101, 0);
  expect(LastLook.read(folder, KEY, 102)?.groundLevels).toBeUndefined();
  plain?.close();
});
