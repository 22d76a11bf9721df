import type { Document } from 'yaml';
import { type Finding, listed, type Problem } from './problems/problem.js';
import { describe } from './problems/wording.js';
import { Locator } from './reading/locate.js';
import { readYaml } from './reading/read-yaml.js';
import { PROFILE_FORMAT_VERSION } from './schema/profile.js';

/** A file that a show names, as the shell has read it, or why it could not. */
export type Part =
  | { readonly file: string; readonly text: string }
  /** `passing`: another try may read it. */
  | { readonly file: string; readonly fault: string; readonly passing?: boolean };

/** By the path as it stands in the show. */
export type Parts = ReadonlyMap<string, Part>;

type Plain = Record<string, unknown>;

/** A profile that stands in a file of its own: where its places are. */
export interface Mounted {
  readonly locator: Locator;
  readonly document: Document;
}

export interface Mounting {
  /** The show with the profiles of its files in their places; those that can't be read are left out. */
  readonly value: unknown;
  readonly mounted: ReadonlyMap<string, Mounted>;
  /** Names of the profiles that were left out. */
  readonly broken: ReadonlySet<string>;
  /** What is wrong with the files, and with the places in the show that name them. */
  readonly problems: readonly Problem[];
  readonly findings: readonly Finding[];
}

/** The paths that a show names in `profiles`, each once. Nothing of a text that isn't YAML. */
export function partPaths(text: string): string[] {
  // Most shows have no such key, and are spared a second reading. A backslash may be part of one: "\u0066ile".
  if (!/\bfile\b|\\/.test(text)) return [];
  const read = readYaml(text, new Locator('', text));
  return read.ok ? [...new Set(references(read.value).values())] : [];
}

/** Puts the profiles of files in their places. */
export function mountParts(value: unknown, parts: Parts): Mounting {
  const named = references(value);
  const mounted = new Map<string, Mounted>();
  const problems: Problem[] = [];
  const findings: Finding[] = [];
  const broken = new Set<string>();
  if (named.size === 0) return { value, mounted, broken, problems, findings };
  const profiles: Plain = { ...profilesIn(value) };
  const failed = new Set<string>();
  for (const [name, path] of named) {
    const beside = Object.keys(profilesIn(value)[name] as Plain).filter(key => key !== 'file');
    for (const key of beside) {
      const message = `"${key}" can't be used together with "file": it belongs in "${path}"${key === 'hazard' ? ', or to the fixture' : ''}.`;
      findings.push({ code: 'unknown-key', message, path: ['profiles', name, key], atKey: true });
    }
    const part = parts.get(path);
    if (part === undefined || 'fault' in part) {
      const why = part?.fault ?? 'it was not read with the show';
      findings.push({
        code: part?.passing ? 'file-unavailable' : 'file-unreadable',
        message: `profile file "${path}" can't be read: ${why}.`,
        path: ['profiles', name, 'file'],
      });
    } else if (beside.length === 0) {
      const read = readProfile(part);
      if (read.ok) {
        mounted.set(name, read);
        profiles[name] = read.profile;
        continue;
      }
      // Two names for one file: its faults are said once.
      if (!failed.has(path)) problems.push(...read.problems);
      failed.add(path);
    }
    broken.add(name);
    delete profiles[name];
  }
  return { value: { ...(value as Plain), profiles }, mounted, broken, problems, findings };
}

/**
 * The show as one text, profiles included: what another process, or a recording, needs of it.
 * @param text of a show without problems
 */
export function bundleShow(text: string, parts: Parts): string {
  if (parts.size === 0) return text;
  const own = readYaml(text, new Locator('', text));
  const named = own.ok ? references(own.value) : new Map<string, string>();
  if (!own.ok || named.size === 0) return text;
  const { document } = own;
  for (const [name, path] of named) {
    const part = parts.get(path);
    const read = part !== undefined && 'text' in part ? readProfile(part) : undefined;
    if (read?.ok === true) document.setIn(['profiles', name], document.createNode(read.profile));
  }
  return document.toString();
}

type ReadProfile =
  | ({ readonly ok: true; readonly profile: Plain } & Mounted)
  | { readonly ok: false; readonly problems: readonly Problem[] };

/** A profile file without its own key, `profile: 1`. The schema judges the profile itself. */
export function readProfile({ file, text }: { file: string; text: string }): ReadProfile {
  const locator = new Locator(file, text);
  const read = readYaml(text, locator);
  if (!read.ok) return read;
  const { document, value } = read;
  const refused = (finding: Finding): ReadProfile => ({
    ok: false,
    problems: [locator.place(finding, document)],
  });
  if (!isPlain(value)) {
    const message = `a profile file should be a block of keys, and is ${describe(value)}.`;
    return refused({ code: 'wrong-type', message, path: [] });
  }
  const { profile: version, ...profile } = value;
  if (version === undefined) {
    const message = `profile is missing: ${PROFILE_FORMAT_VERSION} is needed. It tells a profile file from a show.`;
    return refused({ code: 'missing-key', message, path: [] });
  }
  if (version !== PROFILE_FORMAT_VERSION) {
    const message = `profile should be ${PROFILE_FORMAT_VERSION}, and is ${describe(version)}.`;
    return refused({ code: 'bad-value', message, path: ['profile'] });
  }
  if ('file' in profile) {
    const message = `"file" is not a key of a profile file: a profile file can't refer to another. It has ${listed(['channels', 'modes'])}.`;
    return refused({ code: 'unknown-key', message, path: ['file'], atKey: true });
  }
  return { ok: true, profile, locator, document };
}

/** Name of each profile that is in a file, with the path of the file. */
function references(value: unknown): Map<string, string> {
  const found = new Map<string, string>();
  for (const [name, entry] of Object.entries(profilesIn(value))) {
    // With channels of its own as well: the schema reports that.
    if (!isPlain(entry) || 'channels' in entry || 'modes' in entry) continue;
    if (typeof entry.file === 'string' && entry.file !== '') found.set(name, entry.file);
  }
  return found;
}

function profilesIn(value: unknown): Plain {
  return isPlain(value) && isPlain(value.profiles) ? value.profiles : {};
}

function isPlain(value: unknown): value is Plain {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
