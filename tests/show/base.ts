import { readFileSync } from 'node:fs';

/** A good show of one lamp: the smallest that there is. */
export const MINIMAL = `lampwright: 1
name: One lamp
stage: { x: [0, 6], y: [0, 4] }
inputs:
  tracking:
    port: 9010
    routes: [{ address: "/tracker/{tracker}/position" }]
performers:
  ines: { trackers: [1] }
zones:
  stove: { circle: { centre: [2, 3], radius: 0.8 } }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1 }
  head: { profile: moving-head, universe: 1, address: 11, position: [3, 1, 5] }
mappings:
  - zone: stove
    fixtures: [glow]
    set: { Dimmer: 100 }
  - follow: ines
    fixtures: [head]
    set: { Dimmer: 80 }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;

/** The good show with one thing changed. */
export function changed(from: string, to: string, base = MINIMAL): string {
  const at = base.indexOf(from);
  if (at < 0 || base.indexOf(from, at + 1) >= 0) throw new Error(`not once in the show: ${from}`);
  return base.replace(from, () => to);
}

export function configShow(name: string): string {
  return readFileSync(new URL(`../../config/${name}.show.yaml`, import.meta.url), 'utf8');
}
