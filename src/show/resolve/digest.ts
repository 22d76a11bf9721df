import { createHash } from 'node:crypto';
import type { ShowFile } from '../schema/schema.js';

/** What each machine of a pair may have for itself: where it listens, by what it sends, and whom it hears. */
const OF_MACHINE: ReadonlySet<string> = new Set(['listen', 'interface', 'allow', 'to']);

/**
 * Two machines whose shows have the same digest make the same light of the same positions: 16 hexadecimal digits of the
 * file, profiles included, without comments, and without what each machine may have for itself.
 */
export function digestOf(file: ShowFile): string {
  const { inputs, outputs, desk, receivers, operator, ...rest } = file;
  const shared = {
    ...rest,
    inputs: ofBoth(inputs),
    outputs: ofBoth(outputs),
    desk: ofBoth(desk),
    receivers: ofBoth(receivers),
    operator: operator && { desk: operator.desk, enableTimeout: operator.enableTimeout },
  };
  return createHash('sha256').update(JSON.stringify(shared)).digest('hex').slice(0, 16);
}

function ofBoth(all: Readonly<Record<string, object>>): unknown {
  return Object.entries(all).map(([name, one]) => [
    name,
    Object.entries(one).filter(([key]) => !OF_MACHINE.has(key)),
  ]);
}
