import { styleText } from 'node:util';
import { printableColoured, printableLines } from '../stage/printable.js';

/** One line of result to standard output. */
export function print(text: string): void {
  process.stdout.write(`${forStream(text, process.stdout)}\n`);
}

/** One line of complaint to standard error. */
export function complain(text: string): void {
  process.stderr.write(`${forStream(text, process.stderr)}\n`);
}

/** Labels and what came over a network may hold anything: only our own breaks and colours go through. */
function forStream(text: string, stream: NodeJS.WriteStream): string {
  return stream.isTTY ? printableColoured(text) : printableLines(text);
}

/** Colour on a terminal that wants it, plain text elsewhere. */
export function styled(
  style: Parameters<typeof styleText>[0],
  text: string,
  stream: NodeJS.WriteStream = process.stdout,
): string {
  return stream.isTTY && process.env.NO_COLOR === undefined ? styleText(style, text) : text;
}
