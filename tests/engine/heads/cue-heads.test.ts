import { expect, test } from 'vitest';
import { demand } from '../../demand.js';
import { showOf } from '../../show/show-of.js';
import { type Place, Rig } from '../harness.js';
import { Random } from '../rich-house.js';

/** Heads that follow one in one cue and another in the next, that a zone or the base aims, and that are dark in some. */
const SHOW = showOf(`
lampwright: 1
name: Heads and cues
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0.4 }
signals: { near: { distance: [tobias, [8, 2]], range: [6, 1] } }
conditions: { close: { signal: near, on: 0.1 } }
fixtures:
  front: { profile: moving-head, universe: 1, address: 1, position: [5, 1, 5], safe: { aim: [5, 4, 0], Dimmer: 20 } }
  back: { profile: moving-head, universe: 1, address: 21, position: [5, 8, 6], base: { aim: [5, 5, 0] }, safe: { aim: [5, 4, 0] } }
  side: { profile: moving-head, universe: 1, address: 41, position: [0, 4, 5], base: { aim: [8, 6, 0] }, safe: { aim: [8, 6, 0], Dimmer: 30 } }
  window: { profile: moving-head, universe: 1, address: 61, position: [8, 1, 5], base: { aim: [8, 6, 0], Dimmer: 50 }, safe: { aim: [8, 6, 0], Dimmer: 40 } }
mappings:
  - { name: on-ines, follow: ines, fixtures: [front, back], set: { Dimmer: 75 }, fade: { in: 0, out: 0 } }
  - { name: ines-again, follow: ines, fixtures: [front], set: { Dimmer: 60 }, fade: { in: 0, out: 0 } }
  - { name: on-tobias, follow: tobias, fixtures: [front], set: { Dimmer: 50 }, fade: { in: 0, out: 0 } }
  - { name: when-close, follow: tobias, when: close, fixtures: [back], set: { Dimmer: 65 }, fade: { in: 0, out: 0 } }
  - { name: at-stove, zone: stove, performers: [ines], fixtures: [side, front], set: { Dimmer: 80, Pan: 30, Tilt: 40 }, fade: { in: 0, out: 0 } }
  - { name: by-near, by: near, fixtures: [side], set: { Dimmer: 60 }, fade: { in: 0, out: 0 } }
cues:
  one: { mappings: [on-ines, by-near], fade: 1 }
  two: { mappings: [on-tobias, when-close], base: { window: { aim: [2, 6, 0] } }, safe: { window: { aim: [5, 6, 0] } }, fade: 2 }
  three: { mappings: [at-stove], base: { back: { Dimmer: 35 } }, safe: { side: { aim: [6, 2, 0] } }, fade: 1.5 }
  four: { mappings: [ines-again, when-close, by-near], base: { side: { aim: [3, 2, 0] }, window: { Dimmer: 0 } }, safe: { front: { aim: [3, 3, 0] } }, fade: 0 }
  night: { base: { window: { aim: [6, 6, 0], Dimmer: 0 } }, fade: 2.5 }
  dusk: { base: { window: { Dimmer: 0 }, side: { aim: [5, 5, 0] } }, fade: 1 }
watchdog: { trackerSilent: { after: 0.3, fade: 0.8 }, feedSilent: { after: 0.4, fade: 0.6 }, rearm: 0.3, return: 0.5, move: 0.3, turn: 0.3 }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`);

const HEADS = ['front', 'back', 'side', 'window'] as const;
/** Those that nothing lights in a cue. */
const DARK: Readonly<Record<string, readonly string[]>> = {
  one: [],
  two: ['side'],
  three: [],
  four: ['window'],
  night: HEADS,
  dusk: HEADS,
};
const CUES = Object.keys(DARK);

/** Nobody stands so still that the same position comes twice. */
const there = (t: number, lost: string | undefined): Record<string, Place> => {
  const sway = 0.01 * Math.sin(40 * t);
  const all: [string, Place][] = [
    ['1', [2.2 + sway, 6 - sway]],
    ['2', [7 + sway, 3.5 + sway]],
  ];
  return Object.fromEntries(all.filter(([id]) => id !== lost));
};

const shown = (rig: Rig, name: string) =>
  (['Dimmer', 'Pan', 'Tilt'] as const).map(one => rig.level(name, one));

/** What a show comes to that has been in this cue from the start. */
function settledIn(cue: string): Map<string, number[]> {
  const rig = new Rig(SHOW);
  rig.order({ kind: 'cue', to: { name: cue }, cause: 'restored' });
  rig.run(8, t => there(t, undefined));
  return new Map(HEADS.map(name => [name, shown(rig, name)]));
}

/** Half a degree a tick is more than somebody who sways brings about, and less than any move. */
const MOVES_DEG = 0.5;

