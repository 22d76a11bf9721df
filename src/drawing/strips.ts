import { escaped } from '../stage/markup.js';
import { INK } from './ink.js';
import { widthOf } from './letters.js';

/** Units across a strip; it is stretched to the width that there is, its text is not. */
export const ACROSS = 1000;

export interface Strip {
  readonly name: string;
  readonly highPx: number;
  /** SVG, `ACROSS` wide and `highPx` high. */
  readonly body: string;
  /** Above it, such as losses by their numbers. */
  readonly marks?: readonly StripMark[];
  /** Words in it, where they have room. */
  readonly words?: readonly StripWord[];
  /** Of its height, from the top. */
  readonly scale?: readonly string[];
}

export interface StripMark {
  readonly atS: number;
  readonly text: string;
  readonly title: string;
}

export interface StripWord {
  readonly fromS: number;
  readonly toS: number;
  readonly text: string;
  readonly ink: string;
}

export interface StripTime {
  readonly fromS: number;
  readonly toS: number;
  readonly at: (atS: number) => string;
}

/** Where a time is on a strip, 0 to `ACROSS`. */
export function acrossTime({ fromS, toS }: StripTime): (atS: number) => number {
  return atS => ACROSS * Math.min(1, Math.max(0, (atS - fromS) / Math.max(1e-9, toS - fromS)));
}

/** Rows over one time, with their names, marks and scales, and the times below them. */
export function strips(label: string, rows: readonly Strip[], time: StripTime): string {
  const across = acrossTime(time);
  const ticks = axisTicks(time);
  const lines = ticks
    .map(
      tick =>
        `<path d="M${across(tick).toFixed(1)} 0V1000" stroke="${INK.line}" vector-effect="non-scaling-stroke"/>`,
    )
    .join('');
  const axis = ticks.map((tick, i) => {
    const share = across(tick) / ACROSS;
    const side = `${share < 0.03 ? ' first' : share > 0.97 ? ' last' : ''}${i % 2 === 1 ? ' odd' : ''}`;
    return `<span class="tick${side}" style="left:${percent(share)}">${escaped(axisLabel(time.at(tick)))}</span>`;
  });
  return [
    `<div class="strips" role="group" aria-label="${escaped(label)}">`,
    ...rows.map(row => strip(row, lines, across)),
    `<div class="strip axis"><span class="name"></span><div class="track">${axis.join('')}</div></div>`,
    '</div>',
  ].join('\n');
}

function strip(
  { name, highPx, body, marks, words = [], scale = [] }: Strip,
  lines: string,
  across: (atS: number) => number,
): string {
  const above =
    marks === undefined
      ? ''
      : `<div class="marks">${merged(marks, across).map(markHtml).join('')}</div>`;
  const inside = words.flatMap(({ fromS, toS, text, ink }) => {
    const share = (across(toS) - across(fromS)) / ACROSS;
    const need = 12 * widthOf(text) + 8;
    if (share * LEAST_WIDE_PX < need) return [];
    const wide = share * LEAST_PHONE_PX < need ? ' wide' : '';
    return [
      `<span class="in${wide}" style="left:${percent(across(fromS) / ACROSS)};color:${ink}">${escaped(text)}</span>`,
    ];
  });
  return [
    `<div class="strip" style="--high:${highPx}px"><span class="name">${escaped(name)}</span><div class="track">`,
    above,
    `<svg viewBox="0 0 ${ACROSS} ${highPx}" preserveAspectRatio="none" role="img" aria-label="${escaped(name)}">${body}${lines}</svg>`,
    ...inside,
    `</div>${scale.length === 0 ? '' : `<div class="scale">${scale.map(one => `<span>${escaped(one)}</span>`).join('')}</div>`}</div>`,
  ].join('');
}

/** Of a strip on a sheet of A4, and on a phone. */
const LEAST_WIDE_PX = 490;
const LEAST_PHONE_PX = 310;
/** Nearer than this two marks would lie on each other. */
const ONE_MARK = 0.06 * ACROSS;

interface MarkAt {
  x: number;
  readonly texts: string[];
  readonly titles: string[];
}

function merged(marks: readonly StripMark[], across: (atS: number) => number): MarkAt[] {
  const all: MarkAt[] = [];
  for (const { atS, text, title } of [...marks].sort((a, b) => a.atS - b.atS)) {
    const last = all.at(-1);
    if (last === undefined || across(atS) - last.x > ONE_MARK) {
      all.push({ x: across(atS), texts: [text], titles: [title] });
    } else {
      last.texts.push(text);
      last.titles.push(title);
    }
  }
  return all;
}

function markHtml({ x, texts, titles }: MarkAt): string {
  const [first = ''] = texts;
  const text = texts.length === 1 ? first : `${first}–${texts.at(-1)}`;
  const share = x / ACROSS;
  const side = share < 0.03 ? ' class="first"' : share > 0.97 ? ' class="last"' : '';
  return `<b${side} style="left:${percent(share)}" title="${escaped(titles.join('; '))}">▼${escaped(text)}</b>`;
}

function percent(share: number): string {
  return `${(100 * share).toFixed(2)}%`;
}

/** Round times need no tenths. */
function axisLabel(text: string): string {
  return text.replace(/\.0$/, '');
}

const STEPS_S = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14_400];
const MOST_TICKS = 7;

/** Round times from the beginning. */
function axisTicks({ fromS, toS }: StripTime): number[] {
  const length = toS - fromS;
  const step = STEPS_S.find(one => length / one <= MOST_TICKS) ?? Math.ceil(length / MOST_TICKS);
  const ticks: number[] = [];
  for (let atS = fromS; atS <= toS; atS += step) ticks.push(atS);
  return ticks;
}
