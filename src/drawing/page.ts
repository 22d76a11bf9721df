import { escaped } from '../stage/markup.js';
import { INK } from './ink.js';

/** What printers call legible: 8 pt are 10.67 px. Nothing on a page is set smaller. */
const STYLE = `
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { font: 15px/1.45 system-ui, "Segoe UI", "DejaVu Sans", sans-serif; color: ${INK.text}; background: ${INK.paper};
  margin: 0 auto; padding: 28px 32px 48px; max-width: 1080px; overflow-wrap: break-word; }
h1 { font-size: 26px; line-height: 1.2; margin: 0 0 4px; }
h2 { font-size: 18px; margin: 34px 0 10px; border-bottom: 2px solid ${INK.text}; padding-bottom: 3px; }
h3 { font-size: 15px; margin: 18px 0 6px; }
p { margin: 6px 0; }
.quiet { color: ${INK.quiet}; }
.figures { display: flex; flex-wrap: wrap; gap: 12px; margin: 18px 0 6px; }
.figure { background: ${INK.panel}; border-radius: 6px; padding: 10px 16px; min-width: 140px; flex: 1; }
.figure b { display: block; font-size: 24px; font-variant-numeric: tabular-nums; }
.note { border-left: 4px solid ${INK.weak}; background: #fbeeec; padding: 8px 14px; margin: 10px 0; }
.caution { border: 2px solid ${INK.text}; padding: 8px 14px 8px 32px; margin: 14px 0; font-weight: 600; }
ol.recommendations { padding-left: 26px; }
ol.recommendations li { margin: 8px 0; }
ol.recommendations b { display: block; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; margin: 8px 0; }
th { text-align: left; font-weight: 600; color: ${INK.quiet}; border-bottom: 1px solid ${INK.text}; vertical-align: bottom; }
th, td { padding: 4px 14px 4px 0; }
th:last-child, td:last-child { padding-right: 0; }
td { border-bottom: 1px solid ${INK.line}; vertical-align: top; }
th.n, td.n { text-align: right; }
td.n { white-space: nowrap; }
ul.columns { columns: 220px; padding-left: 18px; }
ul.columns li { break-inside: avoid; }
.beside { display: flex; gap: 28px; flex-wrap: wrap; align-items: flex-start; }
.beside > * { flex: 1 1 380px; min-width: 0; }
.small { display: grid; grid-template-columns: repeat(auto-fill, minmax(210px, 1fr)); gap: 14px 20px; margin: 8px 0; }
.small > * { margin: 0; min-width: 0; break-inside: avoid; }
.small figcaption { font-weight: 600; }
svg { width: 100%; height: auto; display: block; }
svg.floor { max-width: 680px; margin: 6px 0; }
.key { display: flex; flex-wrap: wrap; gap: 4px 18px; font-size: 13px; color: ${INK.quiet}; margin: 6px 0 14px; }
.key i { display: inline-block; width: 12px; height: 12px; border: 1px solid ${INK.quiet}; margin-right: 5px; vertical-align: -1px; }
.swatch { display: inline-block; width: 12px; height: 12px; border: 1px solid ${INK.quiet}; margin-right: 5px; vertical-align: -1px; }
details { margin: 12px 0; }
summary { cursor: pointer; font-weight: 600; }
.signed { display: grid; grid-template-columns: 2fr 1fr; margin-top: 36px; gap: 28px; break-inside: avoid; }
.signed p { border-bottom: 1px solid ${INK.text}; padding-bottom: 26px; margin: 0; }
.strip { display: grid; grid-template-columns: 132px minmax(0, 1fr) 38px; column-gap: 10px; align-items: end; margin: 3px 0; break-inside: avoid; }
.strip .name { text-align: right; line-height: 1.15; font-size: 14px; }
.strip .track { position: relative; }
.strip svg { height: var(--high, 16px); background: ${INK.panel}; }
.strip .marks { position: relative; height: 15px; }
.strip .marks b, .strip .tick { position: absolute; font-size: 12px; line-height: 15px; white-space: nowrap; transform: translateX(-50%); }
.strip .marks b { color: ${INK.weak}; }
.strip .first { transform: none; }
.strip .last { transform: translateX(-100%); }
.strip .in { position: absolute; font-size: 12px; line-height: var(--high, 16px); bottom: 0; padding-left: 4px; white-space: nowrap; }
.strip .scale { display: flex; flex-direction: column; justify-content: space-between; height: var(--high, 16px); font-size: 11px; line-height: 1; white-space: nowrap; color: ${INK.quiet}; }
.axis .track { height: 18px; color: ${INK.quiet}; }
.many th, .many td { padding-right: 8px; }
footer { margin-top: 40px; font-size: 13px; color: ${INK.quiet}; border-top: 1px solid ${INK.line}; padding-top: 8px; }
@media screen and (max-width: 620px) {
  body { padding: 18px 16px 32px; }
  h1 { font-size: 22px; }
  table.cards, .cards tbody, .cards tr, .cards td { display: block; }
  .cards thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  .cards tr { border-bottom: 1px solid ${INK.line}; padding: 6px 0; }
  .cards td { border: 0; padding: 0; }
  .cards td.n { text-align: left; white-space: normal; }
  .cards td:first-child { font-weight: 600; }
  .cards td:not(:first-child)::before { content: attr(data-head) ": "; color: ${INK.quiet}; }
  .cards td:empty { display: none; }
  .strip { grid-template-columns: minmax(0, 1fr) 34px; column-gap: 6px; }
  .strip .name { text-align: left; grid-column: 1 / -1; }
  .axis .name { display: none; }
  .tick.odd, .strip .in.wide { display: none; }
  .signed { grid-template-columns: 1fr; }
  .beside > * { flex-basis: 100%; }
}
@page { size: A4; margin: 14mm; }
@media print {
  body { padding: 0; max-width: none; font-size: 11.5px; }
  h2 { margin-top: 22px; }
  h1, h2, h3, summary, h2 + p, h3 + p, p:has(+ .key), p:has(+ table), p:has(+ .small) { break-after: avoid; }
  h2 + p, h3 + p, p:has(+ table) { break-inside: avoid; }
  footer { margin-top: 14px; }
  footer, .signed { break-before: avoid; }
  /* A short table stays whole; of a long one no row stands alone on a sheet. */
  table:not(:has(tr:nth-child(11))) { break-inside: avoid; }
  tbody tr:first-child, tbody tr:nth-last-child(2) { break-after: avoid; }
  tr, svg, .figure, li, figure, .note, .caution, .together { break-inside: avoid; }
  thead { display: table-header-group; }
  .key, .quiet, footer { font-size: 11px; }
  .strip, .strip .name { font-size: 11.5px; }
  svg.floor { width: var(--printed, 100%); max-width: none; max-height: 235mm; }
  /* What is folded away on a screen is printed. */
  details::details-content { content-visibility: visible; display: block; block-size: auto; }
  * { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
}`;

