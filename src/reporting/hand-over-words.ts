import { INK } from '../drawing/ink.js';
import { table } from '../drawing/page.js';
import { escaped } from '../stage/markup.js';
import type { HeadTimes, WithoutHead } from './hand-over-times.js';
import type { Report } from './report-data.js';
import { acrossTime, overTime, ROW_LEFT, ROW_RIGHT, rowName } from './time-axis.js';
import { inWords } from './words.js';

type HandOvers = Pick<Report, 'heads' | 'withoutHead'>;

/** Who was on whom, for a terminal; nothing where no head chooses. */
export function handOverLines(
  { heads, withoutHead }: HandOvers,
  bold: (text: string) => string,
): string[] {
  if (heads.length === 0) return [];
  return [
    `${bold('who was on whom'.padEnd(22))}${'changes'.padStart(8)}`,
    ...heads.map(
      head =>
        `  ${head.label.padEnd(20)}${String(head.changes).padStart(8)}  ${onInWords(head) || 'nobody'}`,
    ),
    ...withoutHead.filter(isTold).map(one => `  ${withoutInWords(one)}`),
    '',
  ];
}

/** "Mara for 12.3 s, Ilja for 4.0 s", who for longest first. */
function onInWords({ stretches }: HeadTimes): string {
  const sums = new Map<string, number>();
  for (const { label, fromS, untilS } of stretches) {
    sums.set(label, (sums.get(label) ?? 0) + untilS - fromS);
  }
  return [...sums]
    .sort(([, a], [, b]) => b - a)
    .map(([label, forS]) => `${label} ${inWords.duration(forS)}`)
    .join(', ');
}

/** Shorter is the way of a head from one to the other. */
const LEAST_WITHOUT_S = 3;

function isTold({ forS }: WithoutHead): boolean {
  return forS >= LEAST_WITHOUT_S;
}

function withoutInWords({ label, forS, whileFreeS }: WithoutHead): string {
  const free =
    whileFreeS >= 1
      ? `, ${inWords.duration(whileFreeS)} of it while a head was on nobody: out of its reach, into a keep-out, or on its way`
      : '';
  return `${label} was tracked and had no head for ${inWords.duration(forS)}${free}`;
}

const ROW = 24;
const BAR = 18;
/** At 11 px a letter is some 6 px wide. */
const LETTER = 6;
/** Of performers, told apart by colour-blind eyes too (Okabe and Ito 2008); the names stand in them. */
const SHADES = [
  '#56b4e9', '#e69f00', '#009e73', '#f0e442', '#0072b2', '#d55e00', '#cc79a7', '#999999',
] as const; // biome-ignore format: one row
const DARK: readonly string[] = ['#009e73', '#0072b2', '#d55e00'];

/** The same on a page, with a row a head over time. */
export function handOverPart(
  { heads, withoutHead, performers, fromS, toS }: Report,
  at: (atS: number) => string,
): string[] {
  if (heads.length === 0) return [];
  const across = acrossTime(fromS, toS);
  const order = performers.map(({ name }) => name);
  const parts = heads.flatMap(({ label, stretches }, row) => {
    const top = row * ROW + (ROW - BAR) / 2;
    return [
      rowName(label, top + BAR - 4),
      `<rect x="${ROW_LEFT}" y="${top}" width="${ROW_RIGHT - ROW_LEFT}" height="${BAR}" fill="${INK.waiting}"/>`,
      ...stretches.map(({ performer, label: who, fromS: from, untilS }) => {
        const [left, right] = [across(from), across(untilS)];
        const width = Math.max(1.5, right - left);
        const shade = SHADES[Math.max(0, order.indexOf(performer)) % SHADES.length] ?? SHADES[0];
        const letters = Math.floor((width - 6) / LETTER);
        const shown = letters >= who.length ? who : letters >= 2 ? who.slice(0, letters) : '';
        const ink = DARK.includes(shade) ? INK.paper : INK.text;
        const title = `${label} on ${who}, ${at(from)} to ${at(untilS)}`;
        return `<g><title>${escaped(title)}</title><rect x="${left.toFixed(1)}" y="${top}" width="${width.toFixed(1)}" height="${BAR}" fill="${shade}" stroke="${INK.paper}"/><text x="${(left + 4).toFixed(1)}" y="${top + BAR - 5}" font-size="11" fill="${ink}">${escaped(shown)}</text></g>`;
      }),
    ];
  });
  return [
    '<h2>Who was on whom</h2>',
    overTime('on whom each head was', heads.length * ROW, parts, fromS, toS, at),
    table(
      [{ head: 'head' }, { head: 'changes', number: true }, { head: 'on' }],
      heads.map(head => [head.label, String(head.changes), onInWords(head) || 'nobody']),
    ),
    ...withoutHead.filter(isTold).map(one => `<p>${escaped(withoutInWords(one))}.</p>`),
  ];
}
