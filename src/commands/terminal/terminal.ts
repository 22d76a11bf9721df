import { styleText } from 'node:util';
import { printableColoured, printableLines } from '../../stage/printable.js';

/** Writes a result to standard output. */
export function print(text: string): void {
  process.stdout.write(`${forStream(text, process.stdout)}\n`);
}

/** Writes a message to standard error. */
export function complain(text: string): void {
  process.stderr.write(`${forStream(text, process.stderr)}\n`);
}

/** Labels and text from a network may contain anything: only our own line breaks and colours go through. */
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
