import { readFileSync } from 'node:fs';

/** Two performers: one lights a lamp alone, both light another, and one has a head. */
export const PAIR = `lampwright: 1
name: A pair
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { label: Ines, trackers: [1] }
  tobias: { label: Tobias, trackers: [2] }
zones:
  stove: { circle: { centre: [2, 2], radius: 1 } }
  lantern: { circle: { centre: [7, 5], radius: 1 } }
fixtures:
  stove: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 } }
  both: { profile: dimmer, universe: 1, address: 2, safe: { Dimmer: 10 } }
  head: { profile: moving-head, universe: 1, address: 11, position: [5, 1, 5], safe: { aim: [5, 4, 0], Dimmer: 0 } }
mappings:
  - { zone: stove, performers: [ines], fixtures: [stove], set: { Dimmer: 100 } }
  - { zone: lantern, fixtures: [both], set: { Dimmer: 80 } }
  - { follow: tobias, fixtures: [head], set: { Dimmer: 70 } }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;

export function changed(from: string, to: string, base = PAIR): string {
  if (!base.includes(from)) throw new Error(`not in the show: ${from}`);
  return base.replace(from, () => to);
}

export function example(name: string): string {
  return readFileSync(`config/${name}.show.yaml`, 'utf8');
}
