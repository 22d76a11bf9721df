/**
 * How wide text is at the most, in units of its size: sans-serif faces that systems have differ by a fifth, and the widest of
 * them (DejaVu Sans, measured) is what is counted with.
 */
export function widthOf(text: string): number {
  let width = 0;
  for (const letter of text) width += letterWidth(letter);
  return width;
}

function letterWidth(letter: string): number {
  // Chinese, Japanese and Korean, and pictures.
  if ((letter.codePointAt(0) ?? 0) >= 0x1100) return 1.05;
  if (/[ijlI.,:;|!'()[\]ftr -]/.test(letter)) return 0.42;
  if (/[mwMW@%]/.test(letter)) return 1;
  if (/[A-Z]/.test(letter)) return 0.76;
  return 0.65;
}

/** The text, or as much of it as so many letters hold, with an ellipsis. */
export function shortened(text: string, most: number): string {
  const letters = [...text];
  if (letters.length <= most) return text;
  return `${letters
    .slice(0, most - 1)
    .join('')
    .trimEnd()}…`;
}

/** Lines of whole words that are no longer than so many letters; a longer word is cut. */
export function inLines(text: string, most: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(/[ \t\n]+/).filter(one => one !== '')) {
    const last = lines.at(-1);
    if (last !== undefined && last.length + word.length < most) {
      lines[lines.length - 1] = `${last} ${word}`;
    } else lines.push(shortened(word, most));
  }
  return lines;
}
