import type { OperatorAction } from '../../src/engine/values/operator-action.js';
import { showOf } from '../show/show-of.js';
import { type Place, position, type Rig } from './harness.js';

/** What a show may have besides, so that nothing else stands at the same place in any list. */
const SPARE = {
  performers: '  ghost: { trackers: [90] }\n',
  zones: '  attic: { circle: { centre: [9.4, 0.6], radius: 0.3 } }\n',
  exits: '  hatch: { polygon: [[-9, -9], [-8, -9], [-8, -8], [-9, -8]] }\n',
  keepOut: '  chandelier: { point: [80, 80, 90], radius: 0.2 }\n',
  signals: '  idle: { wave: { period: 3600 } }\n  unused: { inverse: idle }\n',
  conditions: '  never: { signal: idle, on: 0.99 }\n',
  mappings:
    '  - { name: spare, zone: attic, performers: [ghost], fixtures: [spare-lamp], set: { Dimmer: 10 } }\n  - { name: unlit, when: never, fixtures: [spare-lamp], set: { Dimmer: 10 } }\n',
  cues: '  preset: { mappings: [spare] }\n',
} as const;

/**
 * One show with nearly everything: four people; lamps by zones, signals of all kinds, conditions and masters; a wheel;
 * heads that follow one, the middle, the nearest, the first and by shares; cues, exits, a keep-out, haze and the desk.
 * @param renumbered the same, but for things that nothing needs before all others, and the lamps the other way round
 */
