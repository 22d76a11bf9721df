import { type HelpBlock, type HelpRow, readHelp } from './help-text.js';

/** What a manual page needs besides its help text. */
export interface ManualPage {
  /** As it is called: `lampwright-run`. */
  readonly name: string;
  readonly summary: string;
  readonly help: string;
  readonly version: string;
  /** Other pages, for SEE ALSO. */
  readonly seeAlso: readonly string[];
}

/** A manual page of section 1, in the macros of man(7). */
export function manualPage({ name, summary, help, version, seeAlso }: ManualPage): string {
  const { usage, body, options, examples, exitCodes } = readHelp(help);
  const lines = [
    `.\\" Made from the help text of the command.`,
    // No date: the same version is the same page.
    `.TH ${name.toUpperCase()} 1 "" "lampwright ${version}" "lampwright"`,
    '.SH NAME',
    `${escaped(name)} \\- ${escaped(summary)}`,
    '.SH SYNOPSIS',
    '.nf',
    ...usage.map(way => `\\fB${lineStart(escaped(way))}\\fR`),
    '.fi',
    '.SH DESCRIPTION',
    ...body.flatMap(blockLines),
    ...section('OPTIONS', options.flatMap(rowLines)),
    ...section('EXAMPLES', examples.length === 0 ? [] : literal(examples)),
    ...section('EXIT STATUS', exitCodes === '' ? [] : [prose(exitCodes)]),
    ...section('SEE ALSO', [seeAlso.map(one => `\\fB${escaped(one)}\\fR(1)`).join(',\n')]),
  ];
  return `${lines.join('\n')}\n`;
}

function section(title: string, lines: readonly string[]): string[] {
  return lines.length === 0 ? [] : [`.SH "${title}"`, ...lines];
}

function blockLines(block: HelpBlock): string[] {
  return block.kind === 'paragraph' ? ['.PP', prose(block.text)] : block.rows.flatMap(rowLines);
}

function rowLines({ term, text }: HelpRow): string[] {
  const bold = `\\fB${lineStart(escaped(term))}\\fR`;
  // Without a second column it is a line as it is typed.
  return text === '' ? literal([term]) : ['.TP', bold, prose(text)];
}

function literal(lines: readonly string[]): string[] {
  return ['.PP', '.nf', '.RS 4', ...lines.map(line => lineStart(escaped(line))), '.RE', '.fi'];
}

/** What stands between backticks is bold. */
function prose(text: string): string {
  return lineStart(escaped(text).replace(/`([^`]+)`/g, '\\fB$1\\fR'));
}

/** groff makes typographic signs of these, which nobody could copy into a shell. */
function escaped(text: string): string {
  return text
    .replaceAll('\\', '\\e')
    .replaceAll('-', '\\-')
    .replaceAll("'", '\\(aq')
    .replaceAll('^', '\\(ha')
    .replaceAll('~', '\\(ti');
}

/** A point or an apostrophe at the beginning of a line would be a macro. */
function lineStart(text: string): string {
  return /^[.']/.test(text) ? `\\&${text}` : text;
}