/** One file that needs nothing else: no script, no font, no picture from anywhere. */
export function page(title: string, body: readonly string[], style = ''): string {
  return [
    '<!doctype html>',
    '<html lang="en">',
    '<head>',
    '<meta charset="utf-8">',
    '<meta name="viewport" content="width=device-width, initial-scale=1">',
    `<title>${escaped(title)}</title>`,
    `<style>${STYLE}${style}</style>`,
    '</head>',
    '<body>',
    '<main>',
    ...body,
    '</main>',
    '</body>',
    '</html>',
    '',
  ].join('\n');
}

export interface Column {
  readonly head: string;
  readonly number?: boolean;
}

/** More columns than this stand side by side on no phone: there each row is a card. */
const MOST_ON_A_PHONE = 3;
/** More columns than this stand close together. */
const MOST_APART = 7;

/** Cells are text, not markup. The first of a row says what the row is about. */
export function table(columns: readonly Column[], rows: readonly (readonly string[])[]): string {
  const ofNumbers = (column: Column | undefined) => (column?.number === true ? ' class="n"' : '');
  const asCards = columns.length > MOST_ON_A_PHONE;
  const cell = (text: string, column: Column | undefined) =>
    `<td${ofNumbers(column)}${asCards ? ` data-head="${escaped(column?.head ?? '')}"` : ''}>${inProse(text)}</td>`;
  return [
    asCards ? `<table class="cards${columns.length > MOST_APART ? ' many' : ''}">` : '<table>',
    `<thead><tr>${columns.map(column => `<th scope="col"${ofNumbers(column)}>${escaped(column.head)}</th>`).join('')}</tr></thead>`,
    '<tbody>',
    ...rows.map(row => `<tr>${row.map((text, i) => cell(text, columns[i])).join('')}</tr>`),
    '</tbody>',
    '</table>',
  ].join('\n');
}

/** Text as it stands in a page: a figure stays with its unit, and what is typed is set apart. */
export function inProse(text: string): string {
  return escaped(text)
    .replace(/(\d) (s|m|%|Hz|mm|cm)(?=$|[\s,;:.)])/g, '$1&nbsp;$2')
    .replace(/`([^`]+)`/g, '<code>$1</code>');
}

/** More letters than this go over two lines on a phone, beside two other columns. */
const MOST_ON_A_LINE = 22;

/** A short name, or a name with its figure, isn't broken over two lines. */
export function onOneLine(text: string): string {
  return text.length > MOST_ON_A_LINE ? text : text.replaceAll(' ', '\u00a0');
}

export function figure(value: string, what: string): string {
  return `<div class="figure"><b>${escaped(value)}</b>${escaped(what)}</div>`;
}

export function paragraphs(all: readonly string[]): string[] {
  return all.map(one => `<p>${inProse(one)}</p>`);
}

export function list(all: readonly string[], style = ''): string {
  const items = all.map(one => `<li>${inProse(one)}</li>`);
  return `<ul${style === '' ? '' : ` class="${style}"`}>${items.join('\n')}</ul>`;
}

export function key(entries: readonly (readonly [ink: string, text: string])[]): string {
  const items = entries.map(
    ([ink, text]) => `<span><i style="background:${ink}"></i>${escaped(text)}</span>`,
  );
  return `<div class="key">${items.join('')}</div>`;
}

/** A picture with its title, one of several. */
export function captioned(title: string, body: string, below = ''): string {
  return `<figure><figcaption>${escaped(title)}</figcaption>${body}${below}</figure>`;
}
