import { randomBytes } from 'node:crypto';
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { writeWholeNow } from '../operator/whole-file.js';
import { isThere, readText } from '../read-file.js';

const TOKEN_FILE = 'panel-token';
const WHERE_FILE = 'panel.json';
/** 128 bits, 22 letters. */
const TOKEN_BYTES = 16;
const TOKEN = /^[\w-]{22,128}$/;
const MOST_BYTES = 4096;

/** The token of a state folder, or undefined where there is none that can be used. */
export function readToken(folder: string): string | undefined {
  const text = textOf(join(folder, TOKEN_FILE))?.trim();
  return text !== undefined && TOKEN.test(text) ? text : undefined;
}

/** The token, made where there is none. Throws where the folder can't be written. */
export function tokenOf(folder: string): string {
  return readToken(folder) ?? newToken(folder);
}

/** Another one: whoever has the old one may not act any more. Throws where the folder can't be written. */
export function newToken(folder: string): string {
  const token = randomBytes(TOKEN_BYTES).toString('base64url');
  writeWholeNow(join(folder, TOKEN_FILE), `${token}\n`);
  return token;
}

/** Says where the panel of a state folder listens. Throws where that can't be written. */
export function noteWhere(folder: string, url: string): void {
  writeWholeNow(join(folder, WHERE_FILE), `${JSON.stringify({ url })}\n`);
}

/** It listens nowhere yet. Throws where that can't be removed. */
export function forgetWhere(folder: string): void {
  rmSync(join(folder, WHERE_FILE), { force: true });
}

/** Where it listened last. */
export function readWhere(folder: string): string | undefined {
  try {
    const { url } = JSON.parse(textOf(join(folder, WHERE_FILE)) ?? '') as { url?: unknown };
    return typeof url === 'string' && URL.canParse(url) ? url : undefined;
  } catch {
    return undefined;
  }
}

function textOf(file: string): string | undefined {
  if (!isThere(file)) return undefined;
  const read = readText(file, MOST_BYTES);
  return read.ok ? read.text : undefined;
}