export function richHouse(renumbered = false): string {
  const spare = (key: keyof typeof SPARE) => (renumbered ? SPARE[key] : '');
  const lamps = [
    'glow: { profile: dimmer, universe: 1, address: 1, base: { Dimmer: 8 }, safe: { Dimmer: 20 } }',
    'wash: { profile: rgb, universe: 1, address: 11, base: { ColorAdd_R: 100 }, safe: { Dimmer: 30 } }',
    'wheel: { profile: wheel, universe: 1, address: 21, base: { Dimmer: 30, Color1: 2 }, safe: { Dimmer: 10, Color1: 1 } }',
    'sea: { profile: dimmer, universe: 1, address: 31, position: [1, 1, 1], safe: { Dimmer: 40 } }',
    'lantern: { profile: dimmer, universe: 1, address: 32, position: [5, 4, 1], safe: { Dimmer: 15 } }',
    'row: { profile: dimmer, universe: 1, address: 33, position: [9, 4, 1], fade: 0.4 }',
    'ground: { profile: dimmer, universe: 1, address: 34, safe: { Dimmer: 5 }, ground: safe }',
    'haze: { profile: hazer, universe: 1, address: 41, base: { Haze1: 12 }, safe: { Haze1: 0 } }',
    'spare-lamp: { profile: dimmer, universe: 1, address: 51 }',
  ];
  const heads = [
    'pin: { profile: spot, universe: 2, address: 1, position: [5, 1, 5], safe: { aim: [5, 4, 0], Dimmer: 20 } }',
    'near: { profile: spot, universe: 2, address: 21, position: [8, 1, 5], safe: { aim: [5, 4, 0] }, lag: 0.2 }',
    'early: { profile: spot, universe: 2, address: 41, position: [2, 1, 5], safe: { aim: [5, 4, 0] } }',
    'left: { profile: spot, universe: 2, address: 61, position: [1, -2, 6], safe: { aim: [5, 4, 0] } }',
    'mid: { profile: spot, universe: 2, address: 81, position: [5, -2, 6], safe: { aim: [5, 4, 0] } }',
    'right: { profile: spot, universe: 2, address: 101, position: [9, -2, 6], safe: { aim: [5, 4, 0] } }',
    'window: { profile: spot, universe: 2, address: 121, position: [8, 7, 5], base: { aim: [8, 6, 0], Dimmer: 50 }, safe: { aim: [8, 6, 0], Dimmer: 40 } }',
  ];
  const fixtures = renumbered ? [...heads, ...lamps.reverse()] : [...lamps, ...heads];
  return `
lampwright: 1
name: Rich house
reload: 0
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position", arguments: [x, y, z, quality?] }] } }
operator: { port: 9011 }
receivers: { sound: { address: 127.0.0.1, port: 9030 } }
performers:
${spare('performers')}  ines: { trackers: [1, 5] }
  tobias: { trackers: [2] }
  gull: { trackers: [3] }
  mara: { trackers: [4] }
spares: [7]
groups: { company: [ines, tobias, gull], all-four: [ines, tobias, gull, mara] }
zones:
${spare('zones')}  stove: { circle: { centre: [2, 6], radius: 1.4 }, feather: 0.6 }
  seat: { polygon: [[7, 6], [9.5, 6], [9.5, 7.8], [7, 7.8]], feather: 0.5 }
  table: { circle: { centre: [5, 4], radius: 1.5 }, feather: 0.4 }
exits:
${spare('exits')}  wing: { polygon: [[-2, 0], [0.4, 0], [0.4, 8], [-2, 8]] }
keepOut:
${spare('keepOut')}  house: { polygon: [[-3, -9], [13, -9], [13, -3], [-3, -3]], height: [0, 2.2] }
  camera: { point: [9.8, 2, 1.5], radius: 0.4 }
profiles:
  spot:
    optics: { beamAngle: 16, fieldAngle: 20 }
    channels: [{ attribute: Pan, bits: 16, range: [-270, 270] }, { attribute: Tilt, bits: 16, range: [-135, 135] }, { attribute: Dimmer, bits: 16 }, { attribute: ColorAdd_R, default: 100 }, { attribute: Zoom, range: [6, 40], default: 12 }]
  wheel: { channels: [{ attribute: Dimmer }, { attribute: Color1, range: [0, 10], values: { open: 0, amber: 2, blue: 6 } }] }
  hazer: { hazard: atmospheric, channels: [{ attribute: Haze1 }] }
fixtures:
  ${fixtures.join('\n  ')}
signals:
${spare('signals')}  fader: { slot: [control, 1] }
  sound: { osc: { address: /sound/level }, range: [0, 1] }
  swell: { wave: { period: 3 } }
  beside: { distance: [ines, tobias], range: [5, 1], attack: 0.3, release: 1 }
  to-table: { distance: [gull, table], range: [3, 0] }
  to-lamp: { distance: [mara, lantern], range: [4, 1], curve: smooth }
  line: { along: { of: gull, line: [[0, 0], [10, 8]] }, range: [0, 12] }
  side: { across: { of: ines, zone: table, direction: 30 } }
  tall: { height: [ines, mara], range: [1, 2] }
  pace: { speed: company, range: [0, 2] }
  way: { heading: { of: tobias, towards: seat }, range: [180, 0] }
  for-long: { time: met, range: [0, 4] }
  crowd: { count: { zone: table, of: company }, range: [0, 3] }
  at-seat: { presence: { zone: seat, of: [tobias, mara] } }
  sum-of: { sum: [side, 0.2] }
  both-of: { product: [at-seat, swell] }
  lesser: { least: [line, pace, 0.8] }
  more: { greatest: [lesser, both-of] }
  away: { inverse: to-lamp }
conditions:
${spare('conditions')}  met: { signal: beside, on: 0.6, off: 0.3, hold: 0.5 }
  seated: { in: seat, of: tobias }
  either: { any: [met, seated] }
  quiet: { not: either }
  apart: { not: met }
  full: { all: [quiet, { signal: crowd, on: 0.5 }] }
mappings:
${spare('mappings')}  - { name: glow, zone: stove, performers: [all-four], fixtures: [glow], set: { Dimmer: 85 }, fade: { in: 0.5, out: 1 } }
  - { name: warm, zone: stove, performers: [ines], fixtures: [wash, wheel], set: { Dimmer: 60 }, fade: { in: 0.4, out: 0.4 } }
  - { name: cool, zone: seat, performers: [tobias, mara], fixtures: [wash], set: { Dimmer: 90, ColorAdd_R: 0, ColorAdd_B: 100 } }
  - { name: turned, when: either, fixtures: [wheel], set: { Dimmer: 80, Color1: 6 }, fade: { in: 0.3, out: 0.6 } }
  - { name: sea, by: swell, fixtures: [sea], from: { Dimmer: 12 }, set: { Dimmer: 35 }, fade: { in: 0, out: 0 }, always: true }
  - { name: wick, by: to-lamp, when: quiet, fixtures: [lantern], set: { Dimmer: 90 } }
  - { name: crowd, by: more, master: fader, fixtures: [row, sea], set: { Dimmer: 70 }, mix: add, fade: { in: 0.2, out: 0.5 } }
  - { name: dim, by: sum-of, fixtures: [row], set: { Dimmer: 60 }, mix: scale, priority: 2 }
  - { name: loud, by: sound, when: full, fixtures: [lantern], set: { Dimmer: 70 } }
  - { name: long, by: for-long, fixtures: [ground], set: { Dimmer: 100 } }
  - { name: tall, by: tall, fixtures: [ground], set: { Dimmer: 50 } }
  - { name: way, by: way, fixtures: [glow], set: { Dimmer: 40 }, fade: { in: 0, out: 0 } }
  - { name: far, by: away, fixtures: [wheel], set: { Dimmer: 45 } }
  - { name: towards, by: to-table, fixtures: [glow], set: { Dimmer: 30 } }
  - { name: on-ines, follow: ines, fixtures: [pin], set: { Dimmer: 75, ColorAdd_R: 50 }, fade: { in: 0.5, out: 1 } }
  - { name: on-tobias, follow: tobias, when: apart, fixtures: [pin], set: { Dimmer: 50 }, fade: { in: 0.5, out: 1 } }
  - { name: on-two, follow: { middle: [gull, mara] }, fixtures: [early], beam: { diameter: 2, cover: 4 }, set: { Dimmer: 60 } }
  - { name: on-first, follow: { first: company, in: table }, fixtures: [early], set: { Dimmer: 70 } }
  - { name: nearest, follow: { nearest: all-four, to: [5, 4, 0], hold: 0.5 }, master: fader, fixtures: [near], set: { Dimmer: 55 } }
  - { name: shared, follow: { share: all-four, hold: 0.5, change: cross }, fixtures: [left, mid, right], set: { Dimmer: 80 } }
  - { name: trio, follow: { share: company, hold: 0.3 }, fixtures: [left, mid, right], set: { Dimmer: 45 } }
  - { name: move, zone: table, performers: [all-four], fixtures: [window], set: { Dimmer: 70, Pan: 60, Tilt: 30 } }
masters: [{ fixtures: [lantern, wash], by: fader }]
cues:
${spare('cues')}  evening: { mappings: [glow, warm, cool, wick, long, on-ines, on-first, nearest, shared, move] }
  storm: { mappings: [glow: 50, turned, crowd, dim, loud, tall, on-tobias, on-two, trio, move], base: { glow: { Dimmer: 0 }, window: { aim: [2, 6, 0] } }, safe: { glow: { Dimmer: 40 }, window: { aim: [5, 6, 0] } }, fade: 2 }
  dawn: { mappings: [way, far, towards, on-tobias, shared: 60, nearest], base: { wash: { Dimmer: 30 }, early: { Dimmer: 0 } }, fade: 3, fire: full }
  night: { base: { window: { Dimmer: 0 } }, fade: 1 }
actions:
  - { condition: met, send: sound, address: /met, arguments: [1] }
  - { condition: met, on: leave, send: sound, address: /parted }
  - { cue: storm, send: sound, address: /storm }
desk: { control: { protocol: sacn, universe: 201, interface: eth1, ground: 1, fade: 0.5 } }
orders: [{ slot: [control, 101], stop: [gull], held: true }]
watchdog: { trackerSilent: { after: 0.3, fade: 0.8 }, feedSilent: { after: 0.4, fade: 0.6 }, jumped: { fade: 0.3 }, rearm: 0.3, return: 0.5, move: 0.3, turn: 0.3 }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1, 2] } }
`;
}

