import type { Document } from 'yaml';
import { checkKeptHeads } from './checks/keep-out.js';
import { crossCheck } from './cross-check.js';
import { type Mounted, type Mounting, mountParts, type Parts, readProfile } from './parts.js';
import { FORMAT_VERSION, upgradeFormat } from './problems/format.js';
import { type Finding, type Path, type Problem, sameNamesTogether } from './problems/problem.js';
import { Locator } from './reading/locate.js';
import { inFileOrder, readYaml } from './reading/read-yaml.js';
import { resolveShow, type Show } from './resolve/resolve.js';
import type { ProfileFile } from './schema/profile.js';
import { type ShowFile, ShowFileSchema } from './schema/schema.js';
import { soundFindings, usableParts } from './usable-parts.js';
import { findingsOf } from './zod-findings.js';

export { MAX_SHOW_BYTES } from './reading/read-yaml.js';

export type ShowResult =
  | { readonly ok: true; readonly show: Show }
  | { readonly ok: false; readonly problems: readonly Problem[] };

const NO_PARTS: Parts = new Map();

/**
 * Reads a show file's text: YAML, then the schema, then what the schema can't see (names, patch,
 * geometry), also of the parts that the schema accepts while it refuses others. All problems are
 * returned at once, in file order; for a text that isn't YAML only those of the text. Never throws.
 * @param file the name to use in problems
 * @param parts texts of the files that `partPaths` finds in it
 */
export function parseShow(text: string, file: string, parts: Parts = NO_PARTS): ShowResult {
  const locator = new Locator(file, text);
  const read = readYaml(text, locator);
  if (!read.ok) return read;
  const upgraded = upgradeFormat(read.value);
  // This version can't know what the rest of it means.
  if (!upgraded.ok)
    return { ok: false, problems: [locator.place(upgraded.finding, read.document)] };
  const mounting = mountParts(upgraded.value, parts);
  const judged = judge(mounting);
  const findings = [...mounting.findings, ...judged.findings];
  if (findings.length > 0 || mounting.problems.length > 0) {
    const own = { locator, document: read.document };
    const problems = [
      ...mounting.problems,
      ...findings.map(finding => place(finding, own, mounting.mounted)),
    ];
    return { ok: false, problems: byFile(file, problems) };
  }
  if (judged.show === undefined) throw new Error('a schema failed without saying why');
  const show = resolveShow(judged.show);
  const late = checkKeptHeads(show);
  if (late.length === 0) return { ok: true, show };
  return {
    ok: false,
    problems: inFileOrder(late.map(finding => locator.place(finding, read.document))),
  };
}

export type ProfileResult =
  | { readonly ok: true; readonly profile: ProfileFile }
  | { readonly ok: false; readonly problems: readonly Problem[] };

/** Reads a profile file by itself, as a show would that names it. Never throws. */
export function parseProfile(text: string, file: string): ProfileResult {
  const read = readProfile({ file, text });
  if (!read.ok) return read;
  const name = 'profile';
  const value = { ...EMPTY_SHOW, profiles: { [name]: read.profile } };
  const mounted = new Map([[name, read]]);
  const judged = judge({ value, mounted, broken: new Set(), problems: [], findings: [] });
  if (judged.findings.length > 0) {
    return {
      ok: false,
      problems: inFileOrder(judged.findings.map(finding => place(finding, read, mounted))),
    };
  }
  const profile = judged.show?.profiles[name];
  if (profile === undefined || 'file' in profile) throw new Error('a profile has gone missing');
  return { ok: true, profile };
}

/** What would be wrong with a show of these values, though no file holds them yet. */
export function findingsIn(value: unknown): readonly Finding[] {
  return judge(mountParts(value, NO_PARTS)).findings;
}

/** Findings at their places in a text without errors; for a profile file, at the place that names it. */
export function placedIn(text: string, file: string, findings: readonly Finding[]): Problem[] {
  const locator = new Locator(file, text);
  const read = readYaml(text, locator);
  if (!read.ok) return [];
  return inFileOrder(findings.map(finding => locator.place(finding, read.document)));
}

/** How to rewrite what differs in an older format, in a text without errors. */
export function formatFindings(text: string): readonly Finding[] {
  const read = readYaml(text, new Locator('', text));
  const upgraded = read.ok ? upgradeFormat(read.value) : undefined;
  return upgraded?.ok === true ? upgraded.findings : [];
}

/** Whether something is given in a text without errors, or left to its default. */
export function saidIn(text: string): (path: Path) => boolean {
  const read = readYaml(text, new Locator('', text));
  return path => read.ok && read.document.hasIn(path);
}

/** A show that says nothing, for a profile to be judged in. */
const EMPTY_SHOW = {
  lampwright: FORMAT_VERSION,
  name: 'a profile',
  stage: { x: [0, 1], y: [0, 1] },
  inputs: {},
  performers: {},
  fixtures: {},
  outputs: {},
};

/** A broken profile file removes the profile's name, which is then not a slip in the show. */
const NO_BLOCKS: ReadonlySet<string> = new Set();

/** What the schema and the cross-checks say of a file's values. */
function judge({ value, broken }: Mounting): { show?: ShowFile; findings: Finding[] } {
  const checked = ShowFileSchema.safeParse(value);
  if (checked.success) {
    const findings = crossCheck(checked.data);
    if (broken.size === 0) return { show: checked.data, findings };
    const mappings = checked.data.mappings.map((_, index) => index);
    const whole = {
      names: broken,
      blocks: NO_BLOCKS,
      namesInDoubt: false,
      mappings,
    };
    return { findings: soundFindings({ show: checked.data, ...whole }, findings, value) };
  }
  const { issues } = checked.error;
  const findings = findingsOf(issues, value);
  const left = usableParts(value, issues);
  if (left === undefined) return { findings };
  const names = new Set([...left.names, ...broken]);
  return {
    findings: [...findings, ...soundFindings({ ...left, names }, crossCheck(left.show), value)],
  };
}

/** In the file of its own where a profile has one. */
function place(
  finding: Finding,
  own: { readonly locator: Locator; readonly document: Document },
  mounted: ReadonlyMap<string, Mounted>,
): Problem {
  const [block, name, ...path] = finding.path;
  const other = block === 'profiles' ? mounted.get(String(name)) : undefined;
  if (other === undefined) return own.locator.place(finding, own.document);
  return other.locator.place({ ...finding, path }, other.document);
}

/** Those of the show first, then file by file. */
function byFile(first: string, problems: readonly Problem[]): Problem[] {
  const files = [...new Set([first, ...problems.map(({ file }) => file)])];
  return files.flatMap(file => {
    const own = sameNamesTogether(inFileOrder(problems.filter(problem => problem.file === file)));
    if (file === first) return own;
    // Two names for one file: its faults are said once.
    const places = own.map(({ line, column, code }) => `${line}:${column}:${code}`);
    return own.filter((_, i) => places.indexOf(places[i] as string) === i);
  });
}
