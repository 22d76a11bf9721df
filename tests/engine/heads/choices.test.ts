import { describe, expect, test } from 'vitest';
import { answerInWords } from '../../../src/daemon/asking/answers.js';
import { createEngine } from '../../../src/engine/engine.js';
import { takeOver } from '../../../src/engine/take-over/take-over.js';
import type { OperatorAction } from '../../../src/engine/values/operator-action.js';
import { viewOf } from '../../../src/engine/view.js';
import { beamDirection, compileHead } from '../../../src/fixtures/kinematics.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import { labelsOf } from '../../../src/show/model/labels.js';
import { type Degrees, toRadians } from '../../../src/stage/units.js';
import { vec3 } from '../../../src/stage/vector.js';
import { showOf } from '../../show/show-of.js';
import { type Place, Rig } from '../harness.js';

/** Three heads in front, two performers and a third; what follows whom is each test's own. */
const ROOM = (mappings: string) => `
lampwright: 1
name: Choices
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
  gull: { trackers: [3] }
groups:
  company: [ines, tobias, gull]
  heads: [left, mid, right]
zones:
  table: { circle: { centre: [5, 5], radius: 1 }, feather: 0.2 }
fixtures:
  left: { profile: moving-head, universe: 1, address: 1, position: [1, -3, 6] }
  mid: { profile: moving-head, universe: 1, address: 21, position: [5, -3, 6] }
  right: { profile: moving-head, universe: 1, address: 41, position: [9, -3, 6] }
  lantern: { profile: dimmer, universe: 1, address: 61, position: [9, 7, 1], base: { Dimmer: 10 } }
mappings:
${mappings}
watchdog: { trackerSilent: { after: 0.4, fade: 1 }, feedSilent: { after: 0.6, fade: 1 }, rearm: 0.5, return: 0.6, turn: 0.3 }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
/** A step in a tick: 2 m/s. */
const WALK_M = 2 / 40;
const HEADS: readonly string[] = ['left', 'mid', 'right'];
const IDS = { ines: '1', tobias: '2', gull: '3' } as const;
type Who = keyof typeof IDS;

/** Runs, and looks in each tick that no lit head changes whom it is on, unless that is said, and that it is told whom. */
class Stage {
  readonly rig: Rig;
  litChanges = 0;
  #t = 0;
  #told = 0;
  /** Whom each head is on by what was told. */
  readonly #toldOf = new Map<string, string | undefined>();
  /** They walk there. */
  readonly #at: Record<string, [number, number]> = {};
  constructor(mappings: string) {
    this.rig = new Rig(ROOM(mappings));
  }
  run(seconds: number, places: Partial<Record<Who, Place>>, each: () => void = () => {}): this {
    let before = HEADS.map(head => this.rig.level(head));
    this.rig.run(
      seconds,
      t => {
        for (const [who, [x, y]] of Object.entries(places)) {
          this.#at[who] ??= [x, y];
          const at = this.#at[who];
          const left = Math.hypot(x - at[0], y - at[1]);
          const share = left > WALK_M ? WALK_M / left : 1;
          at[0] += share * (x - at[0]);
          at[1] += share * (y - at[1]);
        }
        // Nobody stands as still as a frozen feed.
        const sway = 0.01 * Math.sin(9 * (this.#t + t));
        return Object.fromEntries(
          Object.keys(places).map(who => {
            const [x = 0, y = 0] = this.#at[who] ?? [];
            return [IDS[who as Who], [x + sway, y, 1.2] as const];
          }),
        );
      },
      rig => {
        const events = rig.eventsOf('hand-over');
        for (const { fixture, previous, performer } of events.slice(this.#told)) {
          const lit = before[HEADS.indexOf(fixture)] as number;
          if (previous !== undefined && performer !== undefined && lit > 0) this.litChanges += 1;
          this.#toldOf.set(fixture, performer);
        }
        for (const head of HEADS) {
          const { choice } = rig.light(head);
          if (choice?.performer === undefined || this.#toldOf.get(head) === choice.performer)
            continue;
          throw new Error(`${head} is on ${choice.performer}, told was ${this.#toldOf.get(head)}`);
        }
        this.#told = events.length;
        before = HEADS.map(head => rig.level(head));
        each();
      },
    );
    this.#t += seconds;
    return this;
  }
  /** Whom a head is on, while it is lit. */
  on(head: string): string | undefined {
    return this.rig.level(head) > 5 ? this.rig.light(head).aim?.performer : undefined;
  }
  get all() {
    return HEADS.map(head => this.on(head));
  }
}

