import type { Show } from '../../src/show/model/model.js';
import { parseShow } from '../../src/show/parse.js';

/**
 * A house with a lamp at each end of each universe (so that the last of one and the first of the next touch), and
 * in the middle of each a head that follows; one performer, one zone with all lamps.
 */
export function houseText(universes: number, interfaceAddress = '127.0.0.1', port = 9010): string {
  const each = Array.from({ length: universes }, (_, i) => i + 1);
  const lamps = each.flatMap(u => [`first-${u}`, `last-${u}`]);
  return `lampwright: 1
name: house of ${universes}
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: ${port}, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1] }
zones:
  everywhere: { polygon: [[0, 0], [10, 0], [10, 8], [0, 8]] }
fixtures:
${each
  .map(
    u => `  first-${u}: { profile: dimmer, universe: ${u}, address: 1, safe: { Dimmer: 20 } }
  head-${u}: { profile: moving-head, universe: ${u}, address: 101, position: [5, 4, 6], safe: { Dimmer: 0 } }
  last-${u}: { profile: dimmer, universe: ${u}, address: 512, safe: { Dimmer: 20 } }`,
  )
  .join('\n')}
mappings:
  - { zone: everywhere, fixtures: [${lamps.join(', ')}], set: { Dimmer: 90 } }
  - { follow: ines, fixtures: [${each.map(u => `head-${u}`).join(', ')}], set: { Dimmer: 80 } }
outputs:
  stage: { protocol: sacn, interface: ${interfaceAddress}, to: [${interfaceAddress}], universes: ["1-${universes}"] }
`;
}

export function houseOf(universes: number): Show {
  const parsed = parseShow(houseText(universes), 'house.show.yaml');
  if (!parsed.ok) throw new Error(parsed.problems.map(({ message }) => message).join('\n'));
  return parsed.show;
}
