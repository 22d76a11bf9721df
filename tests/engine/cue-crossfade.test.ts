import fc from 'fast-check';
import { describe, expect, it, test } from 'vitest';
import { demand } from '../demand.js';
import { showOf } from '../show/show-of.js';
import { Rig, TICK_HZ } from './harness.js';

/**
 * A crossfade of two cues is what the one would show alone and what the other would, by the share of the way: a twin
 * of the show stays in the first, another one is in the second all the time.
 */
const LAMPS = ['low', 'high', 'merged', 'tint'] as const;
const COLOURS = ['Dimmer', 'ColorAdd_R', 'ColorAdd_B'] as const;

const MAPPINGS = [
  'zone: stove, performers: [ines], fixtures: [low, high, merged], set: { Dimmer: 80 }',
  'zone: stove, performers: [ines], fixtures: [low, high], set: { Dimmer: 80 }, curve: smooth, fade: { in: 0.3, out: 2 }',
  'zone: stove, performers: [tobias], fixtures: [low, high, merged], set: { Dimmer: 60 }',
  'by: near, fixtures: [low, high], set: { Dimmer: 70 }',
  'by: near, fixtures: [low, high], from: { Dimmer: 60 }, set: { Dimmer: 30 }',
  'when: both, fixtures: [low, merged], set: { Dimmer: 90 }, mix: latest',
  'by: either, fixtures: [high], set: { Dimmer: 90 }',
  'by: wave, fixtures: [high], set: { Dimmer: 100 }, mix: highest',
  'zone: stove, performers: [ines, tobias], fixtures: [tint], set: { Dimmer: 50, ColorAdd_R: 80, ColorAdd_B: 10 }',
  'by: near, fixtures: [tint], set: { Dimmer: 50, ColorAdd_R: 80, ColorAdd_B: 10 }',
  'when: both, fixtures: [tint], from: { ColorAdd_B: 90 }, set: { ColorAdd_B: 20 }, priority: 1',
] as const;
const NAMES = MAPPINGS.map((_, i) => `m${i}`);

interface Drawn {
  readonly cues: readonly {
    /** Of each mapping how far it acts, per cent. */
    readonly acts: readonly number[];
    readonly base: readonly number[];
    readonly safe: readonly number[];
  }[];
  readonly lost: readonly ('ines' | 'tobias')[];
  /** When the cue comes, and its crossfade; the loss is at 1 s. */
  readonly atS: number;
  readonly fadeS: number;
}

