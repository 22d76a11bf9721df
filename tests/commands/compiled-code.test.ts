import {
  chmodSync,
  chownSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { loadCompiled } from '../../src/commands/compiled-code.js';

const ONE = "'use strict'; exports.answer = () => 'one'; exports.path = require('node:path');";
/** As long as the other: V8 itself tells sources apart by their length. */
const TWO = ONE.replace('one', 'two');

interface Program {
  readonly answer: () => string;
  readonly path: { readonly join: typeof join };
}

let folder: string;
let file: string;
let cache: string;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-compiled-'));
  file = join(folder, 'program.cjs');
  cache = join(folder, 'cache');
  writeFileSync(file, ONE);
});
afterEach(() => rmSync(folder, { recursive: true }));

describe('a file that is loaded with the code that V8 made of it before', () => {
  it('runs without a folder for it, and keeps nothing then', () => {
    const { exports, keep } = loadCompiled(file, undefined);
    keep();
    expect((exports as Program).answer()).toBe('one');
    expect((exports as Program).path.join).toBe(join);
    expect(readdirSync(folder)).toEqual(['program.cjs']);
  });

  it('is compiled once: a second process takes what the first has kept', () => {
    const kept = keepIt();
    const { ino } = statSync(kept);
    expect(statSync(kept).mode & 0o777).toBe(0o600);
    expect(statSync(cache).mode & 0o777).toBe(0o700);
    // Kept anew, it would be another file.
    expect(keepIt()).toBe(kept);
    expect(statSync(kept).ino).toBe(ino);
    expect(answer()).toBe('one');
  });

  it('is compiled anew when the source is another of the same length', () => {
    const kept = keepIt();
    const before = readFileSync(kept);
    writeFileSync(file, TWO);
    expect(answer()).toBe('two');
    keepIt();
    expect(readFileSync(kept).equals(before)).toBe(false);
    expect(answer()).toBe('two');
  });

  it('is compiled anew when what was kept is cut short or damaged anywhere', () => {
    const kept = keepIt();
    const good = readFileSync(kept);
    for (const length of [0, 3, 8, 20, good.length - 1]) {
      writeFileSync(kept, good.subarray(0, length));
      expect(answer()).toBe('one');
    }
    for (let at = 0; at < good.length; at += 7) {
      const bad = Buffer.from(good);
      bad.writeUInt8(bad.readUInt8(at) ^ 0x10, at);
      writeFileSync(kept, bad);
      expect(answer()).toBe('one');
    }
    keepIt();
    const { ino } = statSync(kept);
    keepIt();
    expect(statSync(kept).ino).toBe(ino);
  });

  it('is compiled anew where others may write to what was kept, or it is another user’s', () => {
    const kept = keepIt();
    for (const mode of [0o620, 0o602]) {
      chmodSync(kept, mode);
      keepIt();
      // Kept anew, as a file of its own.
      expect(statSync(kept).mode & 0o777).toBe(0o600);
    }
    if (process.geteuid?.() !== 0) return;
    chownSync(kept, 65_534, 65_534);
    keepIt();
    expect(statSync(kept).uid).toBe(0);
  });

  it('runs where nothing can be kept, and leaves nothing half-written', () => {
    writeFileSync(cache, 'a file where the folder would be');
    keepIt();
    rmSync(cache);
    const kept = keepIt();
    rmSync(kept);
    // In the way of the rename.
    mkdirSync(kept);
    keepIt();
    expect(readdirSync(cache)).toHaveLength(1);
    expect(answer()).toBe('one');
  });

  it('says what is wrong where the program itself cannot be read', () => {
    expect(() => loadCompiled(join(folder, 'none.cjs'), cache)).toThrow(/ENOENT.*none\.cjs/);
  });
});

/** @returns the file, where there is one */
function keepIt(): string {
  loadCompiled(file, cache).keep();
  try {
    return join(cache, readdirSync(cache)[0] ?? '');
  } catch {
    return cache;
  }
}

function answer(): string {
  return (loadCompiled(file, cache).exports as Program).answer();
}
