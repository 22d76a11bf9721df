import { readdirSync, readFileSync } from 'node:fs';
import { extname, join } from 'node:path';
import { gzipSync } from 'node:zlib';

const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.webmanifest': 'application/manifest+json',
};

export interface PageFile {
  readonly type: string;
  readonly bytes: Uint8Array<ArrayBuffer>;
  readonly zipped: Uint8Array<ArrayBuffer>;
  /** Its name changes with what is in it. */
  readonly lasts: boolean;
}

/** The page as it was built, all of it in memory: no path of a request reaches the disk. */
export class PageFiles {
  readonly #files = new Map<string, PageFile>();

  /** Throws where the folder can't be read. */
  constructor(folder: string) {
    for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true })) {
      if (!entry.isFile()) continue;
      const file = join(entry.parentPath, entry.name);
      const type = TYPES[extname(entry.name)];
      if (type === undefined) continue;
      const bytes = new Uint8Array(readFileSync(file));
      const zipped = new Uint8Array(gzipSync(bytes, { level: 9 }));
      const path = `/${file.slice(folder.length).replace(/^\/+/, '')}`;
      this.#files.set(path, { type, bytes, zipped, lasts: path.startsWith('/assets/') });
    }
  }

  find(path: string): PageFile | undefined {
    return this.#files.get(path === '/' ? '/index.html' : path);
  }
}