describe('a pool of its own in each of many cues', () => {
  const CUES = Array.from({ length: 6 }, (_, i) => `pool-${i}`);
  const MANY = `${CUES.map(name => `  - { name: ${name}, follow: { share: company, hold: 1 }, fixtures: [heads], set: { Dimmer: 80 } }`).join('\n')}
cues: { ${CUES.map(name => `${name}: { mappings: [${name}], fade: 1 }`).join(', ')} }`;
  const PLACES = [
    { ines: [2, 2], tobias: [5, 4], gull: [8, 6] },
    { ines: [8, 2], tobias: [2, 4], gull: [5, 6] },
    { ines: [5, 2], tobias: [8, 4], gull: [2, 6] },
  ] as const;

  test('serves everybody when its cue comes, and is looked at in turn while it rests', () => {
    const stage = new Stage(MANY);
    const { choices } = stage.rig.engine;
    const looked = new Map<number, number>();
    const count = () =>
      choices.pools.forEach(({ heads }, i) => {
        if (heads[0]?.rests === false) looked.set(i, (looked.get(i) ?? 0) + 1);
      });
    CUES.forEach((name, i) => {
      if (i > 0) stage.rig.order({ kind: 'cue', to: { name }, cause: 'command' });
      looked.clear();
      stage.run(6, PLACES[i % PLACES.length] as (typeof PLACES)[number], count);
      expect([...stage.all].sort()).toEqual(['gull', 'ines', 'tobias']);
      // 6 s of 40 ticks: the one that acts in each, the five others in one of five.
      const times = CUES.map((_, pool) => looked.get(pool) ?? 0);
      expect(times[i]).toBeGreaterThanOrEqual(239);
      for (const [pool, of] of times.entries()) {
        if (pool !== i) expect(Math.abs(of - 48)).toBeLessThanOrEqual(2);
      }
    });
    expect(stage.litChanges).toBe(0);
  });
});

describe('nearest', () => {
  const RULE =
    '  - { follow: { nearest: company, to: lantern, hold: 1 }, fixtures: [mid], set: { Dimmer: 80 } }';

  test('goes to the one who is nearest in the dark, and not to somebody lost', () => {
    const stage = new Stage(RULE).run(4, { ines: [8, 6], tobias: [2, 2], gull: [1, 7] });
    expect(stage.on('mid')).toBe('ines');
    stage.run(5, { ines: [3, 6], tobias: [7, 6], gull: [1, 7] });
    expect(stage.on('mid')).toBe('tobias');
    expect(stage.rig.beamMisses('mid', [7, 6, 1.2])).toBeLessThan(0.15);
    expect(stage.litChanges).toBe(0);
    // Lost: dark over the fade of the loss, then on the nearest of the others.
    stage.run(6, { ines: [3, 6], gull: [1, 7] });
    expect(stage.on('mid')).toBe('ines');
    expect(stage.litChanges).toBe(0);
    stage.run(8, {});
    expect(stage.rig.level('mid')).toBe(0);
  });

  test('a little nearer is not enough, and a choice is held', () => {
    const stage = new Stage(RULE).run(4, { ines: [8, 6], tobias: [2, 2] });
    stage.run(4, { ines: [8, 6], tobias: [8.3, 6.2] });
    expect(stage.on('mid')).toBe('ines');
  });

  test('lit, where the show says so', () => {
    const stage = new Stage(RULE.replace('hold: 1', 'hold: 1, change: lit')).run(4, {
      ines: [8, 6],
      tobias: [2, 2],
    });
    let darkest = 100;
    stage.run(4, { ines: [3, 6], tobias: [7, 6] }, () => {
      darkest = Math.min(darkest, stage.rig.level('mid'));
    });
    expect(stage.on('mid')).toBe('tobias');
    expect(darkest).toBeGreaterThan(70);
  });
});

test('first: who came in first, until they leave; dark while nobody is there', () => {
  const stage = new Stage(
    '  - { follow: { first: company, in: table }, fixtures: [mid], set: { Dimmer: 80 } }',
  );
  stage.run(3, { ines: [1, 1], tobias: [9, 1] });
  expect(stage.on('mid')).toBeUndefined();
  stage.run(4, { ines: [1, 1], tobias: [5, 5] });
  expect(stage.on('mid')).toBe('tobias');
  stage.run(4, { ines: [5.2, 5.2], tobias: [5, 5] });
  expect(stage.on('mid')).toBe('tobias');
  stage.run(5, { ines: [5.2, 5.2], tobias: [9, 1] });
  expect(stage.on('mid')).toBe('ines');
  expect(stage.litChanges).toBe(0);
});

test.each([['ines, tobias'], ['tobias, ines']])(
  'first: of two who come in at once the one who is named first: %s',
  people => {
    const stage = new Stage(
      `  - { follow: { first: [${people}], in: table }, fixtures: [mid], set: { Dimmer: 80 } }`,
    );
    stage.run(4, { ines: [5.2, 5.2], tobias: [5, 5] });
    expect(stage.on('mid')).toBe(people.split(',')[0]);
  },
);

test('order: the first head on the first of them', () => {
  const stage = new Stage(
    '  - { follow: { order: company }, fixtures: [heads], set: { Dimmer: 80 } }',
  );
  stage.run(4, { ines: [8, 3], tobias: [5, 5], gull: [2, 4] });
  expect(stage.all).toEqual(['ines', 'tobias', 'gull']);
});

