import { dispatch } from '../terminal/dispatch.js';
import { RUN_COMMAND } from './run-command.js';

/** `run`, with no other command loaded beside it. */
export function runShow(words: readonly string[]): Promise<number> {
  return dispatch('run', RUN_COMMAND, words);
}
