import { REQUEST_VERBS } from '../../daemon/asking/request-words.js';
import type { Command } from '../terminal/dispatch.js';
import { TELL_HELP, tell } from './tell.js';

export const TELL_COMMAND: Command = {
  summary:
    'give a running daemon an order: stop, resume, cue, spare tracker, reload; or ask its status',
  help: TELL_HELP,
  options: { json: { type: 'boolean' } },
  words: [2, 5],
  missing: 'give the state folder of the daemon, and what to tell it.',
  verbs: REQUEST_VERBS,
  run: tell,
};