test('middle: one beam holds both, and moves to the one who is left', () => {
  const stage = new Stage(
    '  - { follow: { middle: [ines, tobias] }, fixtures: [mid], beam: { diameter: 1.6, cover: 6 }, set: { Dimmer: 80 } }',
  );
  stage.run(5, { ines: [4, 5], tobias: [6, 5] });
  expect(stage.rig.beamMisses('mid', [5, 5, 1.2])).toBeLessThan(0.15);
  expect(stage.rig.light('mid').aim?.beamM).toBeGreaterThan(3.4);
  let darkest = 100;
  stage.run(5, { ines: [4, 5] }, () => {
    darkest = Math.min(darkest, stage.rig.level('mid'));
  });
  expect(darkest).toBeGreaterThan(70);
  expect(stage.rig.beamMisses('mid', [4, 5, 1.2])).toBeLessThan(0.15);
  expect(stage.rig.light('mid').aim?.beamM).toBeLessThan(2.2);
  stage.run(6, {});
  expect(stage.rig.level('mid')).toBe(0);
});

describe('middle: what is lit moves no faster than people walk', () => {
  const RULE =
    '  - { follow: { middle: [ines, tobias] }, fixtures: [mid], beam: { diameter: 1.6, cover: 8 }, set: { Dimmer: 80 } }';

  /** Runs with people standing; each who is not there is silent. @returns fastest lit movement over 0.1 s, m/s */
  function run(rig: Rig, seconds: number, people: Readonly<Record<string, Place>>, from: number) {
    const spots: (readonly [x: number, y: number])[] = [];
    let fastest = 0;
    let darkest = 100;
    rig.run(
      seconds,
      t => {
        const sway = 0.01 * Math.sin(9 * (from + t));
        return Object.fromEntries(
          Object.entries(people).map(([id, [x, y]]) => [id, [x + sway, y, 1.2] as const]),
        );
      },
      () => {
        const level = rig.level('mid');
        darkest = Math.min(darkest, level);
        if (level === 0) spots.length = 0;
        else spots.push(spot(rig));
        const [was, now] = [spots.at(-5), spots.at(-1)];
        if (was === undefined || now === undefined) return;
        fastest = Math.max(fastest, Math.hypot(now[0] - was[0], now[1] - was[1]) / 0.1);
      },
    );
    return { fastest, darkest };
  }

  /** Where the beam of `mid` is at the height of the trackers. */
  function spot(rig: Rig): readonly [x: number, y: number] {
    const { head } = rig.light('mid').plan;
    if (head === undefined) throw new Error('mid is no head');
    const pan = toRadians(rig.level('mid', 'Pan') as Degrees);
    const tilt = toRadians(rig.level('mid', 'Tilt') as Degrees);
    const beam = beamDirection(compileHead(head), pan, tilt, vec3(0, 0, 0));
    const along = (1.2 - head.position.z) / beam.z;
    return [head.position.x + along * beam.x, head.position.y + along * beam.y];
  }

  test('one who jumps: it fades out where it is, moves in the dark, and is back at the new middle', () => {
    const rig = new Rig(ROOM(RULE));
    run(rig, 5, { 1: [9, 7], 2: [2, 2] }, 0);
    expect(rig.beamMisses('mid', [5.5, 4.5, 1.2])).toBeLessThan(0.15);
    const jump = run(rig, 8, { 1: [1.5, 2], 2: [2, 2] }, 5);
    expect(rig.eventsOf('performer').some(({ cause }) => cause === 'jumped')).toBe(true);
    expect(jump.darkest).toBe(0);
    expect(jump.fastest).toBeLessThan(2.5);
    expect(rig.beamMisses('mid', [1.75, 2, 1.2])).toBeLessThan(0.15);
    const back = run(rig, 8, { 1: [9, 7], 2: [2, 2] }, 13);
    expect(back.darkest).toBe(0);
    expect(back.fastest).toBeLessThan(2.5);
    expect(rig.level('mid')).toBeCloseTo(80, 0);
    expect(rig.beamMisses('mid', [5.5, 4.5, 1.2])).toBeLessThan(0.15);
  });

  test('one who is lost, and back: it glides, lit, to the one who is left, and to the middle again', () => {
    const rig = new Rig(ROOM(RULE));
    run(rig, 5, { 1: [9, 7], 2: [2, 2] }, 0);
    const lost = run(rig, 6, { 2: [2, 2] }, 5);
    expect(lost.darkest).toBeGreaterThan(70);
    expect(lost.fastest).toBeLessThan(2.5);
    expect(rig.beamMisses('mid', [2, 2, 1.2])).toBeLessThan(0.15);
    const back = run(rig, 6, { 1: [9, 7], 2: [2, 2] }, 11);
    expect(back.darkest).toBeGreaterThan(70);
    expect(back.fastest).toBeLessThan(2.5);
    expect(rig.beamMisses('mid', [5.5, 4.5, 1.2])).toBeLessThan(0.15);
  });

  const BOTH = { 1: [9, 7], 2: [2, 2] } as const;

  test.each([
    ['heard on', BOTH],
    ['silent', { 2: [2, 2] }],
  ] as const)(
    'one who is off stage, %s: it glides, lit, to the one who is left, and to the middle again',
    (_, left) => {
      const rig = new Rig(ROOM(RULE));
      run(rig, 5, BOTH, 0);
      rig.order({ kind: 'off', performer: 'ines', cause: 'command' });
      const off = run(rig, 12, left, 5);
      expect(rig.phase('ines')).toBe('off');
      expect(off.darkest).toBeGreaterThan(70);
      expect(off.fastest).toBeLessThan(2.5);
      expect(rig.beamMisses('mid', [2, 2, 1.2])).toBeLessThan(0.15);
      expect(rig.light('mid').aim).toMatchObject({ holds: ['tobias'] });
      // As wide as for one who is alone.
      const alone = new Rig(ROOM(RULE));
      run(alone, 17, { 2: [2, 2] }, 0);
      const aloneM = alone.light('mid').aim?.beamM ?? Number.NaN;
      expect(rig.light('mid').aim?.beamM).toBeCloseTo(aloneM, 1);
      rig.order({ kind: 'on', performer: 'ines', cause: 'command' });
      const back = run(rig, 8, BOTH, 17);
      expect(back.darkest).toBeGreaterThan(70);
      expect(back.fastest).toBeLessThan(2.5);
      expect(rig.beamMisses('mid', [5.5, 4.5, 1.2])).toBeLessThan(0.15);
      expect(rig.light('mid').aim).toMatchObject({ holds: ['ines', 'tobias'] });
    },
  );

  test('one who is stopped while off stage does not bring it back to them', () => {
    const rig = new Rig(ROOM(RULE));
    run(rig, 5, BOTH, 0);
    rig.order({ kind: 'off', performer: 'ines', cause: 'command' });
    run(rig, 6, { 2: [2, 2] }, 5);
    rig.order({ kind: 'stop', performer: 'ines', cause: 'command' });
    let farthestM = 0;
    for (let i = 0; i < 20; i++) {
      run(rig, 0.1, { 2: [2, 2] }, 11 + i / 10);
      farthestM = Math.max(farthestM, rig.beamMisses('mid', [2, 2, 1.2]));
    }
    expect(farthestM).toBeLessThan(0.15);
    expect(rig.level('mid')).toBeGreaterThan(70);
  });

  test('all off stage: it goes dark where it is, and stays so', () => {
    const rig = new Rig(ROOM(RULE));
    run(rig, 5, BOTH, 0);
    rig.order({ kind: 'off', performer: undefined, cause: 'command' });
    const off = run(rig, 5, BOTH, 5);
    expect(off.fastest).toBeLessThan(2.5);
    expect(rig.level('mid')).toBe(0);
    run(rig, 3, {}, 10);
    expect(rig.level('mid')).toBe(0);
  });
});

