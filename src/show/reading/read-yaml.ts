import { type Document, Lexer, parseDocument } from 'yaml';
import type { Problem } from '../problems/problem.js';
import type { TextFault } from '../problems/text-fault.js';
import type { Locator } from './locate.js';
import { textFaults, valueFault } from './yaml-faults.js';

/** Longer texts are refused: the show of the largest house is a tenth of this. */
export const MAX_SHOW_BYTES = 4 * 1024 * 1024;
/**
 * Words and signs, of which shows have one in two characters. A parsed text takes up to half a kilobyte of
 * memory for each, and so 250 MB at the most.
 */
export const MAX_TOKENS = 500_000;
/** Brackets in brackets; a show has five. */
const MAX_BRACKETS = 64;
/** Repetitions (`*name`) in a text. */
const MAX_ALIASES = 10_000;
/** An alias that stands for more nodes than this is an attack ("billion laughs"), not a show. */
const MAX_ALIAS_COUNT = 1000;
/** Of the library's lexer: the next token is the text of a value. */
const SCALAR_FOLLOWS = '\u001f';
/** What the lexer says of the text, and is not in it. */
const NOT_IN_TEXT: ReadonlySet<string> = new Set([SCALAR_FOLLOWS, '\u0002', '\u0018']);

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
      `the file has ${text.length} characters; the limit is ${MAX_SHOW_BYTES}.`,
    );
  }
  const excess = excessIn(text);
  if (excess !== undefined) {
    const { code, message, offset } = excess;
    return { ok: false, problems: [locator.at({ code, message }, offset)] };
  }
  try {
    const document = parseDocument(text, {
      prettyErrors: false,
      version: '1.2',
      // The library would print its warnings; they are findings here.
      logLevel: 'error',
      // It compares each key with each other; `textFaults` looks for keys that stand twice.
      uniqueKeys: false,
    });
    const faults = textFaults(document, text);
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

/**
 * What would make parsing slow or large, judged by the tokens alone: they need little memory, while a document of the
 * same text can take a thousand times its size.
 */
function excessIn(text: string): (TextFault & { readonly code: Problem['code'] }) | undefined {
  let [offset, tokens, brackets, aliases] = [0, 0, 0, 0];
  let isScalar = false;
  for (const token of new Lexer().lex(text)) {
    tokens += 1;
    if (!isScalar) {
      if (token === '[' || token === '{') brackets += 1;
      else if (token === ']' || token === '}') brackets -= 1;
      else if (token.startsWith('*')) aliases += 1;
    }
    if (tokens > MAX_TOKENS) {
      const message = `the file has more than ${MAX_TOKENS} words and punctuation marks, which is the limit.`;
      return { code: 'file-too-large', message, offset };
    }
    if (brackets > MAX_BRACKETS) {
      const message = `lists and blocks are nested too deeply: more than ${MAX_BRACKETS} brackets are open here.`;
      return { code: 'yaml-syntax', message, offset };
    }
    if (aliases > MAX_ALIASES) {
      const message = `there are too many repetitions with & and *: more than ${MAX_ALIASES}; write them out.`;
      return { code: 'yaml-syntax', message, offset };
    }
    isScalar = token === SCALAR_FOLLOWS;
    if (!NOT_IN_TEXT.has(token)) offset += token.length;
  }
  return undefined;
}

export function inFileOrder(problems: readonly Problem[]): Problem[] {
  return [...problems].sort((a, b) => a.line - b.line || a.column - b.column);
}

/** What a parser says about the rest of a line after an error is seldom useful. */
function firstOfEachLine(problems: readonly Problem[]): Problem[] {
  return problems.filter(({ line }, i) => line !== problems[i - 1]?.line);
}
