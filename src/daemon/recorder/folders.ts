import { mkdirSync } from 'node:fs';
import { mkdir, readdir, rmdir, stat, unlink } from 'node:fs/promises';
import { join } from 'node:path';
import { PART_SUFFIX } from '../../recording/layout.js';
import { makeFolderNow } from '../files/make-folder.js';
import type { RecordOrders } from './orders.js';

/** A folder of one run: when it began, in UTC, and the show. */
const RUN_FOLDER = /^\d{4}-\d\d-\d\dT\d\d-\d\d-\d\dZ[-\w]*$/;
const PART = new RegExp(`^(engine|supervisor)-(\\d{4,})\\${PART_SUFFIX}$`);

export type Recorder = 'engine' | 'supervisor';

/** Makes the folder for a run, and its parents; throws what the file system says. */
export function makeRunFolder(parent: string, showName: string, now: Date): string {
  const time = now.toISOString().slice(0, 19).replaceAll(':', '-');
  const name = showName
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-|-$/g, '');
  makeFolderNow(parent);
  for (let n = 1; ; n++) {
    const folder = join(parent, `${time}Z-${name}${n === 1 ? '' : `-${n}`}`);
    try {
      mkdirSync(folder);
      return folder;
    } catch (error) {
      // Two in one second; not what a person does, but a test may.
      if ((error as NodeJS.ErrnoException).code !== 'EEXIST' || n === 100) throw error;
    }
  }
}

export function partName(by: Recorder, part: number): string {
  return `${by}-${String(part).padStart(4, '0')}${PART_SUFFIX}`;
}

/**
 * One more than the last part that is there: an engine that was started again goes on counting. A folder that was
 * deleted is made anew, but not where a disk was that is no longer there.
 */
export async function nextNumber(
  { folder, parent, device }: RecordOrders,
  by: Recorder,
): Promise<number> {
  let last = 0;
  for (const name of await namesIn(folder, parent, device)) {
    const match = PART.exec(name);
    if (match?.[1] === by) last = Math.max(last, Number(match[2]));
  }
  return last + 1;
}

async function namesIn(
  folder: string,
  parent: string,
  device: number | undefined,
): Promise<readonly string[]> {
  try {
    return await readdir(folder);
  } catch (error) {
    const isGone = (error as NodeJS.ErrnoException).code === 'ENOENT';
    if (!isGone || device === undefined || (await stat(parent)).dev !== device) throw error;
    await mkdir(folder);
    return [];
  }
}

/** Deletes the oldest parts of all runs until no more than `totalBytes` are left; never the newest. */
export async function deleteOldest(parent: string, totalBytes: number): Promise<void> {
  const parts: { path: string; folder: string; bytes: number; atMs: number }[] = [];
  for (const name of await readdir(parent)) {
    if (!RUN_FOLDER.test(name)) continue;
    const folder = join(parent, name);
    for (const file of await readdir(folder)) {
      if (!PART.test(file)) continue;
      const path = join(folder, file);
      const { size, mtimeMs } = await stat(path);
      parts.push({ path, folder, bytes: size, atMs: mtimeMs });
    }
  }
  parts.sort((a, b) => a.atMs - b.atMs);
  let left = parts.reduce((sum, part) => sum + part.bytes, 0);
  for (const part of parts.slice(0, -1)) {
    if (left <= totalBytes) return;
    await unlink(part.path);
    left -= part.bytes;
    // Only where nothing is left in it.
    await rmdir(part.folder).catch(() => undefined);
  }
}
