import { writeFileSync } from 'node:fs';
import { constants, setPriority } from 'node:os';
import { packShow } from '../daemon/packed-show.js';
import { type LoadedShow, loadShow, refusedShow } from './show-file.js';
import { missingPlaces } from './show-warnings.js';

const MOST_PROBLEMS = 100;

// Reads a show beside the light, for `loadShowInChild`. Of all processes this is the one to do without: the
// first to go where memory is short, and the last to be served.
try {
  writeFileSync('/proc/self/oom_score_adj', '1000');
  setPriority(constants.priority.PRIORITY_BELOW_NORMAL);
} catch {
  // Without it the limits still hold.
}
// Who asked has gone.
process.on('disconnect', () => process.exit());
process.send?.(inBrief(loadShow(process.argv[2] ?? '')));

/** Of a show that is refused only what the log has room for: its text may be the very thing that is wrong. */
function inBrief(loaded: LoadedShow): LoadedShow {
  if (loaded.ok) {
    const missing = missingPlaces(loaded.show, loaded.text, process.argv[2] ?? '');
    return { ...loaded, packed: packShow(loaded.show), missing };
  }
  const { problems } = loaded;
  const next = problems[MOST_PROBLEMS];
  if (next === undefined) return refusedShow(problems);
  const more = problems.length - MOST_PROBLEMS;
  const message = `and ${more} ${more === 1 ? 'error' : 'errors'} more; \`lampwright check\` names them all.`;
  return refusedShow([...problems.slice(0, MOST_PROBLEMS), { ...next, message }]);
}
