// What the tests notice, as tables in a page.
import { readFileSync, writeFileSync } from 'node:fs';

const MARK = '<!-- table -->';

/** @param parts { name, files: how many there are, results: of those tried, of, tried, share } */
export function writePage(file, parts) {
  const begun = parts.filter(({ of }) => of > 0);
  const rows = begun.map(({ name, files, results, of, tried, share }) => [
    name,
    `${results.length} of ${files}`,
    tried < of ? `${tried} of ${of}` : `all ${of}`,
    percent(share),
    tried < of ? wilson(share, tried).map(percent).join(' to ') : '',
  ]);
  const intro = readFileSync(file, 'utf8').split(MARK)[0];
  const sum = table(['part', 'files', 'changes tried', 'caught', '95 % interval'], rows);
  writeFileSync(file, `${intro}${[MARK, sum, ...begun.map(survivorsOf)].join('\n\n')}\n`);
}

/** The interval that holds the true share in 95 of 100 samples: E. B. Wilson, J. Am. Stat. Assoc. 22:209, 1927. */
function wilson(share, count) {
  const z2 = 1.96 ** 2;
  const middle = share + z2 / (2 * count);
  const half = Math.sqrt(z2 * ((share * (1 - share)) / count + z2 / (4 * count * count)));
  return [middle - half, middle + half].map(edge => edge / (1 + z2 / count));
}

/** By file, the lines with changes that no test notices: each time as many as there are on it. */
function survivorsOf({ name, results }) {
  const rows = results
    .filter(({ survivors }) => survivors.length > 0)
    .map(({ file, tried, survivors }) => [
      `\`${file.replace('src/', '')}\``,
      `${survivors.length} of ${tried}`,
      linesOf(survivors),
    ]);
  return `## ${name}\n\n${table(['file', 'not noticed', 'on the lines'], rows)}`;
}

function linesOf(survivors) {
  const counts = new Map();
  for (const { place } of survivors) {
    const line = place.split(':')[1];
    counts.set(line, (counts.get(line) ?? 0) + 1);
  }
  return [...counts].map(([line, count]) => (count > 1 ? `${line} (${count})` : line)).join(', ');
}

function table(head, rows) {
  return [head, head.map(() => '---'), ...rows].map(row => `| ${row.join(' | ')} |`).join('\n');
}

export function told({ place, change, isCovered }) {
  return `${place} ${change}${isCovered ? '' : ' (no test runs it)'}`;
}

export function percent(share) {
  return `${(share * 100).toFixed(1)} %`;
}