function showText({ cues, fadeS }: Drawn): string {
  const look = (values: readonly number[]) =>
    `{ ${LAMPS.map((name, i) => `${name}: { Dimmer: ${values[i]} }`).join(', ')} }`;
  const words = cues.map(({ acts, base, safe }, i) => {
    const acting = NAMES.flatMap((name, k) => (acts[k] === 0 ? [] : [`${name}: ${acts[k]}`]));
    return `  ${['one', 'two'][i]}: { mappings: [${acting.join(', ')}], base: ${look(base)}, safe: ${look(safe)}, fade: ${fadeS} }`;
  });
  return `
lampwright: 1
name: Two cues and their twins
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
  gull: { trackers: [3] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0.4 }
profiles:
  tint: { channels: [{ attribute: Dimmer }, { attribute: ColorAdd_R }, { attribute: ColorAdd_B }] }
fixtures:
  low: { profile: dimmer, universe: 1, address: 1 }
  high: { profile: dimmer, universe: 1, address: 2, fade: 1 }
  merged: { profile: dimmer, universe: 1, address: 3 }
  tint: { profile: tint, universe: 1, address: 11, base: { ColorAdd_R: 20, ColorAdd_B: 60 } }
signals:
  near: { distance: [ines, tobias], range: [4, 1] }
  either: { presence: { zone: stove, of: any } }
  wave: { wave: { period: 1.3 } }
conditions:
  both: { in: stove, of: [ines, tobias] }
mappings:
${MAPPINGS.map((one, i) => `  - { name: m${i}, ${one} }`).join('\n')}
cues:
${words.join('\n')}
watchdog:
  trackerSilent: { after: 0.5, fade: 1.5 }
  feedSilent: { after: 0.5, fade: 1.5 }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
}

const percent = fc.constantFrom(0, 20, 50, 80);
const looks = fc.tuple(percent, percent, percent, percent);
const cue = fc.record({
  acts: fc.array(fc.constantFrom(0, 0, 40, 100), {
    minLength: NAMES.length,
    maxLength: NAMES.length,
  }),
  base: looks,
  safe: looks,
});
const drawn: fc.Arbitrary<Drawn> = fc.record({
  cues: fc.tuple(cue, cue),
  lost: fc.constantFrom([], ['ines'] as const, ['tobias'] as const, ['ines', 'tobias'] as const),
  atS: fc.constantFrom(0.2, 1.3, 1.9, 3),
  fadeS: fc.constantFrom(0, 0.5, 2),
});

const TRACKERS = { ines: '1', tobias: '2', gull: '3' } as const;

/** They walk about the edge of the zone. */
function placesAt(t: number, lost: readonly string[]) {
  const all = {
    ines: [2 + 1.3 * Math.sin(t), 6],
    tobias: [2.5, 6 + 1.1 * Math.cos(1.7 * t)],
    gull: [8, 2],
  } as const;
  const there = (['ines', 'tobias', 'gull'] as const).filter(name => !lost.includes(name));
  return Object.fromEntries(there.map(name => [TRACKERS[name], all[name]]));
}

const go = (rig: Rig, name: string) =>
  rig.order({ kind: 'cue', to: { name }, cause: 'command', id: 1 });

/** A step of 255 is 0.39 per cent: three values are each off by half of one at most, and the last to 1e-9. */
const ROUNDING = 0.4;

describe('a crossfade between two cues', () => {
  test('is at each moment what each would show alone, by the share of the way, whoever is lost', () => {
    fc.assert(
      fc.property(drawn, one => {
        const show = showOf(showText(one));
        const [first, second, rig] = [new Rig(show), new Rig(show), new Rig(show)];
        go(second, 'two');
        const all = [first, second, rig];
        let t = 0;
        const run = (lost: readonly string[]) => {
          t += 1 / TICK_HZ;
          for (const each of all) each.run(1 / TICK_HZ, placesAt(t, lost));
        };
        while (t < 3) run([]);
        const began = t;
        const cueAt = Math.round(one.atS * TICK_HZ);
        for (let tick = 0; tick < 5 * TICK_HZ; tick++) {
          if (tick === cueAt) go(rig, 'two');
          run(t - began < 1 ? [] : one.lost);
          const share = tick < cueAt ? 0 : (rig.view.cue?.share ?? 1);
          for (const lamp of LAMPS) {
            for (const attribute of lamp === 'tint' ? COLOURS : (['Dimmer'] as const)) {
              // What somebody lost leaves of a colour is no light: it goes between the safe values of now.
              if (attribute !== 'Dimmer' && one.lost.length > 0) continue;
              const [was, is] = [first.level(lamp, attribute), second.level(lamp, attribute)];
              const now = rig.level(lamp, attribute);
              const due = was + share * (is - was);
              demand(
                Math.abs(now - due) <= ROUNDING,
                () =>
                  `${lamp} ${attribute}, tick ${tick}, ${share} of the way from ${was} to ${is}: ${now}`,
              );
            }
          }
        }
      }),
      { seed: 16, numRuns: 10 },
    );
  });
});

/** Heads that follow somebody in both cues, by a mapping for each. */
function headRoom(first: string, second: string, fadeS = 2): string {
  return `
lampwright: 1
name: One performer, two mappings
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0 }
conditions:
  warm: { in: stove, of: tobias }
fixtures:
  head: { profile: moving-head, universe: 1, address: 21, position: [5, 1, 5], safe: { aim: [5, 4, 0] } }
mappings:
  - { name: first, ${first}, fixtures: [head] }
  - { name: second, ${second}, fixtures: [head] }
cues:
  one: { mappings: [first], fade: ${fadeS} }
  two: { mappings: [second], fade: ${fadeS} }
  none: { fade: ${fadeS} }
watchdog:
  trackerSilent: { after: 0.5, fade: 1.5 }
  feedSilent: { after: 0.5, fade: 1.5 }
  rearm: 0.5
  return: 1
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
}

/** With a head that zooms. */
const zooms = (one: string) =>
  one
    .replace(
      'fixtures:\n',
      `profiles:
  spot:
    optics: { beamAngle: 16, fieldAngle: 20 }
    channels: [{ attribute: Pan, bits: 16, range: [-270, 270] }, { attribute: Tilt, bits: 16, range: [-135, 135] }, { attribute: Dimmer, bits: 16 }, { attribute: Zoom, bits: 16, range: [6, 60], default: 12 }]
fixtures:
`,
    )
    .replace('profile: moving-head', 'profile: spot');

const ON_INES = 'follow: ines, set: { Dimmer: 70 }';
const NEAREST = 'follow: { nearest: [ines, tobias], to: [2, 6, 0] }, set: { Dimmer: 70 }';
const WALK = (t: number) => ({ 1: [2 + 0.5 * t, 6], 2: [2, 6.5] }) as const;

