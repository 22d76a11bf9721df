import type { Finding } from '../../calibration/finding.js';
import type { Parsed } from '../../calibration/markers.js';
import type { InputPlan, Show } from '../../show/model/model.js';
import { suggestion } from '../../show/problems/problem.js';
import { complain, print, styled } from '../terminal/terminal.js';
import { readParsed } from '../terminal/text-files.js';

export function printFindings(findings: readonly Finding[]): void {
  if (findings.length > 0) print('');
  for (const { level, what, act } of findings) {
    const style = level === 'error' ? 'red' : level === 'warning' ? 'yellow' : 'dim';
    print(`${styled(style, level)}: ${what}`);
    print(`  ${act}`);
  }
}

/** Like `readParsed`, and prints the faults. */
export function readFile<T>(file: string, parse: (text: string) => Parsed<T>): T | undefined {
  const faults: string[] = [];
  const value = readParsed(file, parse, faults);
  for (const fault of faults) complain(fault);
  return value;
}

/** The input that is meant, or a message that says why it isn't clear. */
export function inputOf(show: Show, name: string | undefined): InputPlan | string {
  // Orders have no frame.
  const inputs = show.inputs.filter(input => input.carries === 'positions');
  const names = inputs.map(input => input.name);
  if (name !== undefined) {
    return (
      inputs.find(input => input.name === name) ??
      `the show has no input "${name}".${suggestion(name, names)}`
    );
  }
  const [first] = inputs;
  if (first === undefined) return 'the show has no input.';
  return names.length === 1
    ? first
    : `the show has several inputs; say which with --input: ${names.join(', ')}.`;
}
