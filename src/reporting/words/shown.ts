import { counted } from '../../engine/events/event-words.js';
import type { SafeAction } from '../causes/actions.js';
import { CAUSES } from '../causes/causes.js';
import type { LossGroup } from './loss-groups.js';
import { inWords } from './words.js';

/** The part of a long list that has room, and a summary of the rest: rare things are shown, common ones summed up. */
export interface Shown<T> {
  readonly shown: readonly T[];
  /** A line for each kind left out, the commonest first; empty if all is shown. */
  readonly rest: readonly string[];
}

/** A kind this rare is always shown. */
const RARE = 3;
/** Most kinds left out that have a line of their own. */
const MOST_KINDS = 6;

/**
 * Shows at least one of each kind, then what light depended on or somebody ordered, then what no light depended on, then
 * the steps of losses, which are in the list of losses too; in each group the rarest kind first.
 * @param labels labels of performers: the same thing that happened to two of them is one kind
 */
export function actionsShown(
  actions: readonly SafeAction[],
  labels: readonly string[],
  most: number,
): Shown<SafeAction> {
  if (actions.length <= most) return { shown: actions, rest: [] };
  const kinds = kindsOf(actions, labels);
  const kept = new Set<SafeAction>();
  const keep = (some: readonly SafeAction[]) => {
    for (const one of some) if (kept.size < most) kept.add(one);
  };
  for (const { all, weight } of kinds) {
    if (weight !== STEP) keep(all.slice(0, 1));
    else if (all.length <= RARE) keep(all);
  }
  for (const { all } of kinds) {
    keep(
      endsOf(
        all.filter(one => !kept.has(one)),
        most - kept.size,
      ),
    );
  }
  const shown = actions.filter(one => kept.has(one));
  return { shown, rest: restOf(kinds, kept, actions.length - shown.length) };
}

interface ActionKind {
  readonly all: SafeAction[];
  readonly weight: number;
}

const STEP = 2;

/** The kinds of actions, the weightiest first; of the same weight, the rarest first. */
function kindsOf(actions: readonly SafeAction[], labels: readonly string[]): ActionKind[] {
  const kinds = new Map<string, ActionKind>();
  const longest = [...labels].sort((a, b) => b.length - a.length);
  for (const one of actions) {
    const weight = one.routine === true ? STEP : one.minor === true ? 1 : 0;
    const key = `${weight} ${shapeOf(one.what, longest)}`;
    const kind = kinds.get(key);
    if (kind === undefined) kinds.set(key, { all: [one], weight });
    else kind.all.push(one);
  }
  return [...kinds.values()].sort((a, b) => a.weight - b.weight || a.all.length - b.all.length);
}

/** A line without names, figures and places. */
function shapeOf(what: string, labels: readonly string[]): string {
  return labels
    .reduce((text, label) => text.replaceAll(label, '*'), what)
    .replace(/\*(?:, \*)*(?: and \*)?/g, '*')
    .replace(/the position jumped to .*/, 'the position jumped')
    .replace(/\d+(?:[.:,]\d+)*/g, '#');
}

/** The first and the last of them. */
function endsOf<T>(all: readonly T[], room: number): readonly T[] {
  if (all.length <= room) return all;
  const half = Math.floor(room / 2);
  return [...all.slice(0, half), ...all.slice(all.length - (room - half))];
}

function restOf(kinds: readonly ActionKind[], kept: ReadonlySet<SafeAction>, count: number) {
  const left = kinds
    .map(({ all, weight }) => ({ weight, some: all.filter(one => !kept.has(one)) }))
    .filter(({ some }) => some.length > 0);
  const steps = left.filter(({ weight }) => weight === STEP).flatMap(({ some }) => some).length;
  const others = left
    .filter(({ weight }) => weight !== STEP)
    .sort((a, b) => b.some.length - a.some.length);
  const told = others.slice(0, MOST_KINDS);
  const untold = others.slice(MOST_KINDS).reduce((sum, { some }) => sum + some.length, 0);
  return [
    `and ${count} more; --json has them all:`,
    ...told.map(({ some }) => `  ${some.length} like "${some[0]?.what}"`),
    ...(untold > 0 ? [`  ${counted(untold, 'other')}`] : []),
    ...(steps > 0 ? [`  ${counted(steps, 'step')} of the losses above`] : []),
  ];
}

/** The longest losses, but at least one of each cause, in their order. @param groups the longest first */
export function lossesShown(groups: readonly LossGroup[], most: number): Shown<LossGroup> {
  if (groups.length <= most) return { shown: groups, rest: [] };
  const kept = new Set<LossGroup>();
  const firsts = groups.filter(
    (one, i) => groups.findIndex(other => other.cause === one.cause) === i,
  );
  for (const one of [...firsts, ...groups]) if (kept.size < most) kept.add(one);
  const left = groups.filter(one => !kept.has(one));
  const causes = [...new Set(left.map(({ cause }) => cause))]
    .map(cause => ({ cause, count: left.filter(one => one.cause === cause).length }))
    .sort((a, b) => b.count - a.count)
    .map(({ cause, count }) => `${inWords.times(count)} ${CAUSES[cause]}`);
  return {
    shown: groups.filter(one => kept.has(one)),
    rest: [`and ${left.length} others (${causes.join(', ')})`],
  };
}
