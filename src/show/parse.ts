import { type Document, parseDocument } from 'yaml';
import { crossCheck } from './cross-check.js';
import { Locator } from './locate.js';
import type { Problem } from './problem.js';
import { resolveShow, type Show } from './resolve.js';
import { salvage, soundFindings } from './salvage.js';
import { ShowFileSchema } from './schema.js';
import { textFaults, valueFault } from './yaml-faults.js';
import { findingsOf } from './zod-findings.js';

export type ShowResult =
  | { readonly ok: true; readonly show: Show }
  | { readonly ok: false; readonly problems: readonly Problem[] };

/** Longer texts are refused: the largest house's show is a tenth of it. */
export const MAX_SHOW_BYTES = 4 * 1024 * 1024;
/** An alias that stands for more nodes than this is an attack ("billion laughs"), not a show. */
const MAX_ALIAS_COUNT = 1000;

/**
 * Reads a show file's text: YAML, then the schema, then what the schema can't see (names, patch,
 * geometry), also of the parts that the schema accepts while it refuses others. All problems are
 * returned at once, in file order; of a text that isn't YAML only those of the text. Never throws.
 * @param file the name to use in problems
 */
export function parseShow(text: string, file: string): ShowResult {
  const locator = new Locator(file, text);
  const refused = (code: Problem['code'], message: string): ShowResult => ({
    ok: false,
    problems: [locator.at({ code, message }, 0)],
  });
  if (text.length > MAX_SHOW_BYTES) {
    return refused(
      'file-too-large',
      `the file has ${text.length} characters; at most ${MAX_SHOW_BYTES} are read.`,
    );
  }
  let document: Document;
  let value: unknown;
  try {
    document = parseDocument(text, {
      prettyErrors: false,
      version: '1.2',
      // The library would print its warnings; they are findings here.
      logLevel: 'error',
    });
    const faults = textFaults(document);
    if (faults.length > 0) {
      const problems = faults.map(({ message, offset }) =>
        locator.at({ code: 'yaml-syntax', message }, offset),
      );
      return { ok: false, problems: firstOfEachLine(inFileOrder(problems)) };
    }
    value = document.toJS({ maxAliasCount: MAX_ALIAS_COUNT });
  } catch (error) {
    return refused('yaml-syntax', valueFault(error));
  }

  const checked = ShowFileSchema.safeParse(value);
  const findings = checked.success
    ? crossCheck(checked.data)
    : [...findingsOf(checked.error.issues, value), ...findingsInRest(value, checked.error.issues)];
  if (findings.length > 0) {
    const problems = findings.map(finding => locator.place(finding, document));
    return { ok: false, problems: inFileOrder(problems) };
  }
  if (!checked.success) throw new Error('a schema failed without saying why');
  return { ok: true, show: resolveShow(checked.data) };
}

/** What can be said of the parts of the file that the schema has nothing against. */
function findingsInRest(
  value: unknown,
  issues: Parameters<typeof salvage>[1],
): ReturnType<typeof crossCheck> {
  const left = salvage(value, issues);
  return left === undefined ? [] : soundFindings(left, crossCheck(left.show), value);
}

/** What a parser says of the rest of a line on which it has stumbled is seldom worth reading. */
function firstOfEachLine(problems: readonly Problem[]): Problem[] {
  return problems.filter(({ line }, i) => line !== problems[i - 1]?.line);
}

function inFileOrder(problems: readonly Problem[]): Problem[] {
  return [...problems].sort((a, b) => a.line - b.line || a.column - b.column);
}
