import { titleOf } from '../safety/watchdog-table.js';
import type { AttributeExplanation, ExplanationRow, MomentExplanation } from './explain-moment.js';

type Style = 'bold' | 'dim' | 'green' | 'yellow' | 'red';
type Styled = (style: Style, text: string) => string;

/** An explanation as lines for a terminal. */
export function explanationText(
  { cue, performers, signals, conditions, heads, attributes }: MomentExplanation,
  title: string,
  styled: Styled,
): string {
  const lines = [styled('bold', title)];
  if (cue !== null) lines.push(`  in cue ${cue}`);
  const width = Math.max(...performers.map(({ label }) => label.length), 4) + 2;
  for (const { label, at, phase, cause } of performers) {
    const where = at === null ? '' : at.map(metres => metres.toFixed(2)).join(', ');
    const state =
      at === null && phase === 'waiting' ? 'never heard' : phase === 'off' ? 'off stage' : phase;
    const why = cause === null ? '' : ` (${titleOf(cause)})`;
    const style = phase === 'live' ? 'green' : phase === 'off' ? 'dim' : 'yellow';
    lines.push(`  ${label.padEnd(width)}${where.padEnd(20)}${styled(style, `${state}${why}`)}`);
  }
  if (signals.length > 0) {
    lines.push('', styled('bold', 'signals'));
    const wide = Math.max(...signals.map(({ name }) => name.length)) + 2;
    for (const { name, value, least, greatest } of signals) {
      const end = (bound: number | null) => (bound === null ? 'any' : figure(bound));
      const text =
        value === null
          ? styled('yellow', `unknown: ${end(least)} to ${end(greatest)}`)
          : figure(value);
      lines.push(`  ${name.padEnd(wide)}${text}`);
    }
  }
  if (conditions.length > 0) {
    lines.push('', styled('bold', 'conditions'));
    const wide = Math.max(...conditions.map(({ asks }) => asks.length)) + 2;
    for (const { asks, truth } of conditions) {
      const style = truth === 'yes' ? 'green' : truth === 'no' ? 'dim' : 'yellow';
      lines.push(`  ${asks.padEnd(wide)}${styled(style, truth)}`);
    }
  }
  if (heads.length > 0) {
    lines.push('', styled('bold', 'heads'));
    const wide = Math.max(...heads.map(({ label }) => label.length)) + 2;
    for (const { label, performerLabel, why } of heads) {
      const on = performerLabel === null ? 'on nobody' : `on ${performerLabel}`;
      const style = performerLabel === null ? 'dim' : 'green';
      lines.push(`  ${label.padEnd(wide)}${styled(style, on.padEnd(16))}${why}`);
    }
  }
  if (attributes.length === 0) lines.push('', 'nothing touches any attribute.');
  for (const one of attributes) lines.push('', ...attributeLines(one, styled));
  return lines.join('\n');
}

function attributeLines(
  { label, attribute, unit, rows }: AttributeExplanation,
  styled: Styled,
): string[] {
  // Where the values have names, figures are in between, and a unit would say nothing.
  const isNamed = rows.some(({ valueName }) => valueName !== undefined);
  const head = `${label} ${attribute}${unit === 'none' || isNamed ? '' : `, ${unit}`}`;
  const wide = Math.max(...rows.map(({ who }) => who.length), head.length, 26) + 1;
  const columns = ['level', 'trust', 'asks', 'is'].map(column => column.padStart(8)).join('');
  const lines = [`${styled('bold', head.padEnd(wide + 2))}${styled('dim', columns)}`];
  for (const row of rows) lines.push(rowLine(row, wide, styled));
  return lines;
}

function rowLine(
  { who, level, trust, asks, value, asksName, valueName, won, why }: ExplanationRow,
  wide: number,
  styled: Styled,
): string {
  const cell = (number: number | null, name?: string) =>
    ` ${name ?? (number === null ? '' : Number(number.toFixed(2)))}`.padStart(8);
  const mark = won ? '>' : ' ';
  const text = `${mark} ${who.padEnd(wide)}${cell(level)}${cell(trust)}${cell(asks, asksName)}${cell(value, valueName)}  ${why}`;
  return won ? text : styled('dim', text);
}

function figure(value: number): string {
  return String(Number(value.toPrecision(3)));
}
