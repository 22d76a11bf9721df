import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setImmediate } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { OperatorKeeping } from '../../../src/daemon/memory/keeping.js';
import type { StoreEvent } from '../../../src/daemon/memory/store.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

let parent: string;
let folder: string;
let events: StoreEvent['kind'][];
const made: OperatorKeeping[] = [];

const SHOW = showOf(configShow('minimal'));
const RENAMED = showOf(configShow('minimal').replace('name: One lamp', 'name: Another name'));

function keepingOf(show = SHOW): OperatorKeeping {
  const keeping = new OperatorKeeping(show, folder, ({ kind }) => events.push(kind));
  keeping.load(show);
  made.push(keeping);
  return keeping;
}

beforeEach(() => {
  parent = mkdtempSync(join(tmpdir(), 'lampwright-keeping-'));
  folder = join(parent, 'state');
  events = [];
});
afterEach(async () => {
  for (const keeping of made.splice(0)) await keeping.end();
  rmSync(parent, { recursive: true });
});

it('what could not be written when another show took over is written then, and no longer told of', async () => {
  const keeping = keepingOf();
  writeFileSync(folder, 'no folder can be made here');
  keeping.stopNext('ines', true, 'a test');
  expect(await keeping.unkept()).toMatch(/EEXIST|ENOTDIR/);
  keeping.swap(SHOW);
  expect(await keeping.unkept()).toMatch(/EEXIST|ENOTDIR/);
  expect(events).toEqual(['state-unsaved']);
  rmSync(folder);
  keeping.swap(SHOW);
  expect(await keeping.unkept()).toBeUndefined();
  expect(events).toEqual(['state-unsaved', 'state-saved']);
  expect(keepingOf().restored()).toMatchObject([{ kind: 'stop', performer: 'ines' }]);
});

it('a stop outlives a reload that renames the show, and a restart after it', async () => {
  const keeping = keepingOf();
  keeping.stopNext(undefined, true, 'a test');
  expect(await keeping.unkept()).toBeUndefined();
  keeping.swap(RENAMED);
  expect(await keeping.unkept()).toBeUndefined();
  const restarted = keepingOf(RENAMED);
  expect(restarted.restored()).toEqual(keeping.restored());
  expect(restarted.restored()).not.toEqual([]);
});

it('a stop outlives a restart that renames the show; a cue and a tracker that was given do not', async () => {
  const before = showOf(`${configShow('minimal')}cues: { prologue: {}, storm: {} }\nspares: [7]\n`);
  const renamed = showOf(
    `${configShow('minimal')}cues: { prologue: {}, storm: {} }\nspares: [7]\n`.replace(
      'name: One lamp',
      'name: Another name',
    ),
  );
  const keeping = keepingOf(before);
  keeping.stopNext('ines', true, 'a test');
  keeping.cueNext({ name: 'storm' }, 'a test');
  expect(await keeping.unkept()).toBeUndefined();
  const restarted = keepingOf(renamed);
  expect(events).toEqual(['state-of-other-show', 'state-restored']);
  expect(restarted.restored()).toMatchObject([{ kind: 'stop', performer: 'ines' }]);
  expect(restarted.cue).toBe(0);
  expect(await restarted.unkept()).toBeUndefined();
  expect(keepingOf(renamed).restored()).toHaveLength(1);
  expect(readdirSync(folder).sort()).toEqual(['operator.json', 'operator.json.unreadable']);
});

it('an order just before a reload is kept as well as one without', async () => {
  const keeping = keepingOf();
  for (let i = 0; i < 20; i++) {
    const stopped = i % 2 === 0;
    const show = i % 4 < 2 ? RENAMED : SHOW;
    keeping.stopNext('ines', stopped, 'a test');
    await setImmediate(); // the write has begun
    keeping.swap(show);
    keeping.stopNext('ines', !stopped, 'a test');
    keeping.stopNext('ines', stopped, 'a test');
    expect(await keeping.unkept()).toBeUndefined();
    expect(keepingOf(show).restored()).toHaveLength(stopped ? 1 : 0);
  }
  expect(events).toEqual(Array.from({ length: 10 }, () => 'state-restored'));
  expect(readdirSync(folder)).toEqual(['operator.json']);
});

it('the cue outlives a restart, a reload of a show that has it, and an engine that died before it could tell', async () => {
  const cues = 'cues: { prologue: {}, storm: {}, dawn: {} }\n';
  const opera = showOf(`${configShow('minimal')}${cues}`);
  const keeping = keepingOf(opera);
  expect([keeping.cue, keeping.restored()]).toEqual([0, []]);
  // A frame names it; no event ever came.
  keeping.noteCue(1);
  expect(await keeping.unkept()).toBeUndefined();
  const restarted = keepingOf(opera);
  expect(restarted.cue).toBe(1);
  expect(restarted.restored()).toEqual([{ kind: 'cue', to: { name: 'storm' }, cause: 'restored' }]);
  expect(restarted.cueNext('next', 'a test')).toEqual({ cue: 'dawn', changed: true });
  expect(restarted.cueNext('next', 'a test')).toEqual({ cue: 'dawn', changed: false });
  expect(restarted.cueNext({ name: 'no' }, 'a test')).toBeUndefined();
  restarted.swap(showOf(`${configShow('minimal')}cues: { dawn: {}, dusk: {} }\n`));
  expect([restarted.cue, restarted.restored()]).toEqual([0, []]);
  restarted.swap(SHOW);
  expect([restarted.cue, restarted.cueNext('next', 'a test')]).toEqual([0, undefined]);
});