describe('share', () => {
  const RULE =
    '  - { follow: { share: company, hold: 1 }, fixtures: [heads], set: { Dimmer: 80 } }';

  test('each has a head, as it is best; the others are dark', () => {
    const stage = new Stage(RULE).run(5, { ines: [9, 5], tobias: [1, 5] });
    expect(stage.all).toEqual(['tobias', undefined, 'ines']);
    stage.run(4, { ines: [9, 5], tobias: [1, 5], gull: [5, 5] });
    expect(stage.all).toEqual(['tobias', 'gull', 'ines']);
    // Each could be on all of them, as nothing is in the way.
    for (const head of HEADS) {
      const all = stage.rig.light(head).choice?.candidates() ?? [];
      const alike = { tracked: true, outOfReach: false, keepOut: undefined };
      expect(all).toMatchObject([alike, alike, alike]);
    }
  });

  test('whose head goes dark with them is free after it, for somebody who has none', () => {
    const stage = new Stage(RULE.replace('[heads]', '[left, right]')).run(5, {
      ines: [9, 5],
      tobias: [1, 5],
    });
    expect(stage.on('right')).toBe('ines');
    stage.run(6, { tobias: [1, 5], gull: [8, 3] });
    expect(stage.on('left')).toBe('tobias');
    expect(stage.on('right')).toBe('gull');
    expect(stage.litChanges).toBe(0);
  });

  test('while a head still shows the last of somebody lost, another one that is free takes who comes', () => {
    const stage = new Stage(RULE).run(3, { ines: [1, 3], tobias: [9, 3] });
    expect(stage.all).toEqual(['ines', undefined, 'tobias']);
    // Gull stands where the left head lights best, and that takes a second to go dark.
    stage.run(1.2, { tobias: [9, 3], gull: [1, 3.2] });
    expect(stage.rig.level('left')).toBeGreaterThan(0);
    expect(stage.rig.light('mid').choice?.performer).toBe('gull');
  });

  test('crossed over: somebody is lit all the time while their head changes', () => {
    const cross = RULE.replace('hold: 1', 'hold: 1, change: cross').replace('company', 'pair');
    const stage = new Stage(
      `${cross}\n  - { zone: table, fixtures: [lantern], set: { Dimmer: 50 } }`.replace(
        'pair',
        'company',
      ),
    );
    stage.run(5, { ines: [2, 5] });
    const first = HEADS.find(head => stage.on(head) === 'ines');
    expect(first).toBeDefined();
    let least = 100;
    // Ines walks over; another head is better for her.
    for (let i = 0; i <= 40; i++) {
      stage.run(0.25, { ines: [2 + 7 * (i / 40), 5] }, () => {
        const most = Math.max(
          ...HEADS.map(head => (stage.on(head) === 'ines' ? stage.rig.level(head) : 0)),
        );
        least = Math.min(least, most);
      });
    }
    stage.run(4, { ines: [9, 5] });
    const last = HEADS.find(head => stage.on(head) === 'ines');
    expect(last).not.toBe(first);
    expect(least).toBeGreaterThan(20);
  });

  test.each([2, 3])(
    'crossed over in a ring of %s, one goes in the dark, the others behind it',
    n => {
      const heads = HEADS.slice(3 - n);
      const people = (['gull', 'ines', 'tobias'] as const).slice(3 - n);
      const places = Object.fromEntries(people.map((one, i) => [one, [9 - 4 * i, 5]] as const));
      const stage = new Stage(
        `  - { follow: { share: [${people.join(', ')}], hold: 1, change: cross }, fixtures: [${heads.join(', ')}], set: { Dimmer: 80 } }`,
      );
      stage.run(6, places);
      const before = heads.map(head => stage.on(head));
      const after = [...before.slice(1), before[0]];
      heads.forEach((fixture, i) => {
        stage.rig.order({ kind: 'pin', fixture, performer: after[i], cause: 'command' });
      });
      const unlitS = new Map<string, number>(people.map(one => [one, 0]));
      let tookS = 0;
      stage.run(10, places, () => {
        const on = new Set(heads.map(head => stage.on(head)));
        for (const one of people)
          if (!on.has(one)) unlitS.set(one, (unlitS.get(one) ?? 0) + 1 / 40);
        if (heads.some((head, i) => stage.on(head) !== after[i])) tookS += 1 / 40;
      });
      // One of them is without a light meanwhile, and nobody else; no head waits for what doesn't come.
      const [longest = 0, ...others] = [...unlitS.values()].sort((a, b) => b - a);
      expect(others.every(s => s === 0)).toBe(true);
      expect(longest).toBeLessThan(0.9 * n);
      expect(tookS).toBeLessThan(1.1 * n);
      expect(stage.litChanges).toBe(0);
    },
  );
});

