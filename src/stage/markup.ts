import { printableLines } from './printable.js';

/** Text that may come from a show file or a network, for HTML and SVG: nothing in it is markup, or hidden. */
export function escaped(text: string): string {
  return printableLines(text)
    .replace(/&/g, '&amp;')
    .replace(/</g, '&lt;')
    .replace(/>/g, '&gt;')
    .replace(/"/g, '&quot;');
}
