import { ask, parseRequest } from '../daemon/operator/control.js';
import type { Arguments } from './cli.js';
import { EXIT } from './exit-codes.js';
import { complain, print } from './terminal.js';

export const TELL_HELP = `usage: lampwright tell STATE_DIR WORDS...

Tells a running daemon what a person wants: the one that was started with --state-dir STATE_DIR, or as
a service. What is changed is kept there, and done again after a restart.

  assign TRACKER PERFORMER   the performer wears this tracker from now on, a spare or another's
  unassign TRACKER           nobody wears it from now on
  stop PERFORMER             their light goes to its safe values; \`stop everybody\`: all light does
  resume PERFORMER           it may come back; or \`resume everybody\`
  reload                     read the show file again; a bad one leaves the running show untouched
  status                     how it is, in one line

examples:
  lampwright tell /var/lib/lampwright/main assign 7 ines
  lampwright tell ./state unassign 1
  lampwright tell ./state stop everybody
  lampwright tell ./state status --json

  --json   the answer as a JSON object: ok, text

exit codes: 0 done, 1 refused, 2 bad usage or no daemon there`;

export async function tell(args: Arguments): Promise<number> {
  const [folder = '', ...words] = args.positionals;
  const request = parseRequest(words);
  if (typeof request === 'string') {
    complain(`lampwright tell: ${request}`);
    return EXIT.usage;
  }
  const answer = await ask(folder, words);
  if (args.values.json === true) print(JSON.stringify(answer));
  else if (answer.ok) print(answer.text);
  else complain(answer.text);
  if (answer.ok) return EXIT.ok;
  return answer.text.startsWith('no daemon') ? EXIT.usage : EXIT.failed;
}
