import {
  type Document,
  isPair,
  isScalar,
  type Node,
  visit,
  type YAMLError,
  type YAMLMap,
} from 'yaml';
import { messageOf } from '../../stage/message-of.js';
import { BRACES_IN_QUOTES } from '../problems/hints.js';
import type { TextFault } from '../problems/text-fault.js';
import { lineBelowValue, lineOutOfBlock } from './indent-fault.js';

/** What keeps the text from being YAML, or from being YAML that says one thing only. */
export function textFaults(document: Document, text: string): TextFault[] {
  const tabs = document.errors.filter(({ code }) => code === 'TAB_AS_INDENT');
  const [firstTab] = tabs;
  if (firstTab !== undefined) {
    // The other errors of the parser are then caused by the tabs.
    const lines = new Set(tabs.map(({ pos }) => text.lastIndexOf('\n', pos[0]))).size;
    const others = lines > 1 ? ` and ${lines - 1} ${lines === 2 ? 'other' : 'others'}` : '';
    const message = `a tab indents this line${others}; use spaces.`;
    return [{ message, offset: firstTab.pos[0] }];
  }
  const thrown = document.errors.findIndex(({ code }) => code === 'UNEXPECTED_TOKEN');
  const faults = [...document.errors, ...document.warnings]
    // Once the parser has lost its way, everything that follows is an error.
    .filter(({ code }, i) => code !== 'UNEXPECTED_TOKEN' || i === thrown)
    .map(fault => faultOf(fault, text, document))
    // One line with wrong indentation causes several parser errors.
    .filter(({ offset }, i, all) => all.findIndex(other => other.offset === offset) === i);
  // In the order of the text: an alias repeats what stands above it.
  const marked = new Set<string>();
  const mark = ({ anchor }: { anchor?: string | undefined }) => {
    if (anchor !== undefined) marked.add(anchor);
  };
  visit(document, {
    Scalar: (_, node) => mark(node),
    Seq: (_, node) => mark(node),
    Map(_, node) {
      mark(node);
      faults.push(...keysTwice(node));
    },
    Alias(_, alias) {
      if (marked.has(alias.source)) return;
      faults.push({
        message: `"*${alias.source}" refers to a part marked "&", but nothing above is marked "&${alias.source}".`,
        offset: startOf(alias),
      });
    },
    Pair(_, pair) {
      // JavaScript gives this key a meaning of its own, and would drop it silently.
      if (!isScalar(pair.key) || pair.key.value !== '__proto__') return;
      faults.push({ message: '"__proto__" can\'t be used as a key.', offset: startOf(pair.key) });
    },
  });
  return faults;
}

function faultOf(fault: YAMLError, text: string, document: Document): TextFault {
  const [offset] = fault.pos;
  const braces = bracesFault(fault, text);
  if (braces !== undefined) return { message: braces, offset };
  const unspaced = noSpace(fault, text);
  if (unspaced !== undefined) return unspaced;
  const message = wordsFor(fault);
  if (message === OPEN_QUOTE) return { message, offset: openedAt(document, offset) };
  if (message === OUT_OF_BLOCK) return lineOutOfBlock(text, offset) ?? { message, offset };
  if (message === SECOND_COLON || message === NO_COLON)
    return lineBelowValue(text, offset) ?? { message, offset };
  return { message, offset };
}

const OUT_OF_BLOCK = 'this line is indented less than the others in its block.';
const OPEN_QUOTE = 'a quote is not closed by the same quote mark.';
const NO_COLON = 'a colon is missing: each line of a block is "key: value".';
const SECOND_COLON = 'there is a second colon on this line; put text with a colon in quotes.';

/** Start of the quoted text that reaches this place; the place itself if there is none. */
function openedAt(document: Document, end: number): number {
  let found = end;
  visit(document, {
    Scalar(_, { type, range }) {
      const isQuoted = type === 'QUOTE_DOUBLE' || type === 'QUOTE_SINGLE';
      if (isQuoted && range != null && range[0] < end && range[1] >= end) found = range[0];
    },
  });
  return found;
}

