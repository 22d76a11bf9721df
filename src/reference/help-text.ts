/** A help text, taken apart: the same words make the manual page and the completion of a shell. */
export interface HelpText {
  /** One line a way of calling it. */
  readonly usage: readonly string[];
  /** Paragraphs and tables in their order, without those below. */
  readonly body: readonly HelpBlock[];
  /** Rows of the tables in which an option stands. */
  readonly options: readonly HelpRow[];
  readonly examples: readonly string[];
  /** What the exit codes mean, without the words "exit codes:"; empty where nothing is said of them. */
  readonly exitCodes: string;
}

export type HelpBlock =
  | { readonly kind: 'paragraph'; readonly text: string }
  | { readonly kind: 'rows'; readonly rows: readonly HelpRow[] };

/** Two columns: what is written, and what it means. */
export interface HelpRow {
  readonly term: string;
  readonly text: string;
}

/** An option of a command, as completion needs it. */
export interface HelpOption {
  /** Without its hyphens. */
  readonly name: string;
  readonly takesValue: boolean;
  /** Values of which one is to be chosen; empty where it is something else. */
  readonly choices: readonly string[];
  /** One line; empty where the help doesn't list it. */
  readonly text: string;
}

/** @param help as `--help` prints it: blocks with empty lines between them, rows indented by two spaces */
export function readHelp(help: string): HelpText {
  const usage: string[] = [];
  const body: HelpBlock[] = [];
  const options: HelpRow[] = [];
  const examples: string[] = [];
  let exitCodes = '';
  for (const block of help.trim().split(/\n{2,}/)) {
    const lines = block.split('\n');
    const [first = ''] = lines;
    if (first.startsWith('usage: ')) usage.push(...usageOf(lines));
    else if (first.startsWith('examples:')) examples.push(...lines.slice(1).map(undented));
    else if (first.startsWith('exit codes:')) exitCodes = joined(lines).replace('exit codes: ', '');
    else if (!isRow(first)) body.push({ kind: 'paragraph', text: joined(lines) });
    else {
      const rows = rowsOf(lines);
      if (rows.some(({ term }) => term.startsWith('--'))) options.push(...rows);
      else body.push({ kind: 'rows', rows });
    }
  }
  return { usage, body, options, examples, exitCodes };
}

/**
 * The options that a command takes, with what its help says of them.
 * @param taken by name, whether each takes a value
 */
export function helpOptions(
  { options }: Pick<HelpText, 'options'>,
  taken: Readonly<Record<string, boolean>>,
): HelpOption[] {
  return Object.entries(taken).map(([name, takesValue]) => {
    // Options that belong together may share a row.
    const row = options.find(({ term }) => term.split(/[\s,]+/).includes(`--${name}`));
    const [, choice = ''] = /^\S+ ([a-z]+(?:\|[a-z]+)+)$/.exec(row?.term ?? '') ?? [];
    const choices = choice === '' ? [] : choice.split('|');
    const [text = ''] = (row?.text ?? '').split(/[;:.] |[;:]$/);
    return { name, takesValue, choices, text };
  });
}

function isRow(line: string): boolean {
  return /^ {2}\S/.test(line);
}

/** What goes on in the next line belongs to the way of calling before it. */
function usageOf(lines: readonly string[]): string[] {
  const ways: string[] = [];
  for (const line of lines) {
    const text = line.replace(/^usage: /, '').trim();
    if (text.startsWith('lampwright')) ways.push(text);
    else ways.push(`${ways.pop() ?? ''} ${text}`.trim());
  }
  return ways;
}

function rowsOf(lines: readonly string[]): HelpRow[] {
  const rows: { term: string; text: string }[] = [];
  for (const line of lines) {
    const last = rows.at(-1);
    if (isRow(line)) {
      const [, term = '', text = ''] = /^ {2}(\S.*?)(?: {2,}(\S.*))?$/.exec(line) ?? [];
      rows.push({ term, text });
    } else if (last !== undefined) last.text = `${last.text} ${line.trim()}`.trim();
  }
  return rows;
}

function joined(lines: readonly string[]): string {
  return lines.map(line => line.trim()).join(' ');
}

function undented(line: string): string {
  return line.replace(/^ {2}/, '');
}
