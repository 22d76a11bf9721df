import { LEAST_ENGINE_PERIODS } from '../../safety/options.js';
import type { Finding } from '../problems/problem.js';
import { universesOf } from '../resolve/universes.js';
import type { OutputFile, ShowFile } from '../schema/schema.js';

export const WIRE_RANGE = {
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
    findings.push(...checkAddresses(name, output));
    if (output.protocol === 'sacn' && output.addressPriority && output.priority === 0) {
      findings.push({
        code: 'bad-value',
        message: `output "${name}" has addressPriority, in which 0 means "not ours": its priority must be at least 1.`,
        path: ['outputs', name, 'addressPriority'],
      });
    }
    const conflict = findConflict(name, output, universes, senders);
    if (conflict !== undefined) {
      findings.push({
        code: 'universe-sent-twice',
        message: `output "${name}" sends ${output.protocol === 'sacn' ? 'sACN' : 'Art-Net'} universe ${conflict.universe}, as output "${conflict.other}" does: receivers would see two streams of one source. Use one output and list all its receivers in \`to\`.`,
        path,
      });
    }
  }
  findings.push(...checkRates(show));
  return findings;
}

/** The engine's frames come at the rate of the fastest output: it must not count as silent between two of them. */
function checkRates({ outputs, watchdog }: ShowFile): Finding[] {
  const { after } = watchdog.engineSilent;
  const [fastest] = Object.entries(outputs).sort(([, a], [, b]) => b.rate - a.rate);
  if (after === undefined || fastest === undefined) return [];
  const [name, { rate }] = fastest;
  const leastS = LEAST_ENGINE_PERIODS / rate;
  if (after >= leastS) return [];
  return [
    {
      code: 'engine-silent-too-short',
      message: `the engine counts as silent after ${after} s, but the fastest output, "${name}", has a frame every ${rounded(1 / rate)} s (\`outputs.${name}.rate: ${rate}\`): the light would never come up, or would keep going out. Write ${rounded(leastS)} or more, or a higher rate.`,
      path: ['watchdog', 'engineSilent', 'after'],
    },
  ];
}

function rounded(seconds: number): number {
  return Math.ceil(seconds * 1e3 - 1e-9) / 1e3;
}

/** Levels go to one receiver at a time, or to the group that E1.31 has for the universe. */
function checkAddresses(name: string, output: OutputFile): Finding[] {
  const findings: Finding[] = [];
  for (const [index, to] of (output.to === 'multicast' ? [] : output.to).entries()) {
    if (to === 'multicast') continue;
    const kind = kindOf(to);
    if (kind === undefined) continue;
    const right =
      output.protocol === 'sacn'
        ? 'sACN goes to `multicast`, or to the addresses of the receivers.'
        : 'Art-Net levels go to the addresses of nodes only (Art-Net 4); list them, or let `poll` find them.';
    findings.push({
      code: 'bad-value',
      message: `output "${name}" sends to ${to}, ${kind}; ${right}`,
      path: ['outputs', name, 'to', index],
    });
  }
  return findings;
}

/** Addresses that are no host on any network; only the mask says which address is a network's broadcast address. */
export function kindOf(address: string): string | undefined {
  const first = Number(address.split('.')[0]);
  if (address === '255.255.255.255') return 'everybody (broadcast)';
  if (first >= 224 && first < 240) return 'a multicast group';
  if (first === 0 || first >= 240) return 'no address of a host';
  return undefined;
}

function findConflict(
  name: string,
  output: OutputFile,
  universes: readonly number[],
  senders: Map<string, string>,
): { universe: number; other: string } | undefined {
  let conflict: { universe: number; other: string } | undefined;
  for (const universe of universes.map(u => u + output.offset)) {
    const key = `${output.protocol} ${universe}`;
    const other = senders.get(key);
    if (other !== undefined && other !== name) conflict ??= { universe, other };
    senders.set(key, name);
  }
  return conflict;
}
