/** Two performers, practicals of several kinds, a head that follows and one that a zone drives. */
export const HOUSE = `
lampwright: 1
name: Test house
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs:
  tracking:
    port: 9010
    routes: [{ address: "/tracker/{tracker}/position" }]
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0.5 }
  window: { polygon: [[7, 6], [9.5, 6], [9.5, 7.8], [7, 7.8]], feather: 0.5 }
profiles:
  spot:
    channels:
      - { attribute: Pan, bits: 16, range: [-270, 270] }
      - { attribute: Tilt, bits: 16, range: [-135, 135] }
      - { attribute: Dimmer, bits: 16 }
      - { attribute: ColorAdd_R, default: 100 }
  backwards: { channels: [{ attribute: Dimmer, range: [100, 0] }] }
fixtures:
  stove-glow: { profile: dimmer, universe: 1, address: 1, base: { Dimmer: 8 }, safe: { Dimmer: 20 } }
  window-wash: { profile: rgb, universe: 1, address: 11, base: { ColorAdd_R: 100 }, safe: { Dimmer: 30 } }
  window-inverse: { profile: backwards, universe: 1, address: 20, safe: { Dimmer: 10 }, fade: 1 }
  head: { profile: spot, universe: 2, address: 1, position: [5, 1, 5], safe: { aim: [5, 4, 0] } }
  lit-head: { profile: spot, universe: 2, address: 21, position: [8, 1, 5], safe: { aim: [5, 4, 0], Dimmer: 40 } }
  zone-head: { profile: spot, universe: 2, address: 41, position: [2, 1, 5], base: { aim: [5, 4, 0] } }
mappings:
  - { zone: stove, fixtures: [stove-glow], set: { Dimmer: 85 }, fade: { in: 0.5, out: 1 } }
  - { zone: stove, performers: [ines], fixtures: [window-wash], set: { Dimmer: 60, ColorAdd_R: 100, ColorAdd_B: 0 } }
  - { zone: window, performers: [tobias], fixtures: [window-wash, window-inverse], set: { Dimmer: 90 } }
  - { zone: stove, fixtures: [zone-head], set: { Dimmer: 70, Pan: 60, Tilt: 30 } }
  - { zone: window, fixtures: [zone-head], set: { Dimmer: 50, Pan: -60, Tilt: 40 } }
  - { follow: ines, fixtures: [head], set: { Dimmer: 75, ColorAdd_R: 50 }, fade: { in: 1, out: 1.5 } }
  - { follow: tobias, fixtures: [lit-head], set: { Dimmer: 60 }, fade: { in: 1, out: 1.5 } }
  - { zone: window, performers: [tobias], fixtures: [head], set: { Dimmer: 90, ColorAdd_R: 0 } }
watchdog:
  trackerSilent: { after: 0.5, fade: 2 }
  feedSilent: { after: 0.75, fade: 2 }
  rearm: 1
  return: 1.5
  move: 1
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1, 2] }
`;

/** Ines alone, one practical and one head. */
export const SOLO = `
lampwright: 1
name: Solo
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs:
  tracking:
    port: 9010
    routes: [{ address: "/tracker/{tracker}/position" }]
performers:
  ines: { trackers: [1] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0.5 }
fixtures:
  stove-glow: { profile: dimmer, universe: 1, address: 1, base: { Dimmer: 8 }, safe: { Dimmer: 20 } }
  head: { profile: moving-head, universe: 1, address: 11, position: [5, 1, 5], safe: { aim: [5, 4, 0] } }
mappings:
  - { zone: stove, fixtures: [stove-glow], set: { Dimmer: 85 }, fade: { in: 0.5, out: 1 } }
  - { follow: ines, fixtures: [head], set: { Dimmer: 75 }, fade: { in: 1, out: 1.5 } }
watchdog:
  trackerSilent: { after: 0.5, fade: 2 }
  feedSilent: { after: 5, fade: 2 }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
