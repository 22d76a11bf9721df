import type { Finding } from '../problem.js';
import type { OutputFile, ShowFile } from '../schema.js';
import { universesOf } from '../universes.js';

const WIRE_RANGE = {
  /** E1.31 9.1.1 */
  sacn: [1, 63999],
  /** Art-Net 4: a Port-Address has 15 bits */
  artnet: [0, 32767],
} as const satisfies Record<OutputFile['protocol'], readonly [number, number]>;

/** Universes on the wire. */
export function checkOutputs(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  const senders = new Map<string, string>();
  for (const [name, output] of Object.entries(show.outputs)) {
    const path = ['outputs', name, 'universes'];
    const universes = universesOf(output);
    if (universes === undefined) {
      findings.push({
        code: 'universe-range',
        message: `a range of universes of output "${name}" is reversed or has more than 2048 of them; write "first-last".`,
        path,
      });
      continue;
    }
    const [low, high] = WIRE_RANGE[output.protocol];
    const outside = universes.map(u => u + output.offset).find(u => u < low || u > high);
    if (outside !== undefined) {
      const protocol = output.protocol === 'sacn' ? 'sACN' : 'Art-Net';
      findings.push({
        code: 'universe-range',
        message: `output "${name}" would send universe ${outside}; ${protocol} has ${low} to ${high}.`,
        path,
      });
    }
    const conflict = findConflict(name, output, universes, senders);
    if (conflict !== undefined) {
      findings.push({
        code: 'universe-sent-twice',
        message: `output "${name}" sends universe ${conflict.universe} to ${conflict.to}, as output "${conflict.other}" does; two sources on one universe fight.`,
        path,
      });
    }
  }
  return findings;
}

function findConflict(
  name: string,
  output: OutputFile,
  universes: readonly number[],
  senders: Map<string, string>,
): { universe: number; to: string; other: string } | undefined {
  let conflict: { universe: number; to: string; other: string } | undefined;
  for (const universe of universes.map(u => u + output.offset)) {
    for (const to of output.to === 'multicast' ? ['multicast'] : output.to) {
      // By multicast the interface decides who hears it.
      const receiver = to === 'multicast' ? `multicast on ${output.interface}` : to;
      const key = `${output.protocol} ${universe} ${receiver}`;
      const other = senders.get(key);
      if (other !== undefined && other !== name) conflict ??= { universe, to: receiver, other };
      senders.set(key, name);
    }
  }
  return conflict;
}
