/** What an import could not use, or used in a way that its user should know of. */
export interface Remark {
  /**
   * `error`: the file is wrong or incomplete there, and what was imported lacks it. `left-out`: the import
   * has no place for it. `note`: it was imported, but see.
   */
  readonly kind: 'error' | 'left-out' | 'note';
  /** Which part of which file. */
  readonly where: string;
  readonly what: string;
}

/** Collects remarks; the same of many parts is said once, with how many more. */
export class Remarks {
  readonly #all: Remark[] = [];

  error(where: string, what: string): void {
    this.#all.push({ kind: 'error', where, what });
  }

  leftOut(where: string, what: string): void {
    this.#all.push({ kind: 'left-out', where, what });
  }

  note(where: string, what: string): void {
    this.#all.push({ kind: 'note', where, what });
  }

  get all(): readonly Remark[] {
    return this.#all;
  }
}

/** A name as show files have them: lower case, a letter first, words parted by `-`. */
export function nameFrom(text: string, otherwise: string): string {
  const slug = text
    .normalize('NFKD')
    .replace(/[\u0300-\u036f]/g, '')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-+|-+$/g, '')
    .slice(0, LONGEST_NAME)
    .replace(/-+$/, '');
  if (slug === '') return otherwise;
  return /^[a-z]/.test(slug) ? slug : `${otherwise}-${slug}`;
}

const LONGEST_NAME = 48;

/** The name, or the name with the first number that makes it new; it is taken then. */
export function uniqueName(name: string, taken: Set<string>): string {
  let unique = name;
  for (let n = 2; taken.has(unique); n++) unique = `${name}-${n}`;
  taken.add(unique);
  return unique;
}
