import type { Finding } from '../problems/problem.js';
import { chainsOf, type Link } from '../resolve/chains.js';
import type { ShowFile } from '../schema/schema.js';

/** How deep signals and conditions may depend on one another: far deeper than in any show, and shallow enough to follow. */
const MOST_DEEP = 100;
/** For a longer circle only the beginning is reported. */
const MOST_TOLD = 20;

/** Signals and conditions that depend on themselves: each circle once, with its path; and chains that are too long. */
export function checkCircles(show: ShowFile): Finding[] {
  const { order, circles, depths } = chainsOf(show);
  const findings = circles.map((circle): Finding => {
    const names = circle.map(({ name }) => name);
    const { block, name } = circle[0] as Link;
    const way =
      names.length > MOST_TOLD
        ? [...names.slice(0, MOST_TOLD), `and ${names.length - MOST_TOLD} more`]
        : names;
    return {
      code: 'signal-circle',
      message: `${ONE[block]} "${name}" depends on itself: ${way.join(' <- ')}.`,
      path: [block, name],
      atKey: true,
    };
  });
  order.forEach(({ block, name }, i) => {
    // What depends on it is deeper still, and is not reported again.
    if (depths[i] !== MOST_DEEP + 1) return;
    findings.push({
      code: 'signal-depth',
      message: `${ONE[block]} "${name}" depends on others, and those on others, more than ${MOST_DEEP} levels deep; at most ${MOST_DEEP} are allowed.`,
      path: [block, name],
      atKey: true,
    });
  });
  return findings;
}

const ONE = { signals: 'signal', conditions: 'condition' } as const;
