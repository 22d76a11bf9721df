import type { Answer } from '../../daemon/asking/answers.js';
import { ask } from '../../daemon/asking/ask.js';
import { parseRequest } from '../../daemon/asking/request-words.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { complain, print } from '../terminal/terminal.js';

export const TELL_HELP = `usage: lampwright tell STATE_DIR WORDS...

Gives an order to a running daemon: the one that was started with --state-dir STATE_DIR, or as
a service. Changes are kept there, and applied again after a restart. Asking for something that is already so is
not an error: the answer says so.

  assign TRACKER PERFORMER   the performer now wears this tracker, whether it was a spare or somebody else's
  unassign TRACKER           nobody wears it any more
  stop PERFORMER             their light goes to its safe values; \`stop everybody\`: all light does
  resume PERFORMER           their light may come back; or \`resume everybody\`
  off PERFORMER              they are off stage, which is no loss, until they are heard on stage again; or \`off everybody\`
  on PERFORMER               they are on stage after all; or \`on everybody\`
  cue NAME                   take this cue; \`cue next\` and \`cue back\`: the cue after or before the one that is on;
                             \`cue next NAME\`: only if cue NAME is on
  pin HEAD PERFORMER         keep a head that chooses (nearest, first, share) on them whatever its rule says, until
                             \`unpin HEAD\`. While they are lost it is dark, and waits for them
  highlight FIXTURE          light a fixture or a group while you focus: open, full, white, where it points.
                             It ends after a minute, with \`highlight off\`, with a stop, or when somebody is tracked. While performers are
                             tracked it is refused, unless you say \`highlight FIXTURE while-tracked\`
  mapping off NAME           switch this mapping off, until \`mapping on NAME\`; a loss still takes its fixtures to their safe values
  hold CLASS                 hold the enable of a hazard class; repeat it within the show's \`enableTimeout\`, or it is
                             released. \`release CLASS\` releases it at once. Meant for a hand at the panel, not for a script
  rehearsal NAME             the status says that this is a rehearsal with played positions, until \`rehearsal off\`
  reload                     read the show file again; if it has errors, the running show carries on
  status                     who is live or lost, since when and why; trackers, outputs, troubles

You may use a performer's label instead of the name: "The Gull".

examples:
  lampwright tell /var/lib/lampwright/main assign 7 ines
  lampwright tell ./state unassign 1
  lampwright tell ./state stop everybody
  lampwright tell ./state cue storm
  lampwright tell ./state status --json

  --json   the answer as a JSON object: outcome, ok, text, and what it is about (docs/reference/status.md)

exit codes: 0 done, or already so, 1 refused, 2 bad usage or no daemon there, 3 done but not saved,
so that a restart of the daemon would lose it, or the daemon gave no answer in time`;

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
  return EXIT_OF[answer.outcome];
}

const EXIT_OF: Readonly<Record<Answer['outcome'], number>> = {
  done: EXIT.ok,
  'already so': EXIT.ok,
  refused: EXIT.failed,
  incomplete: EXIT.usage,
  'no daemon': EXIT.usage,
  'not kept': EXIT.fault,
  failed: EXIT.fault,
};
