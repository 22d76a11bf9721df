/** A head that follows, one that zones aim, and one with Zoom; the audience in front, a camera at the side. */
export const KEPT = `
lampwright: 1
name: Kept out
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0.5 }
  apron: { polygon: [[1, 0], [9, 0], [9, 2], [1, 2]], feather: 0.5 }
keepOut:
  audience: { polygon: [[-3, -9], [13, -9], [13, -0.5], [-3, -0.5]], height: [-1, 1.4] }
  camera: { point: [9.5, 3, 1.5], radius: 0.5 }
profiles:
  spot:
    optics: { fieldAngle: 12 }
    motion: { pan: { speed: 160, acceleration: 400 }, tilt: { speed: 120, acceleration: 400 } }
    channels:
      - { attribute: Pan, bits: 16, range: [-270, 270] }
      - { attribute: Tilt, bits: 16, range: [-135, 135] }
      - { attribute: Dimmer, bits: 16 }
  wash:
    channels:
      - { attribute: Pan, bits: 16, range: [-270, 270] }
      - { attribute: Tilt, bits: 16, range: [-135, 135] }
      - { attribute: Zoom, bits: 16, range: [8, 40] }
      - { attribute: ColorAdd_R, default: 100 }
      - { attribute: ColorAdd_G, default: 100 }
      - { attribute: ColorAdd_B, default: 100 }
fixtures:
  back: { profile: spot, universe: 1, address: 1, position: [5, 8, 5], lag: 0.1, safe: { aim: [5, 4, 0], Dimmer: 20 } }
  side: { profile: wash, universe: 1, address: 21, position: [0, 4, 4], base: { Zoom: 12 }, safe: { aim: [4, 6, 0], Zoom: 10, Dimmer: 30 } }
  zoned: { profile: spot, universe: 1, address: 41, position: [5, 7, 5], base: { aim: [5, 5, 0], Dimmer: 25 }, safe: { aim: [5, 5, 0] } }
mappings:
  - { follow: ines, fixtures: [back], set: { Dimmer: 80 }, fade: { in: 0.3, out: 0.5 } }
  - { follow: tobias, fixtures: [side], set: { Dimmer: 70 }, beam: { diameter: 1.6 }, fade: { in: 0.3, out: 0.5 } }
  - { zone: stove, fixtures: [zoned], set: { Dimmer: 70, Pan: 40, Tilt: 30 } }
  - { zone: apron, fixtures: [zoned], set: { Dimmer: 60, Pan: 180, Tilt: 64 } }
watchdog:
  trackerSilent: { after: 0.3, fade: 0.6 }
  feedSilent: { after: 0.4, fade: 0.5 }
  rearm: 0.3
  return: 0.4
  move: 0.3
  turn: 0.3
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