test('a reload keeps heads on whom they are', () => {
  const yaml = ROOM(
    '  - { follow: { share: company, hold: 1 }, fixtures: [heads], set: { Dimmer: 80 } }',
  );
  const stage = new Stage(
    '  - { follow: { share: company, hold: 1 }, fixtures: [heads], set: { Dimmer: 80 } }',
  ).run(5, { ines: [9, 5], tobias: [1, 5] });
  const before = stage.all;
  const next = createEngine(showOf(yaml.replace('Dimmer: 80', 'Dimmer: 60')));
  takeOver(next, stage.rig.engine);
  Object.assign(stage.rig, { engine: next, view: viewOf(next), show: next.show });
  let darkest = 100;
  stage.run(4, { ines: [9, 5], tobias: [1, 5] }, () => {
    darkest = Math.min(darkest, stage.rig.level('right'));
  });
  expect(stage.all).toEqual(before);
  expect(darkest).toBeGreaterThan(55);
});

test('of two who have been in the zone for as long the one who is listed first is it', () => {
  const both = { ines: [5, 5], tobias: [5, 5.2] } as const;
  for (const [people, on] of [
    ['ines, tobias', 'ines'],
    ['tobias, ines', 'tobias'],
  ] as const) {
    const stage = new Stage(
      `  - { follow: { first: [${people}], in: table }, fixtures: [mid], set: { Dimmer: 80 } }`,
    );
    expect(stage.run(3, both).on('mid')).toBe(on);
  }
});

