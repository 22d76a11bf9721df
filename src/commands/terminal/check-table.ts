import { AREAS, type Check, countStates, type State } from '../../readiness/check.js';
import { styled } from './terminal.js';

const COLOURS = { pass: 'green', warn: 'yellow', fail: 'red' } as const;
/** As wide as the longest state. */
const MARK_WIDTH = 7;

/** Checks as lines for people, by area; what to do is below what was found. */
export function checkTable(checks: readonly Check[]): string[] {
  const lines: string[] = [];
  let area: string | undefined;
  for (const check of checks) {
    if (check.area !== area) {
      area = check.area;
      lines.push('', styled('bold', AREAS[check.area]));
    }
    lines.push(`  ${mark(check.state)}  ${check.name}: ${check.found}`);
    if (check.act !== '') lines.push(`${' '.repeat(MARK_WIDTH + 4)}-> ${check.act}`);
  }
  const { pass, warn, fail, unknown } = countStates(checks);
  const open = unknown > 0 ? `, ${unknown} unknown` : '';
  const verdict = `${fail} failed, ${warn} to look at, ${pass} passed${open}`;
  lines.push('', styled(fail > 0 ? 'red' : warn > 0 ? 'yellow' : 'green', verdict));
  return lines;
}

function mark(state: State): string {
  const word = state.padEnd(MARK_WIDTH);
  return state === 'unknown' ? word : styled(COLOURS[state], word);
}
