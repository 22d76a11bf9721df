import { type Document, parseDocument } from 'yaml';
import type { Locator } from './locate.js';
import type { Problem } from './problem.js';
import { textFaults, valueFault } from './yaml-faults.js';

/** Longer texts are refused: the largest house's show is a tenth of it. */
export const MAX_SHOW_BYTES = 4 * 1024 * 1024;
/** An alias that stands for more nodes than this is an attack ("billion laughs"), not a show. */
const MAX_ALIAS_COUNT = 1000;

export type YamlResult =
  | { readonly ok: true; readonly document: Document; readonly value: unknown }
  | { readonly ok: false; readonly problems: readonly Problem[] };

/** YAML 1.2 to plain values, with the document that knows where each stands. Never throws. */
export function readYaml(text: string, locator: Locator): YamlResult {
  const refused = (code: Problem['code'], message: string): YamlResult => ({
    ok: false,
    problems: [locator.at({ code, message }, 0)],
  });
  if (text.length > MAX_SHOW_BYTES) {
    return refused(
      'file-too-large',
      `the file has ${text.length} characters; at most ${MAX_SHOW_BYTES} are read.`,
    );
  }
  try {
    const document = parseDocument(text, {
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
    return { ok: true, document, value: document.toJS({ maxAliasCount: MAX_ALIAS_COUNT }) };
  } catch (error) {
    return refused('yaml-syntax', valueFault(error));
  }
}

export function inFileOrder(problems: readonly Problem[]): Problem[] {
  return [...problems].sort((a, b) => a.line - b.line || a.column - b.column);
}

/** What a parser says of the rest of a line on which it has stumbled is seldom worth reading. */
function firstOfEachLine(problems: readonly Problem[]): Problem[] {
  return problems.filter(({ line }, i) => line !== problems[i - 1]?.line);
}
