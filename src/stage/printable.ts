/**
 * What a terminal, a log or a page takes for an order and not for text: control characters (C0, DEL, C1;
 * Unicode category Cc), line and paragraph separators (Zl, Zp), and marks that are not seen and change
 * what is: directions (bidirectional formatting, UAX 9), zero widths, tags, halves of surrogate pairs.
 */
const HIDDEN =
  /[\p{Cc}\p{Zl}\p{Zp}\p{Cs}\u00ad\u061c\u180e\u200b\u200e\u200f\u202a-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb]|[\u{e0000}-\u{e007f}]/gu;

/**
 * Text of somebody else's (a label, a name on the wire, a line of a file) as it may be printed: on one
 * line, with what is hidden in it written out, as JSON writes it ("\u001b"; a line break is "\n").
 */
export function printable(text: string): string {
  return text.replace(HIDDEN, written);
}

/** The same of text of several lines, of which the breaks and the tabs are ours. */
export function printableLines(text: string): string {
  return text.replace(HIDDEN, hidden =>
    hidden === '\n' || hidden === '\t' ? hidden : written(hidden),
  );
}

/** The same of text that we have coloured (ECMA-48 SGR: bold, dim and the colours of text). */
export function printableColoured(text: string): string {
  return text
    .split(COLOUR)
    .map((piece, i) => (i % 2 === 0 ? printableLines(piece) : piece))
    .join('');
}

// biome-ignore lint/suspicious/noControlCharactersInRegex: that is what it looks for
const COLOUR = /(\x1b\[(?:0|1|2|22|3[1-7]|39|9[0-7])m)/;

function written(hidden: string): string {
  if (hidden === '\n') return '\\n';
  if (hidden === '\r') return '\\r';
  if (hidden === '\t') return '\\t';
  let out = '';
  for (let i = 0; i < hidden.length; i++) {
    out += `\\u${hidden.charCodeAt(i).toString(16).padStart(4, '0')}`;
  }
  return out;
}