/** The least light of the head, while it stays on Ines, from the cue on. */
function leastLit(rig: Rig, seconds: number, from: number): number {
  let least = 100;
  let t = from;
  rig.run(
    seconds,
    now => WALK(from + now),
    () => {
      t += 1 / TICK_HZ;
      least = Math.min(least, rig.level('head'));
      // On the way of a walk: the beam is where she was a moment ago.
      if (rig.level('head') > 0) {
        expect(rig.beamMisses('head', [2 + 0.5 * t, 6, 1.6])).toBeLessThan(0.3);
      }
    },
  );
  return least;
}

describe('a head that follows the same performer by another mapping in the next cue', () => {
  it.each([
    ['the same look', ON_INES, 70],
    ['another intensity', 'follow: ines, set: { Dimmer: 40 }', 40],
    ['while a condition is yes', 'follow: ines, when: warm, set: { Dimmer: 70 }', 70],
  ])('stays lit on them: %s', (_, second, end) => {
    const rig = new Rig(headRoom(ON_INES, second)).run(3, WALK);
    expect(rig.level('head')).toBeCloseTo(70, 0);
    go(rig, 'two');
    expect(leastLit(rig, 3, 3)).toBeGreaterThan(end - 0.5);
    expect(rig.level('head')).toBeCloseTo(end, 0);
    go(rig, 'one');
    expect(leastLit(rig, 3, 6)).toBeGreaterThan(end - 0.5);
    expect(rig.level('head')).toBeCloseTo(70, 0);
  });

  it('with a beam of one size keeps it, and the intensity for it', () => {
    const beam = 'beam: { diameter: 2, by: zoom }, compensate: { reference: 7 }';
    const rig = new Rig(zooms(headRoom(`${ON_INES}, ${beam}`, `${ON_INES}, ${beam}`)));
    rig.run(4, INES_THERE);
    const before = [rig.level('head', 'Zoom'), rig.level('head')];
    expect(Math.abs((before[0] as number) - 12)).toBeGreaterThan(1);
    go(rig, 'two');
    rig.run(3, INES_THERE, () => {
      expect(Math.abs(rig.level('head', 'Zoom') - (before[0] as number))).toBeLessThan(0.2);
      expect(Math.abs(rig.level('head') - (before[1] as number))).toBeLessThan(0.5);
    });
  });

  it('on the middle of two stays on it, lit', () => {
    const middle =
      'follow: { middle: [ines, tobias] }, beam: { diameter: 1.8, cover: 5 }, set: { Dimmer: 70 }';
    const both = { 1: [3, 6], 2: [5, 6] } as const;
    const rig = new Rig(zooms(headRoom(middle, middle))).run(4, both);
    expect(rig.level('head')).toBeCloseTo(70, 0);
    go(rig, 'two');
    rig.run(3, both, () => {
      expect(rig.level('head')).toBeCloseTo(70, 0);
      expect(rig.beamMisses('head', [4, 6, 1.6])).toBeLessThan(0.2);
    });
  });

  it('by the same rule stays on whom it is on', () => {
    const rig = new Rig(headRoom(NEAREST, NEAREST));
    // He comes up to where he is nearer, by less than what a change takes.
    rig.run(6, t => ({ 1: [2.7, 6], 2: [Math.max(2.5, 6 - t), 6.1] }));
    expect(rig.level('head')).toBeCloseTo(70, 0);
    go(rig, 'two');
    rig.run(3, { 1: [2.7, 6], 2: [2.5, 6.1] }, () => {
      expect(rig.level('head')).toBeCloseTo(70, 0);
      expect(rig.beamMisses('head', [2.7, 6, 1.6])).toBeLessThan(0.1);
    });
    expect(rig.eventsOf('hand-over').map(({ performer }) => performer)).toEqual(['ines']);
  });

  it.each([
    ['another part of them', 'follow: ines, part: floor, set: { Dimmer: 70 }'],
    ['somebody else', 'follow: tobias, set: { Dimmer: 70 }'],
    ['another beam', 'follow: ines, beam: { diameter: 3, by: zoom }, set: { Dimmer: 70 }'],
    ['a rule', NEAREST],
  ])('goes there in the dark where it means something else: %s', (_, second) => {
    const rig = new Rig(headRoom(ON_INES, second)).run(5, { 1: [2, 6], 2: [8, 3] });
    go(rig, 'two');
    let least = 100;
    rig.run(4, { 1: [2, 6], 2: [8, 3] }, () => {
      least = Math.min(least, rig.level('head'));
    });
    expect(least).toBe(0);
    expect(rig.level('head')).toBeCloseTo(70, 0);
  });

  it('lost in the middle of the crossfade goes to safe in the time of the loss, and comes up no more', () => {
    const rig = new Rig(headRoom(ON_INES, 'follow: ines, when: warm, set: { Dimmer: 70 }', 6));
    rig.run(5, { 1: [2, 6], 2: [2, 6.5] });
    go(rig, 'two');
    rig.run(2, { 1: [2, 6], 2: [2, 6.5] });
    let before = rig.level('head');
    let darkS = 0;
    rig.run(6, { 2: [2, 6.5] }, () => {
      const now = rig.level('head');
      expect(now).toBeLessThanOrEqual(before);
      before = now;
      if (now > 0) darkS += 1 / TICK_HZ;
    });
    // After 0.5 s, over 1.5 s; a tick for each.
    expect(darkS).toBeLessThan(2.1);
    expect(rig.phase('ines')).toBe('safe');
  });

  it('goes out with a cue that leaves it dark, and comes back from there', () => {
    const rig = new Rig(headRoom(ON_INES, ON_INES)).run(5, INES_THERE);
    go(rig, 'none');
    rig.run(1, INES_THERE);
    expect(rig.level('head')).toBeCloseTo(35, 0);
    go(rig, 'two');
    rig.run(1, INES_THERE);
    expect(rig.level('head')).toBeCloseTo(52.5, 0);
    rig.run(1.1, INES_THERE);
    expect(rig.level('head')).toBeCloseTo(70, 0);
  });
});

