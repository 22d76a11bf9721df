import { existsSync, mkdirSync, statSync } from 'node:fs';
import { mkdir, stat } from 'node:fs/promises';
import { dirname, resolve } from 'node:path';

/** Of folders that hold what a daemon keeps: nobody else may look into them. */
export const PRIVATE = 0o700;

/**
 * Makes a folder with its parents, where it is not there; throws what the file system says. Node's own recursive
 * way never ends where the system answers ENOENT to every mkdir(2), as below /proc.
 */
export function makeFolderNow(path: string, mode?: number): void {
  for (const folder of missing(path)) {
    try {
      mkdirSync(folder, { mode });
    } catch (error) {
      // Somebody else has made it meanwhile.
      if (!isThereAlready(error) || !statSync(folder).isDirectory()) throw error;
    }
  }
}

/** The same beside the light, for a disk that may take its time. */
export async function makeFolder(path: string, mode?: number): Promise<void> {
  for (const folder of await missingSoon(path)) {
    try {
      await mkdir(folder, { mode });
    } catch (error) {
      if (!isThereAlready(error) || !(await stat(folder)).isDirectory()) throw error;
    }
  }
}

/** What there is not of a path, from above; what is there as a file comes out as EEXIST or ENOTDIR. */
function missing(path: string): string[] {
  const folders = [resolve(path)];
  if (existsSync(path) && statSync(path).isDirectory()) return [];
  for (;;) {
    const above = dirname(folders[0] as string);
    if (above === folders[0] || existsSync(above)) return folders;
    folders.unshift(above);
  }
}

async function missingSoon(path: string): Promise<string[]> {
  const folders = [resolve(path)];
  if (await isFolder(path)) return [];
  for (;;) {
    const above = dirname(folders[0] as string);
    if (above === folders[0] || (await isThere(above))) return folders;
    folders.unshift(above);
  }
}

const isThere = (path: string) =>
  stat(path).then(
    () => true,
    () => false,
  );

const isFolder = (path: string) =>
  stat(path).then(
    found => found.isDirectory(),
    () => false,
  );

function isThereAlready(error: unknown): boolean {
  return error instanceof Error && 'code' in error && error.code === 'EEXIST';
}
