// What the tests notice, as tables in a page.
import { readFileSync, writeFileSync } from 'node:fs';

const MARK = '<!-- table -->';

/**
 * Parts that were not tried here stay in the page as they are.
 * @param parts { name, files: how many there are, results: of those tried, of, tried, share, endless, sEach }
 */
export function writePage(file, parts) {
  const [intro, before = ''] = readFileSync(file, 'utf8').split(MARK);
  const rows = [];
  const sections = [];
  for (const part of parts) {
    if (part.of > 0) {
      rows.push(rowOf(part));
      sections.push(survivorsOf(part));
      continue;
    }
    const row = before.split('\n').find(line => line.startsWith(`| ${part.name} |`));
    const section = before.split('\n## ').find(text => text.startsWith(`${part.name}\n`));
    if (row !== undefined)
      rows.push(
        row
          .split('|')
          .slice(1, -1)
          .map(cell => cell.trim()),
      );
    if (section !== undefined) sections.push(`## ${section.trim()}`);
  }
  const head = [
    'part',
    'files',
    'changes tried',
    'caught',
    '95 % interval',
    'by time alone',
    's each',
  ];
  writeFileSync(file, `${intro}${[MARK, table(head, rows), ...sections].join('\n\n')}\n`);
}

function rowOf({ name, files, results, of, tried, share, endless, sEach }) {
  const isAll = tried === of;
  return [
    name,
    `${results.length} of ${files}`,
    isAll ? `all ${of}` : `${tried} of ${of}`,
    percent(share),
    isAll ? '' : wilson(share, tried).map(percent).join(' to '),
    `${endless}`,
    sEach,
  ];
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
