import { writeFileSync } from 'node:fs';
import { goBehind } from '../../daemon/beats/go-behind.js';
import type { LoadedShow } from '../files/show-file.js';
import type { ReadShow } from './show-in-child.js';

const MOST_PROBLEMS = 100;

// Reads a show beside the light, for `loadShowInChild`. This is the process that matters least: the first to be
// killed when memory is short, and behind the light in the queue for the processor.
goBehind();
try {
  writeFileSync('/proc/self/oom_score_adj', '1000');
} catch {
  // Without it the limits still hold.
}
// Whoever asked has gone.
process.on('disconnect', () => process.exit());
// Only now: loading the rest of the program takes a good part of the whole time.
const { loadShow, refusedShow } = await import('../files/show-file.js');
const { missingPlaces } = await import('../files/show-warnings.js');
const { packShow } = await import('../../daemon/engine/packed-show.js');
const file = process.argv[2] ?? '';
process.send?.(inBrief(loadShow(file)));

/** Of a refused show, only what the log has room for: its text may be what is too large. */
function inBrief(loaded: LoadedShow): ReadShow {
  if (loaded.ok) {
    const { show, ...rest } = loaded;
    return { ...rest, packed: packShow(show), missing: missingPlaces(show, loaded.text, file) };
  }
  const { problems } = loaded;
  const next = problems[MOST_PROBLEMS];
  if (next === undefined) return refusedShow(problems);
  const more = problems.length - MOST_PROBLEMS;
  const message = `and ${more} more ${more === 1 ? 'error' : 'errors'}; \`lampwright check\` lists them all.`;
  return refusedShow([...problems.slice(0, MOST_PROBLEMS), { ...next, message }]);
}