describe('by order', () => {
  const SHARE =
    '  - { follow: { share: company, hold: 0.5 }, fixtures: [heads], set: { Dimmer: 80 } }';
  const pin = (stage: Stage, fixture: string, performer: string | undefined) => {
    stage.rig.order({ kind: 'pin', fixture, performer, cause: 'command', by: 'x', id: 1 });
  };

  test('a head is on whom it is pinned to, the others serve the rest, and let go it chooses again', () => {
    const stage = new Stage(SHARE);
    stage.run(6, { ines: [1, 5], tobias: [9, 5] });
    expect([stage.on('left'), stage.on('right')]).toEqual(['ines', 'tobias']);
    pin(stage, 'left', 'tobias');
    stage.run(6, { ines: [1, 5], tobias: [9, 5] });
    expect(stage.on('left')).toBe('tobias');
    expect(stage.all.filter(one => one === 'ines')).toHaveLength(1);
    // Pinned to somebody who is lost it is dark, and waits.
    stage.run(8, { ines: [1, 5], gull: [5, 5] });
    expect(stage.on('left')).toBeUndefined();
    expect([stage.on('mid'), stage.on('right')].sort()).toEqual(['gull', 'ines']);
    stage.run(8, { ines: [1, 5], tobias: [9, 5], gull: [5, 5] });
    expect(stage.on('left')).toBe('tobias');
    // Alone on the other side: the order holds against a better head, and without it that one takes over.
    stage.run(8, { tobias: [9, 5] });
    expect(stage.all).toEqual(['tobias', undefined, undefined]);
    pin(stage, 'left', undefined);
    stage.run(6, { tobias: [9, 5] });
    expect(stage.all).toEqual([undefined, undefined, 'tobias']);
    expect(stage.litChanges).toBe(0);
    expect(stage.rig.eventsOf('pin')).toMatchObject([
      { fixture: 'left', performer: 'tobias', by: 'x' },
      { fixture: 'left', performer: undefined },
    ]);
  });

  test('two heads may be pinned to one, also by another rule, and a reload keeps it', () => {
    const stage = new Stage(
      `${SHARE.replace('heads', 'left, mid')}\n  - { follow: { nearest: company, to: lantern, hold: 0 }, fixtures: [right], set: { Dimmer: 80 } }`,
    );
    for (const head of HEADS) pin(stage, head, 'ines');
    stage.run(6, { ines: [1, 5], tobias: [9, 7] });
    expect(stage.all).toEqual(['ines', 'ines', 'ines']);
    const next = createEngine(stage.rig.show);
    takeOver(next, stage.rig.engine);
    Object.assign(stage.rig, { engine: next, view: viewOf(next) });
    stage.run(6, { ines: [1, 5], tobias: [9, 7] });
    expect(stage.all).toEqual(['ines', 'ines', 'ines']);
  });

  test('a reload that gives the head another rule keeps the pin where that lists them, else lets go and tells', () => {
    const stage = new Stage(SHARE);
    const places = { ines: [1, 5], tobias: [9, 5] } as const;
    pin(stage, 'left', 'tobias');
    stage.run(6, places);
    const reload = (whom: string) => {
      const rule = `  - { follow: { nearest: ${whom}, to: lantern, hold: 0 }, fixtures: [left], set: { Dimmer: 80 } }`;
      const next = createEngine(showOf(ROOM(rule)));
      takeOver(next, stage.rig.engine);
      Object.assign(stage.rig, { engine: next, view: viewOf(next), show: next.show });
      stage.run(6, places);
    };
    reload('[ines, tobias]');
    expect(stage.on('left')).toBe('tobias');
    expect(stage.rig.eventsOf('pin')).toHaveLength(1);
    reload('[ines, gull]');
    expect(stage.on('left')).toBe('ines');
    expect(stage.rig.eventsOf('pin').slice(1)).toMatchObject([
      { kind: 'pin', fixture: 'left', performer: undefined, reason: 'reload', cause: 'command' },
    ]);
  });

  test('after a reload that names its mapping anew a head is on whom it was on, for as long as it was to be', () => {
    const rules = (near: string, far: string, third: string) =>
      `  - { name: ${third}, follow: { first: company, in: table }, fixtures: [left, right], set: { Dimmer: 80 } }
  - { name: ${near}, follow: { nearest: company, to: lantern, hold: 60 }, fixtures: [left], set: { Dimmer: 80 } }
  - { name: ${far}, follow: { nearest: company, to: [1, 1, 0], hold: 60 }, fixtures: [right], set: { Dimmer: 80 } }
cues: { one: { mappings: [${near}, ${far}] }, two: { mappings: [${third}] } }`;
    const stage = new Stage(rules('near', 'far', 'third'));
    stage.run(6, { ines: [9, 7], tobias: [1, 1] });
    expect([stage.on('left'), stage.on('right')]).toEqual(['ines', 'tobias']);
    const swapped = { ines: [1, 1], tobias: [9, 7] } as const;
    stage.run(8, swapped);
    const held = () => ['left', 'right'].map(head => stage.rig.light(head).choice?.holdsS ?? 0);
    const before = held();
    const next = createEngine(showOf(ROOM(rules('close', 'away', 'last'))));
    takeOver(next, stage.rig.engine);
    Object.assign(stage.rig, { engine: next, view: viewOf(next), show: next.show });
    stage.run(6, swapped);
    expect([stage.on('left'), stage.on('right')]).toEqual(['ines', 'tobias']);
    for (const [i, s] of held().entries()) expect(s).toBeCloseTo((before[i] as number) - 6, 6);
    expect(stage.litChanges).toBe(0);
  });

  test('by OSC, too, by name or label; what can not be is counted, and told once', () => {
    const room = ROOM(SHARE)
      .replace('ines: {', 'ines: { label: Ines Lind,')
      .replace('fixtures:', 'operator: { port: 9020 }\nfixtures:');
    const rig = new Rig(room);
    const { input } = rig.show.operator ?? {};
    const send = (address: string, ...words: string[]) => {
      const args = words.map(value => ({ type: 's' as const, value }));
      rig.receive(encodePacket({ address, args }), rig.nowS, input, '10.0.0.5');
      rig.tick();
    };
    send('/lampwright/pin', 'left', 'ines lind');
    send('/lampwright/pin', 'right', 'tobias');
    send('/lampwright/unpin', 'right');
    for (let i = 0; i < 5; i++) send('/lampwright/pin', 'left', 'nobody');
    send('/lampwright/pin', 'left');
    send('/lampwright/unpin', 'left', 'ines');
    send('/lampwright/pins', 'left', 'ines');
    send('/lampwright/pins', 'main', 'left');
    expect(rig.eventsOf('pin')).toMatchObject([
      { fixture: 'left', performer: 'ines', by: '10.0.0.5' },
      { fixture: 'right', performer: 'tobias' },
      { fixture: 'right', performer: undefined },
    ]);
    expect(rig.eventsOf('operator-refused')).toMatchObject([
      { reason: '"left" can\'t follow "nobody": its mapping doesn\'t list them' },
    ]);
    expect(rig.view.counters.drops).toMatchObject({ 'pin-impossible': 5, 'order-arguments': 4 });
  });

  test('what can not be is refused, and what is so already is nothing new', () => {
    const stage = new Stage(
      '  - { follow: { share: company }, fixtures: [left], set: { Dimmer: 80 } }\n  - { follow: gull, fixtures: [right], set: { Dimmer: 80 } }',
    );
    pin(stage, 'right', 'ines');
    pin(stage, 'left', 'nobody');
    pin(stage, 'left', undefined);
    stage.run(0.1, {});
    expect(stage.rig.eventsOf('operator-refused').map(({ reason }) => reason)).toEqual([
      '"right" is not a head that chooses whom it follows (follow by nearest, first or share)',
      '"left" can\'t follow "nobody": its mapping doesn\'t list them',
    ]);
    expect(stage.rig.eventsOf('operator-done')).toMatchObject([{ changed: false }]);
  });
});

