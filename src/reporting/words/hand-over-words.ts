import { INK } from '../../drawing/ink.js';
import { key, onOneLine, table } from '../../drawing/page.js';
import { acrossTime, strips } from '../../drawing/strips.js';
import { enumerated } from '../../stage/enumerated.js';
import { escaped } from '../../stage/markup.js';
import type { HeadTimes, WithoutHead } from '../measures/hand-over-times.js';
import type { Report } from './report-data.js';
import { inWords } from './words.js';

type HandOvers = Pick<Report, 'heads' | 'withoutHead'>;

/** Lines about which head was on whom, for a terminal; none if no head chooses. */
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

/** "Mara 12.3 s, Ilja 4.0 s", the longest first. */
function onInWords({ stretches }: HeadTimes, each = (text: string) => text): string {
  const sums = new Map<string, number>();
  for (const { label, fromS, untilS } of stretches) {
    sums.set(label, (sums.get(label) ?? 0) + untilS - fromS);
  }
  return [...sums]
    .sort(([, a], [, b]) => b - a)
    .map(([label, forS]) => each(`${label} ${inWords.duration(forS)}`))
    .join(', ');
}

/** A shorter time is the way of a head from one performer to the other, seconds. */
const LEAST_WITHOUT_S = 3;

function isTold({ forS }: WithoutHead): boolean {
  return forS >= LEAST_WITHOUT_S;
}

function withoutInWords(one: WithoutHead): string {
  const { label, forS, whileFreeS, whileBarredS, whileOffS } = one;
  const free =
    whileFreeS >= 1
      ? `, ${inWords.duration(whileFreeS)} of it while a head was free: on its way, or pinned`
      : '';
  const barred =
    whileBarredS >= 1
      ? `, ${inWords.duration(whileBarredS)} of it where no head that shares them can reach them: ${barredInWords([one])}`
      : '';
  const off =
    whileOffS >= 1
      ? `, ${inWords.duration(whileOffS)} of it while an operator had the mapping off`
      : '';
  return `${label} was tracked and had no head for ${inWords.duration(forS)}${free}${barred}${off}`;
}

/** "out of reach, or behind the keep-out audience". */
export function barredInWords(all: readonly Pick<WithoutHead, 'barredBy'>[]): string {
  const keepOuts = [...new Set(all.flatMap(({ barredBy }) => barredBy.keepOuts))];
  return [
    ...(all.some(({ barredBy }) => barredBy.reach) ? ['out of reach'] : []),
    ...(keepOuts.length === 0
      ? []
      : [`behind the keep-out${keepOuts.length > 1 ? 's' : ''} ${enumerated(keepOuts)}`]),
  ].join(', or ');
}

const HIGH = 18;
/** Colours of performers that colour-blind people can tell apart too (Okabe and Ito 2008); names are written in them. */
const SHADES = [
  '#56b4e9', '#e69f00', '#009e73', '#f0e442', '#0072b2', '#d55e00', '#cc79a7', '#999999',
] as const; // biome-ignore format: one row
const DARK: readonly string[] = ['#0072b2'];

/** The same on a page, with one row over time for each head. */
export function handOverPart(
  { heads, withoutHead, performers, fromS, toS }: Report,
  at: (atS: number) => string,
): string[] {
  if (heads.length === 0) return [];
  const time = { fromS, toS, at };
  const across = acrossTime(time);
  const order = performers.map(({ name }) => name);
  const shadeOf = (name: string) =>
    SHADES[Math.max(0, order.indexOf(name)) % SHADES.length] ?? SHADES[0];
  const rows = heads.map(({ label, stretches }) => ({
    name: label,
    highPx: HIGH,
    body: stretches
      .map(({ performer, held = [performer], label: who, fromS: from, untilS }) => {
        const width = Math.max(2, across(untilS) - across(from));
        const title = `${label} on ${who}, ${at(from)} to ${at(untilS)}`;
        // The middle of several has a band for each.
        const high = HIGH / held.length;
        const bands = held.map(
          (name, i) =>
            `<rect x="${across(from).toFixed(1)}" y="${(i * high).toFixed(1)}" width="${width.toFixed(1)}" height="${high.toFixed(1)}" fill="${shadeOf(name)}"${held.length > 1 ? '' : ` stroke="${INK.paper}" vector-effect="non-scaling-stroke"`}><title>${escaped(title)}</title></rect>`,
        );
        return bands.join('');
      })
      .join(''),
    words: stretches.map(({ performer, held = [performer], label: who, fromS: from, untilS }) => ({
      ...{ fromS: from, toS: untilS, text: who.replace(/^the middle of /, '') },
      ink: held.some(name => DARK.includes(shadeOf(name))) ? INK.paper : INK.text,
    })),
  }));
  return [
    '<h2>Who was on whom</h2>',
    strips('on whom each head was', rows, time),
    key(performers.slice(0, SHADES.length).map(({ name, label }) => [shadeOf(name), label])),
    table(
      [{ head: 'head' }, { head: 'changes', number: true }, { head: 'on' }],
      heads.map(head => [
        onOneLine(head.label),
        String(head.changes),
        onInWords(head, onOneLine) || 'nobody',
      ]),
    ),
    ...withoutHead.filter(isTold).map(one => `<p>${escaped(withoutInWords(one))}.</p>`),
  ];
}