const INES_THERE = { 1: [2, 6], 2: [8, 3] } as const;

/** Two heads with the same two cues; in none of them another mapping acts, by which one of the heads is merged. */
const mergedRoom = (how: string) => `
lampwright: 1
name: One head of two is merged
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] }, gull: { trackers: [3] } }
fixtures:
  plain: { profile: moving-head, universe: 1, address: 21, position: [5, 1, 5], safe: { aim: [5, 4, 0] } }
  merged: { profile: moving-head, universe: 1, address: 61, position: [5, 1, 5], safe: { aim: [5, 4, 0] } }
signals: { near: { distance: [gull, [2, 6]], range: [3, 1] } }
mappings:
  - { name: first, follow: ines, fixtures: [plain, merged], set: { Dimmer: 80 } }
  - { name: second, follow: tobias, fixtures: [plain, merged], set: { Dimmer: 40 } }
  - { name: idle, by: near, fixtures: [merged], set: { Dimmer: 30 }, ${how} }
cues:
  one: { mappings: [first], fade: 12 }
  two: { mappings: [second], fade: 12 }
watchdog:
  trackerSilent: { after: 0.5, fade: 1.5 }
  feedSilent: { after: 9, fade: 1.5 }
  rearm: 0.5
  return: 1
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;

const HOWS = ['priority: -1', 'priority: 1', 'mix: latest', 'mix: add', 'mix: scale'];
const ALL_THERE = { '1': [2, 6], '2': [7, 5], '3': [9, 1] } as const;
const without = (...lost: string[]) =>
  Object.fromEntries(Object.entries(ALL_THERE).filter(([id]) => !lost.includes(id)));

describe('a head on the performer of the cue that comes, with merged mappings', () => {
  it.each(HOWS)('falls to what that cue asks while the other performer is lost: %s', how => {
    const rig = new Rig(mergedRoom(how)).run(4, without());
    go(rig, 'two');
    rig.run(5, without());
    expect(rig.beamMisses('merged', [7, 5, 1.6])).toBeLessThan(0.1);
    let before = rig.level('merged');
    expect(before).toBeGreaterThan(55);
    // Silent for 0.5 s, then over 1.5 s: some 38 per cent in 66 ticks.
    rig.run(2.1, without('1'), () => {
      const now = rig.level('merged');
      demand(before - now < 2, () => `from ${before} to ${now} in one tick`);
      before = now;
    });
    expect(rig.phase('ines')).toBe('safe');
    expect(before).toBeCloseTo(40 * (rig.view.cue?.share ?? 0), 0);
  });

  it.each(HOWS)('does as one where nothing is merged, whoever is lost and comes back: %s', how => {
    const rig = new Rig(mergedRoom(how)).run(4, without());
    go(rig, 'two');
    for (const [forS, places] of [
      [4, without()],
      [1.2, without('1')],
      [0.9, without('1', '2')],
      [1.8, without('1')],
      [2, without()],
      [1.1, without('2')],
      [3, without()],
    ] as const) {
      for (let tick = 0; tick < forS * TICK_HZ; tick++) {
        rig.run(1 / TICK_HZ, places);
        const due = rig.level('plain');
        demand(
          Math.abs(rig.level('merged') - due) <= ROUNDING,
          () => `${rig.level('merged')}, not ${due}, at ${rig.view.cue?.share} of the crossfade`,
        );
      }
    }
    expect(rig.level('merged')).toBeCloseTo(40, 0);
  });
});
