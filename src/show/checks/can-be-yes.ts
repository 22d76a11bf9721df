import { chainsOf } from '../resolve/chains.js';
import type { ShowFile } from '../schema/schema.js';
import type { ConditionPartFile } from '../schema/signals.js';

/** With more parts than this it is not checked whether they can be yes together: 2^n cases. */
const MOST_PARTS = 12;

/** What a condition is for each case of its parts; bit i of a case is the answer of part i. */
interface Table {
  readonly parts: readonly string[];
  readonly yes: Uint8Array;
}

/** Whether some answers of its parts make a condition yes, each part taken by itself. */
export class Answers {
  readonly #named = new Map<string, Table | undefined>();

  constructor(show: ShowFile) {
    // Each once, after the parts it is made of: conditions that use another one twice would double the work at every step.
    for (const { block, name } of chainsOf(show).order) {
      if (block === 'signals' || !Object.hasOwn(show.conditions, name)) continue;
      const condition = show.conditions[name];
      if (condition !== undefined) this.#named.set(name, this.#tableOf(condition));
    }
  }

  canBeYes(condition: ConditionPartFile): boolean {
    return this.#tableOf(condition)?.yes.includes(1) ?? true;
  }

  /** @returns undefined if unknown: a name that doesn't exist, a circle, or too many parts */
  #tableOf(condition: ConditionPartFile): Table | undefined {
    if (typeof condition === 'string') return this.#named.get(condition);
    // A condition with `hold` or `for` may be yes when its parts no longer are.
    if (condition.for > 0 || condition.hold > 0 || 'signal' in condition || 'in' in condition) {
      return { parts: [JSON.stringify(condition)], yes: Uint8Array.of(0, 1) };
    }
    const of: readonly ConditionPartFile[] =
      'not' in condition ? [condition.not] : 'all' in condition ? condition.all : condition.any;
    const tables: Table[] = [];
    for (const one of of) {
      const table = this.#tableOf(one);
      if (table === undefined) return undefined;
      tables.push(table);
    }
    const parts = [...new Set(tables.flatMap(table => table.parts))];
    if (parts.length > MOST_PARTS) return undefined;
    const whereTheirs = tables.map(table => table.parts.map(part => parts.indexOf(part)));
    const yes = new Uint8Array(2 ** parts.length);
    for (let mask = 0; mask < yes.length; mask++) {
      const answers = tables.map(
        (table, i) => table.yes[caseOf(mask, whereTheirs[i] as readonly number[])] === 1,
      );
      const is =
        'not' in condition
          ? answers[0] === false
          : 'all' in condition
            ? answers.every(one => one)
            : answers.some(one => one);
      yes[mask] = is ? 1 : 0;
    }
    return { parts, yes };
  }
}

/** The case of some of the parts in a case of all of them. */
function caseOf(mask: number, theirs: readonly number[]): number {
  let of = 0;
  for (let i = 0; i < theirs.length; i++) of |= ((mask >> (theirs[i] as number)) & 1) << i;
  return of;
}