test('a pin that changes nothing in the cue that comes on says by what the head follows there', () => {
  const stage = new Stage(
    `  - { name: each, follow: { order: company }, fixtures: [heads], set: { Dimmer: 80 } }
  - { name: all, follow: { share: [ines, tobias] }, fixtures: [left], set: { Dimmer: 80 } }
cues: { first: { mappings: [each] }, second: { mappings: [all] }, third: { mappings: [] } }`,
  );
  const { rig } = stage;
  const labels = labelsOf(rig.show);
  const answer = () => {
    const done = rig.eventsOf('operator-done').at(-1);
    return done && answerInWords(done, labels);
  };
  const go = (name: string) => rig.order({ kind: 'cue', to: { name }, cause: 'command', id: 1 });
  const toTobias = () =>
    rig.order({ kind: 'pin', fixture: 'left', performer: 'tobias', cause: 'command', id: 2 });
  toTobias();
  stage.run(0.1, {});
  expect(answer()).toBe(
    'left is pinned to tobias, but not in this cue: here it follows by the mapping "each", and a pin to tobias changes nothing.',
  );
  toTobias();
  stage.run(0.1, {});
  expect(answer()).toMatch(/^left is pinned to tobias already, but not in this cue: /);
  // In one tick: what counts is the cue that comes.
  go('second');
  toTobias();
  stage.run(0.1, {});
  // He was never heard.
  expect(answer()).toBe(
    'left is pinned already, and waits dark for tobias, who is not tracked now, until it is unpinned.',
  );
  rig.order({ kind: 'pin', fixture: 'left', performer: undefined, cause: 'command', id: 3 });
  stage.run(0.1, {});
  expect(answer()).toBe('left chooses by itself again.');
  toTobias();
  go('third');
  toTobias();
  stage.run(0.1, {});
  expect(answer()).toMatch(/already, but not in this cue: here it follows nobody\.$/);
  rig.order({ kind: 'pin', fixture: 'left', performer: undefined, cause: 'command', id: 4 });
  stage.run(0.1, {});
  expect(answer()).toBe('left is no longer pinned. In this cue it follows nobody.');
});

