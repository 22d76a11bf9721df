import type { Finding } from '../problems/problem.js';
import { chainsOf, type Link } from '../resolve/chains.js';
import type { ShowFile } from '../schema/schema.js';

/** So many signals and conditions may stand one upon the other: far more than a show has, and few enough to follow. */
const MOST_DEEP = 100;
/** Of a longer way round only the beginning is told. */
const MOST_TOLD = 20;

/** Signals and conditions that are made of themselves: each circle once, with its way round; and chains too long. */
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
    // What stands upon it is deeper still, and is not told again.
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
