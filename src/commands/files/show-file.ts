import { dirname, join } from 'node:path';
import { readText, type TextRead } from '../../daemon/files/read-file.js';
import { MAX_SHOW_BYTES, parseProfile, parseShow, type ShowResult } from '../../show/parse.js';
import { bundleShow, type Part, type Parts, partPaths } from '../../show/parts.js';
import type { Problem } from '../../show/problems/problem.js';
import { Locator } from '../../show/reading/locate.js';
import type { ProfileFile } from '../../show/schema/profile.js';

export type LoadedShow = ShowResult & {
  /** The text of the file, for proposed changes. */
  readonly text: string;
  /** The text with the profiles of other files put in: the whole show, for the engine and for recordings. */
  readonly whole: string;
  /** The other files that it names. */
  readonly parts: Parts;
  /** In parts for the engine, if it was read for a reload: see `packShow`. */
  readonly packed?: readonly Uint8Array[];
  /** Interfaces and addresses in it that this machine doesn't have, if it was read for a reload. */
  readonly missing?: readonly Problem[];
};

/** Reads and checks a show file; a file that can't be read is a problem like any other. */
export function loadShow(file: string): LoadedShow {
  const read = readText(file, MAX_SHOW_BYTES);
  if (!read.ok) return refusedShow([unreadable('show', file, read)]);
  const { text } = read;
  // Profiles count towards the size of the show: a hundred large files are as bad as one.
  let leftBytes = MAX_SHOW_BYTES - text.length;
  const parts = new Map(
    partPaths(text).map((path): [string, Part] => {
      // Relative to the current folder, so that an editor's click on a problem finds it.
      const at = path.startsWith('/') ? path : join(dirname(file), path);
      const part = readText(at, MAX_SHOW_BYTES);
      if (!part.ok) return [path, { file: at, fault: part.fault, passing: part.passing === true }];
      leftBytes -= part.text.length;
      if (leftBytes < 0) return [path, { file: at, fault: TOGETHER_TOO_LARGE }];
      return [path, { file: at, text: part.text }];
    }),
  );
  const result = parseShow(text, file, parts);
  return { ...result, text, whole: result.ok ? bundleShow(text, parts) : text, parts };
}

/** The result for a show that could not be read at all. */
export function refusedShow(
  problems: readonly Problem[],
): Extract<LoadedShow, { readonly ok: false }> {
  return { ok: false, problems, text: '', whole: '', parts: new Map() };
}

const TOGETHER_TOO_LARGE = 'with it, the show and its profile files are larger than 4 MiB';

export type LoadedProfile =
  | { readonly ok: true; readonly profile: ProfileFile }
  | { readonly ok: false; readonly problems: readonly Problem[] };

/** Whether a file is a profile rather than a show, by its name. */
export function isProfilePath(file: string): boolean {
  return /\.profile\.ya?ml$/i.test(file);
}

/** Reads and checks a profile file. */
export function loadProfile(file: string): LoadedProfile {
  const read = readText(file, MAX_SHOW_BYTES);
  if (!read.ok) return { ok: false, problems: [unreadable('profile', file, read)] };
  return parseProfile(read.text, file);
}

/** Why a file can't be read, as a problem; with its place if it has one. */
export function unreadable(
  what: string,
  file: string,
  { fault, passing, notUtf8 }: Extract<TextRead, { ok: false }>,
): Problem {
  const message = `the ${what} can't be read: ${fault}.`;
  if (notUtf8 !== undefined) {
    const { text, offset } = notUtf8;
    return new Locator(file, text).at({ code: 'not-utf8', message }, offset);
  }
  const code = passing ? 'file-unavailable' : 'file-unreadable';
  return { code, message, file, line: 1, column: 1, excerpt: '' };
}
