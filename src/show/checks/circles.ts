import type { Finding } from '../problem.js';
import type { ShowFile } from '../schema.js';
import type { ConditionPartFile } from '../schema-signals.js';
import { operandsOf } from '../signal-figures.js';

type Node = `${'signals' | 'conditions'}.${string}`;

/** Signals and conditions that are made of themselves: each circle once, with its way round. */
export function checkCircles(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  const done = new Set<Node>();
  const way: Node[] = [];
  const visit = (node: Node): void => {
    const at = way.indexOf(node);
    if (at >= 0) {
      const circle = [...way.slice(at), node];
      const path = node.split('.');
      const names = circle.map(one => one.slice(one.indexOf('.') + 1));
      findings.push({
        code: 'signal-circle',
        message: `${node.startsWith('signals') ? 'signal' : 'condition'} "${names[0]}" is made of itself: ${names.join(' <- ')}.`,
        path,
        atKey: true,
      });
      return;
    }
    if (done.has(node)) return;
    way.push(node);
    for (const next of partsOf(show, node)) visit(next);
    way.pop();
    done.add(node);
  };
  for (const name of Object.keys(show.signals)) visit(`signals.${name}`);
  for (const name of Object.keys(show.conditions)) visit(`conditions.${name}`);
  return findings;
}

function partsOf(show: ShowFile, node: Node): Node[] {
  const [block, name] = [node.slice(0, node.indexOf('.')), node.slice(node.indexOf('.') + 1)];
  if (block === 'conditions') {
    return Object.hasOwn(show.conditions, name) ? partsOfCondition(show.conditions[name]) : [];
  }
  const signal = Object.hasOwn(show.signals, name) ? show.signals[name] : undefined;
  if (signal === undefined) return [];
  if ('time' in signal) return [`conditions.${signal.time}`];
  return operandsOf(signal).flatMap((one): Node[] =>
    typeof one === 'string' ? [`signals.${one}`] : [],
  );
}

function partsOfCondition(part: ConditionPartFile | undefined): Node[] {
  if (part === undefined) return [];
  if (typeof part === 'string') return [`conditions.${part}`];
  if ('signal' in part) return [`signals.${part.signal}`];
  if ('not' in part) return partsOfCondition(part.not);
  if ('all' in part) return part.all.flatMap(partsOfCondition);
  return 'any' in part ? part.any.flatMap(partsOfCondition) : [];
}