/** Lehmer, 16807 mod 2^31 - 1: the same on every machine. */
export class Random {
  constructor(private seed: number) {}
  next(): number {
    this.seed = (this.seed * 16807) % 2147483647;
    return this.seed / 2147483647;
  }
  between(from: number, to: number): number {
    return from + (to - from) * this.next();
  }
  whole(from: number, to: number): number {
    return Math.floor(this.between(from, to + 1));
  }
  isOnce(in_: number): boolean {
    return this.next() < 1 / in_;
  }
  of<T>(all: readonly T[]): T {
    return all[this.whole(0, all.length - 1)] as T;
  }
}

const PEOPLE = ['ines', 'tobias', 'gull', 'mara'] as const;
const HEADS = ['pin', 'near', 'early', 'left', 'mid', 'right', 'window'] as const;
const WORN = [['1', '5'], ['2'], ['3'], ['4']] as const;

/** What happens in one tick. */
export interface Moment {
  readonly places: Readonly<Record<string, Place>>;
  readonly slots: Readonly<Record<number, number>> | undefined;
  readonly isHeard: boolean;
  readonly sound: number | undefined;
  readonly order: OperatorAction | undefined;
  readonly dtS: number;
}

/** They walk between the places that matter, are lost and come back; people and the desk order things. */
export function* moments(seed: number, ticks: number): Generator<Moment> {
  const random = new Random(seed);
  const spots = [
    [2, 6],
    [8.2, 7],
    [5, 4],
    [3, 3],
    [6, 5.5],
    [0.2, 4],
    [9, 1.5],
  ] as const;
  const at = PEOPLE.map(() => [...random.of(spots)] as [number, number]);
  const goal = PEOPLE.map(() => random.of(spots));
  const lostFor = PEOPLE.map(() => 0);
  for (let tick = 0; tick < ticks; tick++) {
    const places: Record<string, Place> = {};
    const all = random.isOnce(300) ? 40 + 60 * random.next() : 0;
    PEOPLE.forEach((_, i) => {
      const [place, to] = [at[i] as [number, number], goal[i] as (typeof spots)[number]];
      const leftM = Math.hypot(to[0] - place[0], to[1] - place[1]);
      if (leftM < 0.1 && random.isOnce(60)) goal[i] = random.of(spots);
      const share = leftM > 0.05 ? 0.05 / leftM : 0;
      place[0] += share * (to[0] - place[0]) + random.between(-0.01, 0.01);
      place[1] += share * (to[1] - place[1]) + random.between(-0.01, 0.01);
      lostFor[i] = Math.max(all, (lostFor[i] as number) - 1);
      if (random.isOnce(250)) lostFor[i] = random.between(5, 90);
      if ((lostFor[i] as number) > 0) return;
      const z = 1.4 + 0.1 * i + random.between(-0.01, 0.01);
      for (const tracker of WORN[i] as readonly string[]) {
        places[tracker] = [place[0], place[1], z, random.isOnce(40) ? 0.3 : 1];
      }
    });
    yield {
      places,
      slots:
        tick === 0 || random.isOnce(50)
          ? {
              1: random.whole(0, 255),
              34: random.whole(0, 255),
              101: random.isOnce(4) ? 255 : 0,
            }
          : undefined,
      isHeard: !random.isOnce(300),
      sound: random.isOnce(12) ? Math.fround(random.next()) : undefined,
      order: tick > 60 && random.isOnce(45) ? orderOf(random) : undefined,
      dtS: random.isOnce(600) ? random.between(0.05, 0.6) : 1 / 40,
    };
  }
}

