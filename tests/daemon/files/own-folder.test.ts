import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { type FolderReader, OwnFolder } from '../../../src/daemon/files/own-folder.js';

let parent: string;
beforeEach(() => {
  parent = mkdtempSync(join(tmpdir(), 'lampwright-own-'));
});
afterEach(() => rmSync(parent, { recursive: true }));

it('says what has become of a folder that was there', async () => {
  const path = join(parent, 'state');
  const folder = new OwnFolder(path);
  expect([await folder.fault(), folder.wasThere]).toEqual(['there is no such folder', false]);
  mkdirSync(path);
  expect([await folder.fault(), folder.wasThere]).toEqual([undefined, true]);
  rmSync(path, { recursive: true });
  expect([await folder.fault(), folder.wasThere]).toEqual(['the folder is gone', true]);
  writeFileSync(path, '');
  expect(await folder.fault()).toBe('that is no longer a folder');
});

it('knows the place where a disk belongs from the disk, which may come back under another number', async () => {
  let disk = 7;
  const read: FolderReader = async path => ({
    dev: path === '/media/stick' ? disk : 1,
    isDirectory: () => true,
  });
  const mounted = new OwnFolder('/media/stick', read);
  const below = new OwnFolder(join(dirname('/media/stick'), 'other'), read);
  expect([await mounted.fault(), await below.fault()]).toEqual([undefined, undefined]);
  disk = 1;
  expect([await mounted.fault(), await below.fault()]).toEqual(['its disk is gone', undefined]);
  disk = 8;
  expect(await mounted.fault()).toBeUndefined();
});
