/** OSC 1.0: these may not be part of a name in an address. */
const FORBIDDEN_IN_NAMES = ' #*,?[]{}';
const PLACEHOLDER = '{tracker}';

export const TEMPLATE_ERROR_REASONS = [
  'no-leading-slash',
  'empty-part',
  /** One of space # * , ? [ ] { }, or not printable ASCII. */
  'forbidden-character',
  'several-placeholders',
] as const;
export type TemplateErrorReason = (typeof TEMPLATE_ERROR_REASONS)[number];

export interface TemplateError {
  readonly reason: TemplateErrorReason;
  /** Index in the template where it goes wrong. */
  readonly at: number;
  /** The part or character at fault; of a part in braces all of it. */
  readonly found: string;
}

/** A parsed template: `/tracker/t{tracker}/position` has the prefix `/tracker/t` and the suffix `/position`. */
export interface AddressTemplate {
  readonly text: string;
  readonly hasTracker: boolean;
  /** All of the address when there is no placeholder. */
  readonly prefix: string;
  readonly suffix: string;
}

export type TemplateResult =
  | { readonly ok: true; readonly template: AddressTemplate }
  | { readonly ok: false; readonly errors: readonly TemplateError[] };

/** Parses an OSC address in which `{tracker}` may stand once, as a part or in one. Gives all errors at once. */
export function compileTemplate(text: string): TemplateResult {
  const errors: TemplateError[] = [];
  let trackerAt = -1;
  let partAt = 1;
  if (!text.startsWith('/')) {
    errors.push({ reason: 'no-leading-slash', at: 0, found: text.slice(0, 1) });
    partAt = 0;
  }
  for (const part of text.slice(partAt).split('/')) {
    if (part === '') errors.push({ reason: 'empty-part', at: partAt, found: part });
    let rest = part;
    for (let at = rest.indexOf(PLACEHOLDER); at >= 0; at = rest.indexOf(PLACEHOLDER)) {
      if (trackerAt >= 0) {
        errors.push({ reason: 'several-placeholders', at: partAt + at, found: PLACEHOLDER });
      } else trackerAt = partAt + at;
      // As long as it was, so that places stay what they are.
      rest = rest.replace(PLACEHOLDER, '_'.repeat(PLACEHOLDER.length));
    }
    const offset = [...rest].findIndex(isForbidden);
    if (offset >= 0) {
      const character = [...rest][offset] ?? '';
      const found = /^\{[^{}]*\}$/.test(rest) ? rest : character;
      errors.push({ reason: 'forbidden-character', at: partAt + rest.indexOf(found), found });
    }
    partAt += part.length + 1;
  }
  if (errors.length > 0) return { ok: false, errors };
  const hasTracker = trackerAt >= 0;
  return {
    ok: true,
    template: {
      text,
      hasTracker,
      prefix: hasTracker ? text.slice(0, trackerAt) : text,
      suffix: hasTracker ? text.slice(trackerAt + PLACEHOLDER.length) : '',
    },
  };
}

function isForbidden(character: string): boolean {
  return character < ' ' || character > '~' || FORBIDDEN_IN_NAMES.includes(character);
}

/** What stands in the place of `{tracker}`, '' when the template has none, undefined when it does not match. */
export function matchTemplate(template: AddressTemplate, address: string): string | undefined {
  const { prefix, suffix } = template;
  if (!template.hasTracker) return address === prefix ? '' : undefined;
  if (address.length <= prefix.length + suffix.length) return undefined;
  if (!address.startsWith(prefix) || !address.endsWith(suffix)) return undefined;
  const tracker = address.slice(prefix.length, address.length - suffix.length);
  return tracker.includes('/') ? undefined : tracker;
}

/** Whether an address that came in is a pattern (OSC 1.0) rather than a plain address. */
export function isPattern(address: string): boolean {
  for (let i = 0; i < address.length; i++) {
    switch (address.charCodeAt(i)) {
      case 0x2a: // *
      case 0x3f: // ?
      case 0x5b: // [
      case 0x5d: // ]
      case 0x7b: // {
      case 0x7d: // }
        return true;
    }
  }
  return false;
}

/**
 * OSC 1.0 pattern matching: `?`, `*`, `[a-z]`, `[!x]`, `{foo,bar}`, part by part. A part that is not
 * well formed (an open bracket or brace) matches nothing.
 *
 * Keeps the set of address positions that the pattern so far can end at, so the time is at most
 * pattern length times address length whatever the pattern.
 */
export function matchPattern(pattern: string, address: string): boolean {
  const patternParts = pattern.split('/');
  const addressParts = address.split('/');
  return (
    patternParts.length === addressParts.length &&
    patternParts.every((part, i) => matchPart(part, addressParts[i] ?? ''))
  );
}

function matchPart(pattern: string, name: string): boolean {
  /** ends[i]: the pattern read so far matches the first i characters of the name. */
  let ends: boolean[] = new Array(name.length + 1).fill(false);
  ends[0] = true;
  let at = 0;
  while (at < pattern.length) {
    const next: boolean[] = new Array(name.length + 1).fill(false);
    const token = pattern[at];
    if (token === '*') {
      at += 1;
      for (let i = 0; i <= name.length; i++) next[i] = ends[i] === true || next[i - 1] === true;
    } else if (token === '{') {
      const close = pattern.indexOf('}', at);
      if (close < 0) return false;
      for (const word of pattern.slice(at + 1, close).split(',')) {
        for (let i = 0; i + word.length <= name.length; i++) {
          if (ends[i] && name.startsWith(word, i)) next[i + word.length] = true;
        }
      }
      at = close + 1;
    } else {
      let set: string | undefined;
      if (token === '[') {
        const close = pattern.indexOf(']', at);
        if (close < 0) return false;
        set = pattern.slice(at + 1, close);
        at = close + 1;
      } else {
        at += 1;
      }
      for (let i = 0; i < name.length; i++) {
        if (!ends[i]) continue;
        const character = name[i] ?? '';
        next[i + 1] =
          set !== undefined ? isInSet(set, character) : token === '?' || token === character;
      }
    }
    ends = next;
  }
  return ends[name.length] === true;
}

/** `set` is what stands between `[` and `]`: `!` is special only first, `-` only between two characters. */
function isInSet(set: string, character: string): boolean {
  const negated = set.startsWith('!');
  let found = false;
  for (let i = negated ? 1 : 0; i < set.length && !found; i++) {
    const low = set[i] ?? '';
    const high = set[i + 2];
    if (set[i + 1] === '-' && high !== undefined) {
      found = low <= character && character <= high;
      i += 2;
    } else {
      found = low === character;
    }
  }
  return found !== negated;
}
