const WIDTH = 100;

/** A space, except one between a figure and its unit: "0.5 s" stays on one line. */
const PARTS = / (?!(?:s|ms|m|mm|m\/s|%|°|degrees|Hz|fps|min)(?![\p{L}\p{N}]))|(?<!\d) /u;

/** Lines of at most WIDTH characters, each after the indent. */
export function wrapped(words: string, indent: string): string[] {
  const lines: string[] = [];
  let line = indent;
  for (const word of words.split(PARTS)) {
    if (line.length > indent.length && line.length + word.length + 1 > WIDTH) {
      lines.push(line);
      line = indent;
    }
    line += line.length > indent.length ? ` ${word}` : word;
  }
  return [...lines, line];
}
