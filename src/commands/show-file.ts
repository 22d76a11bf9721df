import { readFileSync } from 'node:fs';
import { Worker } from 'node:worker_threads';
import { parseShow, type ShowResult } from '../show/parse.js';

export type LoadedShow = ShowResult & { readonly text: string };

/** Reads and checks a show file; a file that can't be read is a problem like any other. */
export function loadShow(file: string): LoadedShow {
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException;
    const why =
      code === 'ENOENT'
        ? 'there is no such file'
        : code === 'EISDIR'
          ? 'that is a folder'
          : code === 'EACCES'
            ? 'this user may not read it'
            : message;
    const problem = {
      code: 'file-unreadable',
      message: `the show can't be read: ${why}.`,
      file,
      line: 1,
      column: 1,
      excerpt: '',
    } as const;
    return { ok: false, problems: [problem], text: '' };
  }
  return { ...parseShow(text, file), text };
}

/** The same in a thread of its own, so that the caller goes on meanwhile. */
export function loadShowBeside(file: string): Promise<LoadedShow> {
  return new Promise((resolve, reject) => {
    const worker = new Worker(new URL('./show-worker.js', import.meta.url), {
      workerData: { file },
    });
    worker.once('message', resolve);
    worker.once('error', reject);
  });
}
