import { escaped } from '../stage/markup.js';
export const INK = {
  text: '#1d232b',
  quiet: '#5d6672',
  line: '#cfd5dc',
  paper: '#ffffff',
  panel: '#f4f6f8',
  followed: '#2f7d69',
  returning: '#8fc3b0',
  fading: '#d98a2b',
  safe: '#8a93a0',
  noEngine: '#5a2340',
  offStage: '#aec4e3',
  waiting: '#e6eaee',
  weak: '#b5392c',
  zone: '#7c8792',
} as const;

const STYLE = `
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { font: 15px/1.45 system-ui, "Segoe UI", "DejaVu Sans", sans-serif; color: ${INK.text}; background: ${INK.paper};
  margin: 0 auto; padding: 28px 32px 48px; max-width: 1080px; }
h1 { font-size: 26px; margin: 0 0 2px; }
h2 { font-size: 18px; margin: 34px 0 10px; border-bottom: 2px solid ${INK.text}; padding-bottom: 3px; }
p { margin: 6px 0; }
.quiet { color: ${INK.quiet}; }
.figures { display: flex; flex-wrap: wrap; gap: 12px; margin: 18px 0 6px; }
.figure { background: ${INK.panel}; border-radius: 6px; padding: 10px 16px; min-width: 150px; flex: 1; }
.figure b { display: block; font-size: 24px; font-variant-numeric: tabular-nums; }
.note { border-left: 4px solid ${INK.weak}; background: #fbeeec; padding: 8px 14px; margin: 10px 0; }
ol.recommendations { padding-left: 26px; }
ol.recommendations li { margin: 8px 0; }
ol.recommendations b { display: block; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th { text-align: left; font-weight: 600; color: ${INK.quiet}; border-bottom: 1px solid ${INK.text}; }
th, td { padding: 4px 14px 4px 0; vertical-align: top; }
td { border-bottom: 1px solid ${INK.line}; }
.n { text-align: right; white-space: nowrap; }
.beside { display: flex; gap: 28px; flex-wrap: wrap; align-items: flex-start; }
.beside > * { flex: 1 1 380px; min-width: 0; }
svg { width: 100%; height: auto; display: block; }
.key { display: flex; flex-wrap: wrap; gap: 4px 18px; font-size: 13px; color: ${INK.quiet}; margin: 6px 0 14px; }
.key i { display: inline-block; width: 12px; height: 12px; border-radius: 2px; margin-right: 5px; vertical-align: -1px; }
footer { margin-top: 40px; font-size: 13px; color: ${INK.quiet}; border-top: 1px solid ${INK.line}; padding-top: 8px; }
@page { size: A4; margin: 14mm; }
@media print {
  body { padding: 0; max-width: none; font-size: 11.5px; }
  h2 { break-after: avoid; }
  tr, svg, .figure, li { break-inside: avoid; }
  .figure, .note, svg rect, svg circle, .key i { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
}`;

/** One file that needs nothing else: no script, no font, no picture from anywhere. */
export function page(title: string, body: readonly string[]): string {
  return [
    '<!doctype html>',
    '<html lang="en">',
    '<head>',
    '<meta charset="utf-8">',
    '<meta name="viewport" content="width=device-width, initial-scale=1">',
    `<title>${escaped(title)}</title>`,
    `<style>${STYLE}</style>`,
    '</head>',
    '<body>',
    ...body,
    '</body>',
    '</html>',
    '',
  ].join('\n');
}

export interface Column {
  readonly head: string;
  readonly number?: boolean;
}

/** Cells are text, not markup. */
export function table(columns: readonly Column[], rows: readonly (readonly string[])[]): string {
  const cell = (tag: 'th' | 'td', text: string, column: Column | undefined) =>
    `<${tag}${column?.number === true ? ' class="n"' : ''}>${escaped(text)}</${tag}>`;
  return [
    '<table>',
    `<thead><tr>${columns.map(column => cell('th', column.head, column)).join('')}</tr></thead>`,
    '<tbody>',
    ...rows.map(row => `<tr>${row.map((text, i) => cell('td', text, columns[i])).join('')}</tr>`),
    '</tbody>',
    '</table>',
  ].join('\n');
}

export function figure(value: string, what: string): string {
  return `<div class="figure"><b>${escaped(value)}</b>${escaped(what)}</div>`;
}

export function key(entries: readonly (readonly [ink: string, text: string])[]): string {
  const items = entries.map(
    ([ink, text]) => `<span><i style="background:${ink}"></i>${escaped(text)}</span>`,
  );
  return `<div class="key">${items.join('')}</div>`;
}