test.for([1, 2, 3, 4, 5, 6, 7, 8])(
  'heads through cues and losses move in the dark, stay dark where the cue leaves them so, and end where it has them: seed %i',
  seed => {
    const random = new Random(20261130 + 7919 * seed);
    const rig = new Rig(SHOW).run(3, t => there(t, undefined));
    const last = new Map<string, number[]>();
    const isOut = new Map<string, boolean>();
    let [cue, lost, turned] = ['one', undefined as string | undefined, 0];
    const run = (seconds: number) =>
      rig.run(
        seconds,
        () => there(rig.nowS, lost),
        () => {
          for (const name of HEADS) {
            const now = shown(rig, name);
            const before = last.get(name) ?? now;
            last.set(name, now);
            const [level = 0, pan = 0, tilt = 0] = now;
            const [was = 0, panWas = 0, tiltWas = 0] = before;
            const moves = Math.max(Math.abs(pan - panWas), Math.abs(tilt - tiltWas)) > MOVES_DEG;
            if (moves) turned += 1;
            demand(
              !moves || Math.min(level, was) < 0.5,
              () => `${name} moves lit in ${cue}: ${before} to ${now}`,
            );
            if (DARK[cue]?.includes(name) !== true) continue;
            // Of who is lost it shows the safe look, for as long as the cue before has a say.
            const isLoss = ['ines', 'tobias'].some(who => rig.phase(who) !== 'live');
            demand(
              isOut.get(name) !== true || level === 0 || isLoss,
              () => `${name} was dark in ${cue}, and is at ${level}`,
            );
            isOut.set(name, level === 0 && !isLoss);
          }
        },
      );
    for (let i = 0; i < 14; i++) {
      cue = random.of(CUES.filter(one => one !== cue));
      isOut.clear();
      rig.order({ kind: 'cue', to: { name: cue }, cause: 'command', id: i });
      run(random.of([0.1, 0.4, 0.8, 1.3, 2.2, 4]));
      lost = random.of([undefined, undefined, '1', '2']);
      if (random.isOnce(6)) rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
      else rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
      run(random.of([0, 0.5, 1.2, 3]));
    }
    lost = undefined;
    rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
    run(8);
    expect(turned).toBeGreaterThan(10);
    for (const [name, [level = 0, pan = 0, tilt = 0]] of settledIn(cue)) {
      const [is = 0, isPan = 0, isTilt = 0] = shown(rig, name);
      expect(is, `${name} in ${cue}`).toBeCloseTo(level, 0);
      // Either way round is as good, where it is lit.
      if (level === 0) continue;
      expect(Math.abs(isTilt - tilt), `tilt of ${name} in ${cue}`).toBeLessThan(1);
      expect(Math.abs(isPan - pan), `pan of ${name} in ${cue}`).toBeLessThan(1);
    }
  },
);

test('a head that stays where it is stays lit while the cue changes, in its base and at its safe look', () => {
  const still = SHOW.cues.findIndex(({ name }) => name === 'one');
  const [one] = SHOW.cues.slice(still);
  if (one === undefined) throw new Error('no cue one');
  const show = { ...SHOW, cues: [one, { ...one, name: 'again', fadeS: 1 }] };
  const rig = new Rig(show).run(4, t => there(t, undefined));
  const lit = () => [rig.level('window'), rig.level('front')];
  // Whoever drives the front is lost after that.
  expect(lit()).toEqual([expect.closeTo(50, 0), expect.closeTo(75, 0)]);
  rig.run(5, t => there(t, '1'));
  expect(lit()).toEqual([expect.closeTo(50, 0), expect.closeTo(20, 0)]);
  rig.order({ kind: 'cue', to: 'next', cause: 'command' });
  rig.run(
    4,
    t => there(t, '1'),
    () => expect(lit()).toEqual([expect.closeTo(50, 0), expect.closeTo(20, 0)]),
  );
  expect(rig.view.cue?.name).toBe('again');
});

test('a head that goes to somebody else with the cue keeps its colour until it is dark', () => {
  const rig = new Rig(
    showOf(`
lampwright: 1
name: Colours and cues
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
profiles:
  spot:
    channels: [{ attribute: Dimmer, bits: 16 }, { attribute: ColorAdd_R, default: 100 }, { attribute: Tilt, bits: 16, range: [-135, 135] }, { attribute: Pan, bits: 16, range: [-270, 270] }]
fixtures:
  front: { profile: spot, universe: 1, address: 1, position: [5, 1, 5], safe: { aim: [5, 4, 0] } }
mappings:
  - { name: red, follow: ines, fixtures: [front], set: { Dimmer: 80, ColorAdd_R: 100 } }
  - { name: dim, follow: tobias, fixtures: [front], set: { Dimmer: 80, ColorAdd_R: 20 } }
cues: { one: { mappings: [red] }, two: { mappings: [dim], fade: 0 } }
watchdog: { turn: 1 }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`),
  ).run(4, t => there(t, undefined));
  const look = () => [rig.level('front'), rig.level('front', 'ColorAdd_R')] as const;
  expect(look()).toEqual([expect.closeTo(80, 0), 100]);
  // Also where pan and tilt are not the first channels.
  expect(rig.beamMisses('front', [2.2, 6, 1.6])).toBeLessThan(0.1);
  rig.order({ kind: 'cue', to: 'next', cause: 'command' });
  let [wasDark, falls] = [false, 0];
  rig.run(
    6,
    t => there(t, undefined),
    () => {
      const [level, red] = look();
      if (level === 0) wasDark = true;
      else {
        expect(red).toBeCloseTo(wasDark ? 20 : 100, 0);
        if (!wasDark) falls += 1;
      }
    },
  );
  expect(falls).toBeGreaterThan(5);
  expect(look()[0]).toBeCloseTo(80, 0);
  expect(rig.beamMisses('front', [7, 3.5, 1.6])).toBeLessThan(0.1);
});
