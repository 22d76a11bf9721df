import type { Answer } from '../daemon/operator/answers.js';
import { ask } from '../daemon/operator/ask.js';
import { parseRequest } from '../daemon/operator/request-words.js';
import type { Arguments } from './dispatch.js';
import { EXIT } from './exit-codes.js';
import { complain, print } from './terminal.js';

export const TELL_HELP = `usage: lampwright tell STATE_DIR WORDS...

Tells a running daemon what a person wants: the one that was started with --state-dir STATE_DIR, or as
a service. What is changed is kept there, and done again after a restart. What is so already is
no error: the answer says so.

  assign TRACKER PERFORMER   the performer wears this tracker from now on, a spare or another's
  unassign TRACKER           nobody wears it from now on
  stop PERFORMER             their light goes to its safe values; \`stop everybody\`: all light does
  resume PERFORMER           it may come back; or \`resume everybody\`
  off PERFORMER              they are off stage: absent, and not lost, until heard on it again; or \`off everybody\`
  on PERFORMER               they are on stage after all; or \`on everybody\`
  cue NAME                   this cue is on from now on; \`cue next\` and \`cue back\`: the one after it or before it;
                             \`cue next NAME\`: only while that cue is on
  pin HEAD PERFORMER         a head that chooses (nearest, first, share) is on them whatever its rule says, until
                             \`unpin HEAD\`. While they are lost it is dark, and waits for them
  highlight FIXTURE          shows a fixture, or a group of them, while you focus: open, full, white, where it points.
                             It ends by itself after a minute, by \`highlight off\`, a stop, or when somebody is tracked. While performers are
                             tracked it is refused, but for \`highlight FIXTURE while-tracked\`
  mapping off NAME           this mapping acts no more, until \`mapping on NAME\`; a loss still takes its fixtures to their safe values
  hold CLASS                 holds the enable of a hazard class: said again within the show's \`enableTimeout\`, or it is
                             released; \`release CLASS\` at once. Meant for the panel: a hand, and not a script
  rehearsal NAME             positions are played: the status says so; \`rehearsal off\`: no longer
  reload                     read the show file again; if it has errors, the running show carries on
  status                     who is live or lost, since when and why; trackers, outputs, troubles

A performer may be named by the label as well: "The Gull".

examples:
  lampwright tell /var/lib/lampwright/main assign 7 ines
  lampwright tell ./state unassign 1
  lampwright tell ./state stop everybody
  lampwright tell ./state cue storm
  lampwright tell ./state status --json

  --json   the answer as a JSON object: outcome, ok, text, and what it is about (docs/reference/status.md)

exit codes: 0 it is so now, 1 refused, 2 bad usage or no daemon there, 3 it is so now but can't be
kept, so that a restart of the daemon would lose it; or the daemon gave no answer in time`;

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
