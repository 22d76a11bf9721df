import { CsvError, parse } from 'csv-parse/sync';
import { counted } from '../engine/events/event-words.js';
import { numberHint, rowHint } from '../show/problems/hints.js';

/** A table of comma-separated values: a head line, then one row per line; `#` begins a comment line. */
export interface Table {
  readonly columns: readonly string[];
  readonly rows: readonly Row[];
}

export interface Row {
  /** Counted from 1, for messages. */
  readonly line: number;
  readonly cells: ReadonlyMap<string, string>;
}

export interface ColumnRules {
  readonly required: readonly string[];
  readonly optional: readonly string[];
}

/** More than ten trackers report in an hour at 100 Hz. */
const MOST_ROWS = 4_000_000;
/** All faults are told at once, but no more than anybody reads. */
const MOST_FAULTS = 10;

/**
 * Reads a table whose head names its columns, in any order. Each fault is added to `faults` with its line;
 * the good rows are still returned.
 */
export function readTable(text: string, rules: ColumnRules, faults: Faults): Table {
  const records = recordsOf(text, faults);
  const [head] = records;
  if (head === undefined) {
    if (faults.count === 0) {
      faults.add(1, `the file is empty; its first line must be "${rules.required.join(',')}".`);
    }
    return { columns: [], rows: [] };
  }
  const columns = head.cells;
  if (columns.length === 1 && columns[0]?.includes(';') === true) {
    faults.add(
      head.line,
      'values are separated by semicolons here; write commas between them, and decimals with a point.',
    );
    return { columns, rows: [] };
  }
  const missing = rules.required.filter(name => !columns.includes(name));
  const known = [...rules.required, ...rules.optional];
  const unknown = columns.filter(name => !known.includes(name));
  const twice = columns.filter((name, i) => columns.indexOf(name) !== i);
  const at = head.line;
  const all = `It has ${rules.required.join(', ')}${rules.optional.length > 0 ? ` and may have ${rules.optional.join(', ')}` : ''}.`;
  if (missing.length > 0) faults.add(at, `column ${missing.join(', ')} is missing. ${all}`);
  if (unknown.length > 0) faults.add(at, `column "${unknown.join('", "')}" isn't known. ${all}`);
  if (twice.length > 0) faults.add(at, `column "${twice.join('", "')}" appears twice.`);
  if (missing.length + unknown.length + twice.length > 0) return { columns, rows: [] };
  const rows: Row[] = [];
  for (const { line, cells } of records.slice(1)) {
    if (rows.length >= MOST_ROWS) {
      faults.add(line, `there are more than ${MOST_ROWS} rows.`);
      break;
    }
    if (cells.length !== columns.length) {
      faults.add(
        line,
        `${counted(cells.length, 'value')} where the head has ${columns.length}: "${cells.join(',').slice(0, 60)}".${rowHint(cells, columns.length)}`,
      );
      continue;
    }
    rows.push({ line, cells: new Map(columns.map((name, k) => [name, cells[k] ?? ''])) });
  }
  if (rows.length === 0 && faults.count === 0) {
    faults.add(at, 'there is no row after the header.');
  }
  return { columns, rows };
}

/** Faults of one file, bounded, in the order in which they were found. */
export class Faults {
  readonly #texts: string[] = [];
  readonly #said = new Set<string>();
  count = 0;

  add(line: number, what: string): void {
    this.count += 1;
    if (this.#texts.length < MOST_FAULTS) this.#texts.push(`line ${line}: ${what}`);
  }

  /** Adds a fault that most probably affects all lines alike, only for the first of them. */
  addOnce(line: number, cause: string, what: string): void {
    if (this.#said.has(cause)) return;
    this.#said.add(cause);
    this.add(line, what);
  }

  get texts(): readonly string[] {
    const more = this.count - this.#texts.length;
    return more > 0 ? [...this.#texts, `and ${more} more.`] : this.#texts;
  }
}

/** A finite number of a row; NaN, and a fault, if there is none. */
export function numberIn(row: Row, column: string, faults: Faults): number {
  const text = row.cells.get(column) ?? '';
  const value = text === '' ? Number.NaN : Number(text);
  if (Number.isFinite(value)) return value;
  faults.add(
    row.line,
    `${column} should be a number, and is "${text.slice(0, 40)}".${numberHint(text)}`,
  );
  return Number.NaN;
}

/** The text of an optional column; undefined if it is empty or missing. */
export function textIn(row: Row, column: string): string | undefined {
  const text = row.cells.get(column);
  return text === undefined || text === '' ? undefined : text;
}

interface Record {
  readonly line: number;
  readonly cells: readonly string[];
}

/** RFC 4180, with comment lines and with blanks around cells. Where a quote is wrong, nobody can tell where the next row begins. */
function recordsOf(text: string, faults: Faults): Record[] {
  const records: Record[] = [];
  try {
    parse(text, {
      bom: true,
      comment: '#',
      comment_no_infix: true,
      relax_column_count: true,
      skip_empty_lines: true,
      skip_records_with_empty_values: true,
      // The head, and one row more than allowed.
      to: MOST_ROWS + 2,
      trim: true,
      on_record: (cells: string[], { lines }) => {
        records.push({ line: lines, cells });
        return null;
      },
    });
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    if (error.code === 'CSV_QUOTE_NOT_CLOSED') {
      faults.add((records.at(-1)?.line ?? 0) + 1, 'a quote is opened here and never closed.');
    } else {
      const line = typeof error.lines === 'number' ? error.lines : 1;
      faults.add(
        line,
        'a quote in the middle of a value. Quotes go round the whole value, and one inside it is written twice: "". What follows was not read.',
      );
    }
  }
  return records;
}
