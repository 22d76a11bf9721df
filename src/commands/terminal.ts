import { styleText } from 'node:util';

/** One line of result to standard output. */
export function print(text: string): void {
  process.stdout.write(`${text}\n`);
}

/** One line of complaint to standard error. */
export function complain(text: string): void {
  process.stderr.write(`${text}\n`);
}

/** Colour on a terminal that wants it, plain text elsewhere. */
export function styled(
  style: Parameters<typeof styleText>[0],
  text: string,
  stream: NodeJS.WriteStream = process.stdout,
): string {
  return stream.isTTY && process.env.NO_COLOR === undefined ? styleText(style, text) : text;
}
