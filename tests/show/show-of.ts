import type { Show } from '../../src/show/model/model.js';
import { parseShow } from '../../src/show/parse.js';

/** A show is never written to: the same text is read once for all tests. */
const known = new Map<string, Show>();

/** @throws with all that is wrong with the text */
export function showOf(text: string): Show {
  const before = known.get(text);
  if (before !== undefined) return before;
  const result = parseShow(text, 'test.show.yaml');
  if (!result.ok) {
    throw new Error(result.problems.map(p => `${p.line}:${p.column} ${p.message}`).join('\n'));
  }
  known.set(text, result.show);
  return result.show;
}
