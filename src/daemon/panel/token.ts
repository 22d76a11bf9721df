import { randomBytes } from 'node:crypto';
import { rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { isThere, readText } from '../files/read-file.js';
import { writeWholeNow } from '../files/whole-file.js';

const TOKEN_FILE = 'panel-token';
const WHERE_FILE = 'panel.json';
/** 128 bits, 22 letters. */
const TOKEN_BYTES = 16;
const TOKEN = /^[\w-]{22,128}$/;
const MOST_BYTES = 4096;
/** Its group may read it, a monitoring program's say; nobody else may do anything with it. */
const OPEN_TO_OTHERS = 0o027;

export type TokenRead =
  | { readonly ok: true; readonly token: string }
  /** `fault` undefined: there is none yet; else what is wrong with it, a sentence without its end. */
  | { readonly ok: false; readonly fault: string | undefined; readonly isUnread?: true };

/** The token of a state folder. If others may have read or written it, it opens nothing. */
export function readToken(folder: string): TokenRead {
  const file = join(folder, TOKEN_FILE);
  if (!isThere(file)) return { ok: false, fault: undefined };
  const read = readText(file, MOST_BYTES);
  if (!read.ok) return { ok: false, fault: `${file} can't be read: ${read.fault}`, isUnread: true };
  const mode = statSync(file, { throwIfNoEntry: false })?.mode ?? 0;
  if ((mode & OPEN_TO_OTHERS) !== 0) {
    const octal = (mode & 0o777).toString(8).padStart(4, '0');
    return { ok: false, fault: `${file} is open to other users (mode ${octal})` };
  }
  const token = read.text.trim();
  return TOKEN.test(token)
    ? { ok: true, token }
    : { ok: false, fault: `${file} has no token in it` };
}

/**
 * The token; a new one if there is none that can be used. Throws if the folder can't be written.
 * @returns with what was wrong with the one that was there (`anew`)
 */
export function tokenOf(folder: string): { readonly token: string; readonly anew?: string } {
  const read = readToken(folder);
  if (read.ok) return { token: read.token };
  const token = newToken(folder);
  if (read.fault === undefined) return { token };
  return {
    token,
    anew: `${read.fault}, so a new token was made. Links with the old one no longer work: lampwright panel prints the new one`,
  };
}

/** Another one: whoever has the old one may not act any more. Throws where the folder can't be written. */
export function newToken(folder: string): string {
  const token = randomBytes(TOKEN_BYTES).toString('base64url');
  writeWholeNow(join(folder, TOKEN_FILE), `${token}\n`, ownerOf(folder));
  return token;
}

/** What root makes for a daemon belongs to its user, who could not read it else. */
function ownerOf(folder: string): { uid: number; gid: number } | undefined {
  return process.getuid?.() === 0 ? statSync(folder, { throwIfNoEntry: false }) : undefined;
}

/** Says where the panel of a state folder listens. Throws where that can't be written. */
export function noteWhere(folder: string, url: string): void {
  writeWholeNow(join(folder, WHERE_FILE), `${JSON.stringify({ url })}\n`);
}

/** It listens nowhere yet. What can't be removed stays. */
export function forgetWhere(folder: string): void {
  try {
    rmSync(join(folder, WHERE_FILE), { force: true });
  } catch {
    // A folder that is gone, or read-only: then no panel starts either, and says so.
  }
}

/** Where it listened last. */
export function readWhere(folder: string): string | undefined {
  try {
    const { url } = JSON.parse(textOf(join(folder, WHERE_FILE)) ?? '') as { url?: unknown };
    return typeof url === 'string' && URL.canParse(url) && /^https?:/i.test(url) ? url : undefined;
  } catch {
    return undefined;
  }
}

function textOf(file: string): string | undefined {
  if (!isThere(file)) return undefined;
  const read = readText(file, MOST_BYTES);
  return read.ok ? read.text : undefined;
}