/** Keys of which the later would hide the earlier: as text, `1` and `"1"` are one. */
function keysTwice(map: YAMLMap): TextFault[] {
  const seen = new Set<string>();
  const faults: TextFault[] = [];
  for (const item of map.items) {
    if (!isPair(item) || !isScalar(item.key)) continue;
    const key = String(item.key.value);
    if (seen.has(key)) {
      const message = 'this key appears twice in its block; each key may appear once.';
      faults.push({ message, offset: startOf(item.key) });
    }
    seen.add(key);
  }
  return faults;
}

/** The address of a route without quotes: in a list or block of one line its braces are YAML's. */
function bracesFault({ code, pos }: YAMLError, text: string): string | undefined {
  if (code !== 'UNEXPECTED_TOKEN' && code !== 'MISSING_CHAR' && code !== 'BAD_INDENT')
    return undefined;
  const line = text.slice(text.lastIndexOf('\n', pos[0] - 1) + 1).split('\n', 1)[0] ?? '';
  return /:\s*[^\s"']*\{tracker\}/.test(line) ? BRACES_IN_QUOTES : undefined;
}

/** `spares:[8, 9]` is one word for YAML. */
function noSpace({ code, pos }: YAMLError, text: string): TextFault | undefined {
  if (code !== 'MULTILINE_IMPLICIT_KEY' && code !== 'UNEXPECTED_TOKEN') return undefined;
  const start = text.lastIndexOf('\n', pos[0] - 1) + 1;
  const [before, key] = /^\s*(?:- +)*([A-Za-z][\w-]*):(?=[^\s:/])/.exec(text.slice(start)) ?? [];
  if (before === undefined) return undefined;
  return {
    message: `a space is missing after the colon of "${key}".`,
    offset: start + before.length,
  };
}

function wordsFor({ code, message }: YAMLError): string {
  switch (code) {
    case 'MULTIPLE_DOCS':
      return 'the file continues after a line "---" or "..."; a show is one document, so remove that line.';
    case 'BLOCK_AS_IMPLICIT_KEY':
      return SECOND_COLON;
    case 'TAG_RESOLVE_FAILED':
      return 'a word that begins with ! is a YAML tag, which a show file does not use; put text in quotes.';
    case 'BAD_SCALAR_START':
      return "text can't begin with this character; put it in quotes.";
    case 'BAD_INDENT':
    case 'MISSING_CHAR': {
      const bracket = /end with an? ([\]}])/.exec(message)?.[1];
      if (bracket !== undefined) return `a "${bracket}" is missing before this place.`;
      if (/closing .quote/.test(message)) return OPEN_QUOTE;
      return code === 'BAD_INDENT' ? OUT_OF_BLOCK : `this is not YAML: ${sentence(message)}`;
    }
    case 'MULTILINE_IMPLICIT_KEY':
      return NO_COLON;
    case 'BAD_DQ_ESCAPE':
      return "in double quotes a backslash has a meaning of its own; write two, or use single quotes ('...').";
    case 'UNEXPECTED_TOKEN':
      return "this can't come here: look for something missing on this line or above it.";
    case 'RESOURCE_EXHAUSTION':
      return 'lists and blocks are nested too deeply.';
    default:
      return `this is not YAML: ${sentence(message)}`;
  }
}

/** Why the document's values can't be read though its text is in order. */
export function valueFault(error: unknown): string {
  const message = messageOf(error);
  if (/alias count/i.test(message)) {
    return 'the repetitions with & and * expand to too many values; write them out.';
  }
  if (error instanceof RangeError) return 'lists and blocks are nested too deeply.';
  return `this can't be read as YAML: ${sentence(message)}`;
}

function sentence(text: string): string {
  return text.replace(/\.?$/, '.');
}

function startOf(node: Node): number {
  return node.range?.[0] ?? 0;
}
