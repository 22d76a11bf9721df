import type { ShowFile } from '../schema/schema.js';
import type { ConditionPartFile, SignalFile } from '../schema/signals.js';

/** A signal or a condition, by its name. */
export interface Link {
  readonly block: 'signals' | 'conditions';
  readonly name: string;
}

/** How signals and conditions depend on each other. */
export interface Chains {
  /** All of them, each after what it depends on, unless a circle has no such order. */
  readonly order: readonly Link[];
  /** Each circle once: the way round, with its first link at both ends. */
  readonly circles: readonly (readonly Link[])[];
  /** Depth of each, counting itself; in the order of `order`. */
  readonly depths: readonly number[];
}

/** Follows the chains without recursion: a file may have one of ten thousand. */
export function chainsOf(show: ShowFile): Chains {
  const order: Link[] = [];
  const depths: number[] = [];
  const circles: Link[][] = [];
  const depthOf = new Map<string, number>();
  /** The way to where it is now, and for each on it where it stands there. */
  const way: { link: Link; parts: readonly Link[]; next: number; depth: number }[] = [];
  const onWay = new Map<string, number>();
  const enter = (link: Link) => {
    onWay.set(keyOf(link), way.length);
    way.push({ link, parts: partsOf(show, link), next: 0, depth: 1 });
  };
  for (const block of ['signals', 'conditions'] as const) {
    for (const name of Object.keys(show[block])) {
      if (!depthOf.has(keyOf({ block, name }))) enter({ block, name });
      for (let last = way.at(-1); last !== undefined; last = way.at(-1)) {
        const part = last.parts[last.next++];
        if (part === undefined) {
          const key = keyOf(last.link);
          way.pop();
          onWay.delete(key);
          depthOf.set(key, last.depth);
          order.push(last.link);
          depths.push(last.depth);
          const above = way.at(-1);
          if (above !== undefined) above.depth = Math.max(above.depth, last.depth + 1);
          continue;
        }
        const key = keyOf(part);
        const known = depthOf.get(key);
        const at = onWay.get(key);
        if (known !== undefined) last.depth = Math.max(last.depth, known + 1);
        else if (at !== undefined) circles.push([...way.slice(at).map(one => one.link), part]);
        else enter(part);
      }
    }
  }
  return { order, circles, depths };
}

function keyOf({ block, name }: Link): string {
  return `${block}.${name}`;
}

function partsOf(show: ShowFile, { block, name }: Link): readonly Link[] {
  if (!Object.hasOwn(show[block], name)) return [];
  if (block === 'conditions') return partsOfCondition(show.conditions[name]);
  const signal = show.signals[name] as SignalFile;
  if ('time' in signal) return [{ block: 'conditions', name: signal.time }];
  return operandsOf(signal).flatMap(one =>
    typeof one === 'string' ? [{ block: 'signals' as const, name: one }] : [],
  );
}

function partsOfCondition(part: ConditionPartFile | undefined): readonly Link[] {
  if (part === undefined) return [];
  if (typeof part === 'string') return [{ block: 'conditions', name: part }];
  if ('signal' in part) return [{ block: 'signals', name: part.signal }];
  if ('not' in part) return partsOfCondition(part.not);
  if ('all' in part) return part.all.flatMap(partsOfCondition);
  return 'any' in part ? part.any.flatMap(partsOfCondition) : [];
}

/** The signals and numbers of which an arithmetic one is made. */
export function operandsOf(signal: SignalFile): readonly (string | number)[] {
  if ('product' in signal) return signal.product;
  if ('sum' in signal) return signal.sum;
  if ('least' in signal) return signal.least;
  if ('greatest' in signal) return signal.greatest;
  return 'inverse' in signal ? [signal.inverse] : [];
}
