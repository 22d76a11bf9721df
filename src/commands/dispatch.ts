import { type ParseArgsConfig, parseArgs } from 'node:util';
import { EXIT } from './exit-codes.js';
import { misuseWithHelpOf } from './misuse.js';
import { print } from './terminal.js';

export interface Arguments {
  readonly values: Readonly<Record<string, string | boolean | undefined>>;
  readonly positionals: readonly string[];
}

export interface Command {
  readonly summary: string;
  /** The same for all, or by the words after the command. */
  readonly help: string | ((args: Arguments) => string);
  readonly options: NonNullable<ParseArgsConfig['options']>;
  /** Fewest and most words after the command. */
  readonly words: readonly [number, number];
  /** What to say when there are too few. */
  readonly missing?: string;
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
      options: { ...command.options, help: { type: 'boolean', short: 'h' } },
      allowPositionals: true,
      strict: true,
    });
    args = {
      values: Object.fromEntries(
        Object.entries(parsed.values).map(([key, value]) => [
          key,
          typeof value === 'string' ? unshielded(value) : (value as boolean | undefined),
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
    print(typeof command.help === 'string' ? command.help : command.help(args));
    return EXIT.ok;
  }
  const [fewest, most] = command.words;
  if (args.positionals.length < fewest) {
    return misuseWithHelpOf(name)(command.missing ?? 'the path of a show file is missing.');
  }
  if (args.positionals.length > most) {
    return misuseWithHelpOf(name)(`"${args.positionals[most]}" is one word too many.`);
  }
  return command.run(args);
}

/** No option begins with a digit: `-1.5` is a number, which `parseArgs` would take for an option. */
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
