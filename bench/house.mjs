// A large house, made up for measuring: performers on circles, heads that follow them, dimmers by zone.

/** A small company: what most shows are. */
export const COMPANY = { performers: 3, reportHz: 50, fixtures: 12, universes: 1, outputHz: 40 };
export const HOUSE = { performers: 100, reportHz: 50, fixtures: 500, universes: 64, outputHz: 40 };
export const OSC_PORT = 19010;
/** Loopback addresses of the measurement's own: nobody listens at the first, the probe's receiver at the second. */
export const SINK = '127.0.0.78';
export const PROBE = '127.0.0.77';
/** The universe in the middle of the order of sending. */
export const probeUniverse = house => Math.ceil(house.universes / 2);

export function houseShow(house = HOUSE) {
  const names = count => Array.from({ length: count }, (_, i) => i + 1);
  const perUniverse = Math.ceil(house.fixtures / house.universes);
  const heads = house.fixtures - house.performers;
  const fixtures = names(house.fixtures).map((n, i) => {
    const patch = `universe: ${Math.floor(i / perUniverse) + 1}, address: ${(i % perUniverse) * 16 + 1}`;
    return i < heads
      ? `  head-${n}: { profile: moving-head, ${patch}, position: [${i % 30}, ${(i * 7) % 20}, 8], safe: { Dimmer: 0 } }`
      : `  lamp-${n}: { profile: dimmer, ${patch}, safe: { Dimmer: 20 } }`;
  });
  const zones = names(Math.min(20, house.performers)).map(
    (n, i) =>
      `  zone-${n}: { circle: { centre: [${3 + (i % 5) * 6}, ${2.5 + Math.floor(i / 5) * 5}], radius: 2 } }`,
  );
  const follows = names(house.performers).map((n, p) => {
    const mine = names(heads).filter((_, i) => i % house.performers === p);
    return `  - { follow: p${n}, fixtures: [${mine.map(h => `head-${h}`).join(', ')}], set: { Dimmer: 80 } }`;
  });
  const zoned = names(Math.min(20, house.performers)).map((n, i) => {
    const mine = names(house.performers).filter((_, k) => k % Math.min(20, house.performers) === i);
    const lamps = mine.map(k => `lamp-${heads + k}`).join(', ');
    return `  - { zone: zone-${n}, fixtures: [${lamps}], set: { Dimmer: 90 } }`;
  });
  const common = `protocol: sacn, interface: 127.0.0.1, rate: ${house.outputHz}`;
  const probe = probeUniverse(house);
  const outputs = [
    ['before', SINK, 1, probe - 1],
    ['probe', PROBE, probe, probe],
    ['after', SINK, probe + 1, house.universes],
  ]
    .filter(([, , from, to]) => from <= to)
    .map(
      ([name, to, first, last]) =>
        `  ${name}: { ${common}, to: [${to}], universes: ["${first}-${last}"] }`,
    );
  return `lampwright: 1
name: large house
stage: { x: [0, 30], y: [0, 20] }
inputs:
  tracking: { port: ${OSC_PORT}, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
${names(house.performers)
  .map(n => `  p${n}: { trackers: [${n}] }`)
  .join('\n')}
zones:
${zones.join('\n')}
fixtures:
${fixtures.join('\n')}
mappings:
${follows.join('\n')}
${zoned.join('\n')}
outputs:
${outputs.join('\n')}
`;
}
