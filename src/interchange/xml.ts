import { XMLParser, XMLValidator } from 'fast-xml-parser';
import { clipped } from './archive.js';

/** An element with what is in it; names as they stand. */
export interface XmlElement {
  readonly name: string;
  readonly attributes: ReadonlyMap<string, string>;
  readonly children: readonly XmlElement[];
  /** Its own text, trimmed. */
  readonly text: string;
}

export type XmlResult =
  | { readonly ok: true; readonly root: XmlElement }
  | { readonly ok: false; readonly fault: string };

/** The description of a large house is some ten megabytes. */
const MAX_XML_BYTES = 32 * 2 ** 20;
/**
 * Tags, and attributes (by their equals signs). Each takes the parser up to a kilobyte, however short
 * it is: at these limits it was half a gigabyte. A plot of 20 000 fixtures has half a million tags.
 */
const MOST_TAGS = 1_000_000;
const MOST_ATTRIBUTES = 500_000;
/** Groups within groups within groups; a fiftieth of it is plenty. */
const MAX_DEPTH = 200;

const PARSER = new XMLParser({
  preserveOrder: true,
  ignoreAttributes: false,
  attributeNamePrefix: '',
  // Numbers are ours to read: "0012" is a name, and "1e5" may be one.
  parseTagValue: false,
  parseAttributeValue: false,
  ignoreDeclaration: true,
  ignorePiTags: true,
  // With a DOCTYPE refused there is nothing left to expand but the five of XML itself.
  processEntities: true,
  maxNestedTags: MAX_DEPTH,
});

/**
 * The XML of a description: well-formed, in UTF-8 or UTF-16, with a certain root and no DOCTYPE, which
 * is what declares entities that expand without end or fetch files. Never throws.
 */
export function readXml(bytes: Uint8Array, rootName: string): XmlResult {
  const refused = (fault: string): XmlResult => ({ ok: false, fault });
  if (bytes.length > MAX_XML_BYTES) {
    return refused(`it has ${bytes.length} bytes; at most ${MAX_XML_BYTES} are read`);
  }
  const text = decode(bytes);
  if (text === undefined) return refused('it is not text in UTF-8 or UTF-16');
  const tooMuch = excess(text);
  if (tooMuch !== undefined) return refused(tooMuch);
  if (/<!(DOCTYPE|ENTITY)/i.test(text)) {
    return refused('it has a DOCTYPE, which a description does not need, and which may be a trap');
  }
  const valid = XMLValidator.validate(text);
  if (valid !== true) {
    const { line, col, msg } = valid.err;
    const at = col === undefined ? `line ${line}` : `line ${line}, column ${col}`;
    return refused(`it is no XML that can be read, at ${at}: ${clipped(msg, 160)}`);
  }
  let nodes: unknown;
  try {
    nodes = PARSER.parse(text);
  } catch (error) {
    return refused(`it is no XML that can be read: ${clipped(String(error), 160)}`);
  }
  const roots = elementsOf(nodes);
  const root = roots.find(({ name }) => name === rootName);
  if (root === undefined || roots.length > 1) {
    const found = roots.map(({ name }) => `<${clipped(name)}>`).join(', ') || 'nothing';
    return refused(`it should be one <${rootName}>, and is ${found}`);
  }
  return { ok: true, root };
}

/** What there is too much of for the parser's memory, in words. */
function excess(text: string): string | undefined {
  let [tags, attributes] = [0, 0];
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i);
    if (code === 0x3c) tags += 1;
    else if (code === 0x3d) attributes += 1;
  }
  if (tags > MOST_TAGS) return `it has more than ${MOST_TAGS} tags`;
  return attributes > MOST_ATTRIBUTES
    ? `it has more than ${MOST_ATTRIBUTES} attributes`
    : undefined;
}

function decode(bytes: Uint8Array): string | undefined {
  const [first, second] = bytes;
  const encoding =
    first === 0xff && second === 0xfe
      ? 'utf-16le'
      : first === 0xfe && second === 0xff
        ? 'utf-16be'
        : 'utf-8';
  try {
    return new TextDecoder(encoding, { fatal: true }).decode(bytes);
  } catch {
    return undefined;
  }
}

const TEXT = '#text';
const ATTRIBUTES = ':@';

/** The library's form: a list of objects, each with the name as its key, and ":@" for attributes. */
function elementsOf(nodes: unknown): XmlElement[] {
  if (!Array.isArray(nodes)) return [];
  return nodes.flatMap((node: Record<string, unknown>): XmlElement[] => {
    const name = Object.keys(node).find(key => key !== ATTRIBUTES && key !== TEXT);
    if (name === undefined) return [];
    const content = node[name];
    const attributes = Object.entries((node[ATTRIBUTES] as Record<string, unknown>) ?? {});
    return [
      {
        name,
        attributes: new Map(attributes.map(([key, value]) => [key, characters(String(value))])),
        children: elementsOf(content),
        text: textOf(content),
      },
    ];
  });
}

function textOf(nodes: unknown): string {
  if (!Array.isArray(nodes)) return '';
  const parts = nodes.flatMap((node: Record<string, unknown>) =>
    TEXT in node ? [String(node[TEXT])] : [],
  );
  return characters(parts.join('')).trim();
}

/** Numeric character references, which the library leaves as they are. */
function characters(text: string): string {
  return text.replace(/&#(x[0-9a-fA-F]{1,6}|[0-9]{1,7});/g, (whole, digits: string) => {
    const code = digits.startsWith('x') ? Number.parseInt(digits.slice(1), 16) : Number(digits);
    return code > 0 && code <= 0x10ffff ? String.fromCodePoint(code) : whole;
  });
}

export function childrenOf(element: XmlElement | undefined, name: string): XmlElement[] {
  return element?.children.filter(child => child.name === name) ?? [];
}

export function childOf(element: XmlElement | undefined, name: string): XmlElement | undefined {
  return element?.children.find(child => child.name === name);
}

/** An attribute without the blanks around it; undefined where it is missing or empty. */
export function attributeOf(element: XmlElement | undefined, name: string): string | undefined {
  const value = element?.attributes.get(name)?.trim();
  return value === '' ? undefined : value;
}

/** A finite number; undefined for what is missing, and for what is none. */
export function numberOf(element: XmlElement | undefined, name: string): number | undefined {
  const text = attributeOf(element, name);
  const value = text === undefined ? Number.NaN : Number(text);
  return Number.isFinite(value) ? value : undefined;
}
