import { type CompletedCommand, completionOf, SHELLS } from '../../reference/completion.js';
import { helpOptions, readHelp } from '../../reference/help-text.js';
import { type Arguments, type Command, helpText } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseWithHelpOf } from '../terminal/misuse.js';
import { print } from '../terminal/terminal.js';

export const COMPLETION_HELP = `usage: lampwright completion bash|zsh|fish

Prints a script that completes commands, options and files in a shell. The Debian package installs all
three; otherwise put it where your shell looks for it.

examples:
  lampwright completion bash > ~/.local/share/bash-completion/completions/lampwright
  lampwright completion zsh > ~/.zfunc/_lampwright
  lampwright completion fish > ~/.config/fish/completions/lampwright.fish

exit codes: 0 ok, 2 bad usage`;

export async function completion(
  { positionals: [wanted = ''] }: Arguments,
  commands: Readonly<Record<string, Command>>,
): Promise<number> {
  const shell = SHELLS.find(one => one === wanted);
  if (shell === undefined) {
    return misuseWithHelpOf('completion')(`it knows bash, zsh and fish, not "${wanted}".`);
  }
  print(completionOf(shell, completedCommands(commands)).trimEnd());
  return EXIT.ok;
}

/** What completion offers for each command; the texts of its options come from its help. */
export function completedCommands(commands: Readonly<Record<string, Command>>): CompletedCommand[] {
  return Object.entries(commands).map(([name, command]) => {
    const kinds = command.kinds ?? [];
    const texts =
      kinds.length === 0 ? [helpText(command)] : kinds.map(one => helpText(command, one));
    const options = texts.flatMap(text => readHelp(text).options);
    const taken = Object.entries({
      ...command.options,
      ...((command.writes ?? command.fills) ? { force: { type: 'boolean' } } : {}),
    }).map(([option, { type }]) => [option, type === 'string'] as const);
    return {
      name,
      summary: command.summary,
      options: helpOptions({ options }, Object.fromEntries(taken)),
      words: kinds,
      verbs: command.verbs ?? [],
    };
  });
}