function orderOf(random: Random): OperatorAction {
  const performer = random.isOnce(4) ? undefined : random.of(PEOPLE);
  const asked = {
    cause: 'command',
    by: '127.0.0.1',
    id: random.whole(0, 999),
  } as const;
  switch (random.whole(0, 11)) {
    case 0:
      return { kind: 'stop', performer: random.of(PEOPLE), ...asked };
    case 1:
    case 2:
      return { kind: 'resume', performer: undefined, ...asked };
    case 3:
      return { kind: random.isOnce(3) ? 'off' : 'on', performer, ...asked };
    case 4:
    case 5:
      return {
        kind: 'pin',
        fixture: random.of(['left', 'mid', 'near', 'early']),
        performer,
        ...asked,
      };
    case 6:
      return {
        kind: 'mapping',
        mapping: random.of(['glow', 'sea', 'wick', 'shared']),
        off: random.isOnce(2),
        ...asked,
      };
    case 7:
      return {
        kind: 'highlight',
        fixture: random.isOnce(3) ? undefined : random.of(HEADS),
        whileTracked: true,
        ...asked,
      };
    case 8:
      return { kind: 'hold', hazard: 'atmospheric', held: !random.isOnce(4), ...asked };
    case 9:
      return random.isOnce(3)
        ? { kind: 'assign', tracker: '7', performer: random.of(PEOPLE), ...asked }
        : { kind: 'unassign', tracker: '7', ...asked };
    default:
      return {
        kind: 'cue',
        to: random.isOnce(3) ? 'next' : { name: random.of(['evening', 'storm', 'dawn', 'night']) },
        ...asked,
      };
  }
}

/** One tick of it. */
export function tickWith(
  rig: Rig,
  { places, slots, isHeard, sound, order, dtS }: Moment,
): Uint8Array {
  for (const [tracker, place] of Object.entries(places)) rig.send(position(tracker, place));
  if (slots !== undefined || !isHeard) rig.hear(0, slots, isHeard, '127.0.0.1');
  if (sound !== undefined)
    rig.send({ address: '/sound/level', args: [{ type: 'f', value: sound }] });
  if (order !== undefined) rig.order(order);
  return rig.tick(dtS);
}

/** It is read once. */
export const richShow = (renumbered = false) => showOf(richHouse(renumbered));
