import { readdirSync, statSync } from 'node:fs';
import { type ParseArgsConfig, parseArgs } from 'node:util';
import { EXIT } from './exit-codes.js';
import { misuseOf, misuseWithHelpOf } from './misuse.js';
import { print } from './terminal.js';

export interface Arguments {
  readonly values: Readonly<Record<string, string | boolean | undefined>>;
  readonly positionals: readonly string[];
}

export interface Command {
  readonly summary: string;
  /** One help for all, or one that depends on the words after the command. */
  readonly help: string | ((args: Arguments) => string);
  readonly options: NonNullable<ParseArgsConfig['options']>;
  /** Fewest and most words after the command. */
  readonly words: readonly [number, number];
  /** Options that name a file to be written: one that is there is replaced only with --force. */
  readonly writes?: readonly string[];
  /** Options that name a folder to be filled; one that isn't empty is written to only with --force. */
  readonly fills?: readonly string[];
  /** The message when there are too few words. */
  readonly missing?: string;
  /** If the command has kinds, each with its own help: the first word has to be one of these. */
  readonly kinds?: readonly string[];
  /** Words that may follow a folder; for completion. */
  readonly verbs?: readonly string[];
  run(args: Arguments): Promise<number>;
}

/** Reads the words after a command, and runs it. @returns the exit code */
export async function dispatch(
  name: string,
  command: Command,
  rest: readonly string[],
): Promise<number> {
  let args: Arguments;
  try {
    const parsed = parseArgs({
      args: rest.map(shielded),
      options: {
        ...command.options,
        ...(writesFiles(command) ? { force: { type: 'boolean' } } : {}),
        help: { type: 'boolean', short: 'h' },
      },
      allowPositionals: true,
      strict: true,
    });
    args = {
      values: Object.fromEntries(
        Object.entries(parsed.values).map(([key, value]) => [
          key,
          // An option given several times means the same as a list with commas.
          Array.isArray(value)
            ? value.map(one => unshielded(String(one))).join(', ')
            : typeof value === 'string'
              ? unshielded(value)
              : (value as boolean | undefined),
        ]),
      ),
      positionals: parsed.positionals.map(unshielded),
    };
  } catch (error) {
    return misuseWithHelpOf(name)(
      error instanceof Error ? firstSentence(error.message) : String(error),
    );
  }
  if (args.values.help === true) {
    print(helpText(command, ...args.positionals));
    return EXIT.ok;
  }
  const [fewest, most] = command.words;
  if (args.positionals.length < fewest) {
    return misuseWithHelpOf(name)(command.missing ?? 'the path of a show file is missing.');
  }
  if (args.positionals.length > most) {
    return misuseWithHelpOf(name)(`unexpected argument "${args.positionals[most]}".`);
  }
  // Before the work begins: it would be for nothing.
  const inTheWay = filesInTheWay(command, args);
  if (inTheWay.length > 0) {
    return misuseOf(name)(...inTheWay, 'nothing was written; --force replaces what is there.');
  }
  return command.run(args);
}

/** What `--help` prints after these words. */
export function helpText(command: Command, ...positionals: readonly string[]): string {
  const { help } = command;
  const text = typeof help === 'string' ? help : help({ values: {}, positionals });
  return writesFiles(command) ? withForce(text) : text;
}

const FORCE_HELP = 'overwrite existing files; without it they are left alone';

/** Adds --force after the last option of a command's help, in the same columns. */
function withForce(help: string): string {
  const lines = help.split('\n');
  const isOption = (line: string) => /^ {2}--\S.*? {2,}\S/.test(line);
  const column = Math.max(
    ...lines.filter(isOption).map(line => line.search(/(?<=^ {2}--\S.* {2,})\S/)),
    '  --force  '.length,
  );
  const last = lines.findLastIndex(isOption);
  if (last < 0) return help; // only the pages of its subcommands list options
  let at = last + 1;
  // Continuation lines of its description.
  while (/^ {8,}\S/.test(lines[at] ?? '')) at += 1;
  return lines.toSpliced(at, 0, `${'  --force'.padEnd(column)}${FORCE_HELP}`).join('\n');
}

function writesFiles({ writes, fills }: Command): boolean {
  return writes !== undefined || fills !== undefined;
}

function filesInTheWay({ writes = [], fills = [] }: Command, { values }: Arguments): string[] {
  if (values.force === true) return [];
  return [...writes, ...fills].flatMap(option => {
    const path = values[option];
    if (typeof path !== 'string') return [];
    const taken = fills.includes(option) ? isFilled(path) : isFile(path);
    const what = fills.includes(option) ? 'has files in it already' : 'is there already';
    return taken ? [`--${option}: ${path} ${what}.`] : [];
  });
}

/** A device or a pipe, such as /dev/stdout, may always be written to. */
function isFile(path: string): boolean {
  return statSync(path, { throwIfNoEntry: false })?.isFile() === true;
}

function isFilled(path: string): boolean {
  const isFolder = statSync(path, { throwIfNoEntry: false })?.isDirectory() === true;
  return isFolder && readdirSync(path).length > 0;
}

/** No option begins with a digit, so `-1.5` is a number; `parseArgs` would take it for an option. */
const NEGATIVE = /^-[\d.]/;
const SHIELD = '\0';

function shielded(word: string): string {
  return NEGATIVE.test(word) ? SHIELD + word : word;
}

function unshielded(word: string): string {
  return word.startsWith(SHIELD) ? word.slice(SHIELD.length) : word;
}

function firstSentence(text: string): string {
  return text.replace(/\. To specify.*$/s, '.');
}
