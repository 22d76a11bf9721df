import { writeFileSync } from 'node:fs';
import { goBehind } from '../daemon/beats/go-behind.js';
import type { LoadedShow } from './show-file.js';
import type { ReadShow } from './show-in-child.js';

const MOST_PROBLEMS = 100;

// Reads a show beside the light, for `loadShowInChild`. Of all processes this is the one to do without: the
// first to go where memory is short, and it comes behind the light in the queue for the processor.
goBehind();
try {
  writeFileSync('/proc/self/oom_score_adj', '1000');
} catch {
  // Without it the limits still hold.
}
// Who asked has gone.
process.on('disconnect', () => process.exit());
// Only now: to load the rest of the program takes a good part of the whole time.
const { loadShow, refusedShow } = await import('./show-file.js');
const { missingPlaces } = await import('./show-warnings.js');
const { packShow } = await import('../daemon/engine/packed-show.js');
const file = process.argv[2] ?? '';
process.send?.(inBrief(loadShow(file)));

/** Of a show that is refused only what the log has room for: its text may be the very thing that is wrong. */
function inBrief(loaded: LoadedShow): ReadShow {
  if (loaded.ok) {
    const { show, ...rest } = loaded;
    return { ...rest, packed: packShow(show), missing: missingPlaces(show, loaded.text, file) };
  }
  const { problems } = loaded;
  const next = problems[MOST_PROBLEMS];
  if (next === undefined) return refusedShow(problems);
  const more = problems.length - MOST_PROBLEMS;
  const message = `and ${more} ${more === 1 ? 'error' : 'errors'} more; \`lampwright check\` names them all.`;
  return refusedShow([...problems.slice(0, MOST_PROBLEMS), { ...next, message }]);
}
