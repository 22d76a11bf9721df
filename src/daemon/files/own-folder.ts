import type { Stats } from 'node:fs';
import { stat } from 'node:fs/promises';
import { dirname, resolve } from 'node:path';
import { inPlainWords } from './read-file.js';

/** Looks at a path; a test may hand in a file system of its own. */
export type FolderReader = (path: string) => Promise<Pick<Stats, 'dev' | 'isDirectory'>>;

/**
 * A folder that the daemon keeps things in. It is made at the start; if it was there and is gone, it is not
 * recreated: it may be the mount point of a disk, and what is written there would be hidden once the disk is back.
 */
export class OwnFolder {
  /** Until it has been there: undefined. Whether a disk of its own stood there. */
  #wasMounted: boolean | undefined;

  constructor(
    readonly path: string,
    private readonly read: FolderReader = stat,
  ) {}

  /** It has been there once, and is not to be made any more. */
  get wasThere(): boolean {
    return this.#wasMounted !== undefined;
  }

  /** @returns why nothing can be kept there now, or undefined where it is as it was */
  async fault(): Promise<string | undefined> {
    try {
      const here = await this.read(this.path);
      if (!here.isDirectory()) return 'that is no longer a folder';
      const mounted = here.dev !== (await this.read(dirname(resolve(this.path)))).dev;
      // A disk that comes back may have another number; an empty place where it belongs has that of its parent.
      if (this.#wasMounted === true && !mounted) return 'its disk is gone';
      this.#wasMounted ??= mounted;
      return undefined;
    } catch (error) {
      const { code } = error as NodeJS.ErrnoException;
      return code === 'ENOENT' && this.wasThere
        ? 'the folder is gone'
        : inPlainWords(error, 'written');
    }
  }
}
