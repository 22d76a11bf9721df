import type { Finding, Path } from './problem.js';

/**
 * What changed its meaning from one version of the file format to the next. Mere additions need no new version. See
 * docs/decisions/0033-versions-of-the-show-file.md.
 */
export interface FormatStep {
  /** The version that this step leads to; the one before it is read. */
  readonly to: number;
  readonly changes: readonly FormatChange[];
}

export interface FormatChange {
  /** What would be written today, one sentence: it follows "Write". */
  readonly write: string;
  /**
   * Converts a copy of the file's values to today's meaning. Has to cope with whatever is there.
   * @returns where in the file as it is written something was changed
   */
  apply(values: Record<string, unknown>): readonly Path[];
}

/** From each version to the next, oldest first. The first format is still today's. */
export const FORMAT_STEPS: readonly FormatStep[] = [];

/** Version of the show file that is written today. */
export const FORMAT_VERSION = 1 + FORMAT_STEPS.length;

export type Upgraded =
  | {
      readonly ok: true;
      /** As today's format has it. */
      readonly value: unknown;
      /** How to write what changed; none for a file of today. */
      readonly findings: readonly Finding[];
    }
  | { readonly ok: false; readonly finding: Finding };

/** A file's values in today's format. The schema refuses anything that is no version at all. */
export function upgradeFormat(value: unknown, steps = FORMAT_STEPS): Upgraded {
  const newest = 1 + steps.length;
  const newer = newerFormat('show', value, newest);
  if (newer !== undefined) return { ok: false, finding: newer };
  const version = versionOf(value);
  if (version === undefined || version === newest) return { ok: true, value, findings: [] };
  const values = structuredClone(value) as Record<string, unknown>;
  const findings = steps
    .filter(({ to }) => to > version)
    .flatMap(({ to, changes }) =>
      changes.flatMap(({ write, apply }) =>
        apply(values).map((path): Finding => {
          const message = `this is format ${version}, and is read as such. Write ${write} (format ${to}).`;
          return { code: 'older-format', message, path };
        }),
      ),
    );
  values.lampwright = newest;
  const last: Finding = {
    code: 'older-format',
    message: `the show has format ${version}, which is still read as before. ${findings.length === 0 ? 'Nothing in it needs a change: write' : 'Make the changes in these warnings, then write'} \`lampwright: ${newest}\`.`,
    path: ['lampwright'],
  };
  return { ok: true, value: values, findings: [...findings, last] };
}

/** For a file of a later format: this version can't know what the rest of it means. */
export function newerFormat(
  what: 'show' | 'scene',
  value: unknown,
  newest: number,
): Finding | undefined {
  const version = versionOf(value);
  if (version === undefined || version <= newest) return undefined;
  const message = `the ${what} has format ${version}, but this lampwright reads formats up to ${newest}. Install the lampwright it was written for, or a newer one.`;
  return { code: 'newer-format', message, path: ['lampwright'] };
}

function versionOf(value: unknown): number | undefined {
  const version =
    typeof value === 'object' && value !== null && 'lampwright' in value
      ? value.lampwright
      : undefined;
  return typeof version === 'number' && Number.isInteger(version) && version >= 1
    ? version
    : undefined;
}
