import { readFileSync, statSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { Worker } from 'node:worker_threads';
import { MAX_SHOW_BYTES, parseProfile, parseShow, type ShowResult } from '../show/parse.js';
import { bundleShow, type Part, type Parts, partPaths } from '../show/parts.js';
import type { Problem } from '../show/problem.js';
import type { ProfileFile } from '../show/profile-schema.js';

export type LoadedShow = ShowResult & {
  /** As it stands in the file: for changes to it. */
  readonly text: string;
  /** The same with the profiles of other files in it, all that there is to the show: for engine and records. */
  readonly whole: string;
  /** The other files that it names. */
  readonly parts: Parts;
};

/** Reads and checks a show file; a file that can't be read is a problem like any other. */
export function loadShow(file: string): LoadedShow {
  const read = readText(file);
  if ('fault' in read)
    return {
      ok: false,
      problems: [unreadable('show', file, read)],
      text: '',
      whole: '',
      parts: new Map(),
    };
  const { text } = read;
  const parts = new Map(
    partPaths(text).map((path): [string, Part] => {
      // As it would be typed from here, so that an editor's click on a problem finds it.
      const at = path.startsWith('/') ? path : join(dirname(file), path);
      return [path, readText(at)];
    }),
  );
  const result = parseShow(text, file, parts);
  return { ...result, text, whole: result.ok ? bundleShow(text, parts) : text, parts };
}

export type LoadedProfile =
  | { readonly ok: true; readonly profile: ProfileFile }
  | { readonly ok: false; readonly problems: readonly Problem[] };

/** Whether a path is one of a profile rather than of a show: by its name. */
export function isProfilePath(file: string): boolean {
  return /\.profile\.ya?ml$/i.test(file);
}

/** Reads and checks a profile file. */
export function loadProfile(file: string): LoadedProfile {
  const read = readText(file);
  if ('fault' in read) return { ok: false, problems: [unreadable('profile', file, read)] };
  return parseProfile(read.text, file);
}

function readText(file: string): Part {
  try {
    // A device has no size, and no end either.
    const { size } = statSync(resolve(file));
    if (size > 4 * MAX_SHOW_BYTES) return { file, fault: `it has ${size} bytes` };
    return { file, text: readFileSync(file, 'utf8') };
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException;
    const fault =
      code === 'ENOENT'
        ? 'there is no such file'
        : code === 'EISDIR'
          ? 'that is a folder'
          : code === 'EACCES'
            ? 'this user may not read it'
            : message;
    return { file, fault };
  }
}

function unreadable(what: string, file: string, { fault }: { fault: string }): Problem {
  const message = `the ${what} can't be read: ${fault}.`;
  return { code: 'file-unreadable', message, file, line: 1, column: 1, excerpt: '' };
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
