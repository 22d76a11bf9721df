import { LineCounter, parseDocument } from 'yaml';
import { crossCheck } from './cross-check.js';
import { keysAt } from './json-schema.js';
import { Locator } from './locate.js';
import type { Problem } from './problem.js';
import { resolveShow, type Show } from './resolve.js';
import { ShowFileSchema } from './schema.js';
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
 * geometry). All problems of the furthest stage reached are returned at once, in file order.
 * @param file the name to use in problems
 */
export function parseShow(text: string, file: string): ShowResult {
  const counter = new LineCounter();
  const document = parseDocument(text, {
    lineCounter: counter,
    prettyErrors: false,
    version: '1.2',
  });
  const locator = new Locator(file, text, document, counter);
  if (text.length > MAX_SHOW_BYTES) {
    const message = `the file has ${text.length} characters; at most ${MAX_SHOW_BYTES} are read.`;
    return { ok: false, problems: [locator.at({ code: 'file-too-large', message }, 1, 1)] };
  }
  const faults = [...document.errors, ...document.warnings];
  if (faults.length > 0) {
    const problems = faults.map(fault => {
      const { line, col } = counter.linePos(fault.pos[0]);
      const message = `this is not YAML: ${fault.message.replace(/\.?$/, '.')}`;
      return locator.at({ code: 'yaml-syntax', message }, line || 1, col || 1);
    });
    return { ok: false, problems: inFileOrder(problems) };
  }

  let value: unknown;
  try {
    value = document.toJS({ maxAliasCount: MAX_ALIAS_COUNT });
  } catch (error) {
    const message = `this is not YAML that can be read: ${error instanceof Error ? error.message : String(error)}.`;
    return { ok: false, problems: [locator.at({ code: 'yaml-syntax', message }, 1, 1)] };
  }

  const checked = ShowFileSchema.safeParse(value);
  const findings = checked.success
    ? crossCheck(checked.data)
    : findingsOf(checked.error.issues, value, keysAt);
  if (findings.length > 0) {
    return { ok: false, problems: inFileOrder(findings.map(finding => locator.place(finding))) };
  }
  if (!checked.success) throw new Error('a schema failed without saying why');
  return { ok: true, show: resolveShow(checked.data) };
}

function inFileOrder(problems: readonly Problem[]): Problem[] {
  return [...problems].sort((a, b) => a.line - b.line || a.column - b.column);
}