test('a pin by a mapping that is off, or to one off stage, and a mapping that this cue does not name say so', () => {
  const stage = new Stage(
    `  - { name: all, follow: { share: company }, fixtures: [left], set: { Dimmer: 80 } }
  - { name: late, follow: gull, fixtures: [right], set: { Dimmer: 80 } }
cues: { first: { mappings: [all] }, second: { mappings: [all, late] } }`,
  );
  const { rig } = stage;
  const labels = labelsOf(rig.show);
  const told = (action: OperatorAction) => {
    rig.order({ ...action, id: 1 });
    stage.run(0.1, { ines: [2, 5], tobias: [5, 5] });
    const done = rig.eventsOf('operator-done').at(-1);
    return done && answerInWords(done, labels);
  };
  const by = { cause: 'command' } as const;
  const pinned = { kind: 'pin', fixture: 'left', performer: 'tobias', ...by } as const;
  const turn = (mapping: string, off: boolean) => told({ kind: 'mapping', mapping, off, ...by });
  stage.run(4, { ines: [2, 5], tobias: [5, 5] });
  expect(turn('all', true)).toBe('Mapping all goes off.');
  const dark = 'lights nobody: the mapping "all" is off.';
  expect(told(pinned)).toBe(`left is pinned to tobias, but ${dark}`);
  expect(told(pinned)).toBe(`left is pinned to tobias already, but ${dark}`);
  expect(turn('all', false)).toBe('Mapping all acts again.');
  expect(told(pinned)).toBe('left is pinned to tobias already.');
  told({ kind: 'off', performer: 'tobias', ...by });
  expect(told(pinned)).toBe(
    'left is pinned already, and waits dark for tobias, who is off stage, until it is unpinned.',
  );
  turn('late', true);
  expect(turn('late', false)).toBe('Mapping late is on, but not in this cue.');
  expect(turn('late', false)).toBe('Mapping late is on already, but not in this cue.');
  told({ kind: 'cue', to: { name: 'second' }, ...by });
  expect(turn('late', false)).toBe('Mapping late is on already.');
});

test('a head that chooses by one mapping in this cue and by another in the next is told of once', () => {
  const stage = new Stage(
    `  - { name: all, follow: { share: company, hold: 0 }, fixtures: [heads], set: { Dimmer: 80 } }
  - { name: late, follow: { nearest: company, to: lantern, hold: 0 }, fixtures: [right], set: { Dimmer: 80 } }
  - { name: two, follow: { middle: [ines, tobias] }, fixtures: [left], beam: { diameter: 1, cover: 5 }, set: { Dimmer: 80 } }
cues: { first: { mappings: [all] }, second: { mappings: [late, two], fade: 0.5 } }`,
  );
  const told = () =>
    stage.rig.eventsOf('hand-over').map(one => [one.fixture, one.performer, one.mapping]);
  stage.run(6, { ines: [1, 5] });
  const on = told().filter(([, performer]) => performer !== undefined);
  expect(on).toEqual([[expect.any(String), 'ines', undefined]]);
  stage.rig.order({ kind: 'cue', to: { name: 'second' }, cause: 'command' });
  stage.run(6, { ines: [1, 5] });
  const last = new Map(told().map(([fixture, ...how]) => [fixture, how]));
  expect(last.get('right')).toEqual(['ines', undefined]);
  expect(last.get('left')).toEqual([undefined, 'two']);
});

test('whatever they do: nobody is without a head while one is free, and none changes lit', () => {
  const stage = new Stage(
    '  - { follow: { share: company, hold: 0.5 }, fixtures: [heads], set: { Dimmer: 80 } }',
  );
  // A fixed sequence of pseudo-random places and losses (Lehmer, 16807 mod 2^31 - 1).
  let seed = 20261130;
  const random = () => {
    seed = (seed * 16807) % 2147483647;
    return seed / 2147483647;
  };
  const places: Partial<Record<Who, Place>> = {};
  let [alone, without] = [0, 0];
  for (let round = 0; round < 25; round++) {
    for (const who of ['ines', 'tobias', 'gull'] as const) {
      if (random() < 0.25) delete places[who];
      else places[who] = [1 + 8 * random(), 1 + 6 * random(), 1.2];
    }
    stage.run(3, places, () => {
      const { all } = stage.rig.engine.choices;
      const isFree = all.some(one => one.current < 0 && one.wanted < 0);
      const isAlone = stage.rig.view.performers.some(
        ({ follows }, i) => follows && !all.some(one => one.current === i || one.wanted === i),
      );
      // A head that is free from this tick on is given in the next.
      alone = isFree && isAlone ? alone + 1 : 0;
      without = Math.max(without, alone);
    });
  }
  expect(without).toBeLessThanOrEqual(1);
  expect(stage.litChanges).toBe(0);
  expect(stage.rig.eventsOf('hand-over').length).toBeGreaterThanOrEqual(8);
});
