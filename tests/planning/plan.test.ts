import { describe, expect, it } from 'vitest';
import { advice, shoulderAdvice } from '../../src/planning/advice.js';
import { mapsOf } from '../../src/planning/maps.js';
import type { PlanOptions } from '../../src/planning/options.js';
import { planPage } from '../../src/planning/page.js';
import { drawPlan } from '../../src/planning/picture.js';
import { planAnchors } from '../../src/planning/plan.js';
import { checkRules, convexHull, type RuleName } from '../../src/planning/rules.js';
import { type Survey, survey } from '../../src/planning/survey.js';
import { BODY, bodiesAround } from '../../src/planning/view.js';
import { stageWords } from '../../src/planning/words.js';
import { at, GOOD } from './layouts.js';

/** For the first of its wearers. */
const surveyOf = (options: PlanOptions): Survey => {
  const [wearer] = options.wearers;
  if (wearer === undefined) throw new Error('nobody');
  return survey(options, wearer);
};
const withAnchors = (...anchors: PlanOptions['anchors']): PlanOptions => ({
  ...GOOD,
  stepM: 1,
  anchors,
});
const stateOf = (options: PlanOptions, rule: RuleName) =>
  checkRules(options, surveyOf(options)).find(one => one.rule === rule)?.state;

describe('the map', () => {
  it('covers the stage, and leaves out where an obstacle stands', () => {
    const solid = { kind: 'cylinder', x: 5, y: 4, radiusM: 1, fromM: 0, toM: 3 } as const;
    const { grid, open } = surveyOf({ ...GOOD, obstacles: [{ name: 'tank', solid }] });
    expect([grid.columns, grid.rows]).toEqual([20, 16]);
    // A circle of a metre on squares of half a metre: pi / 0.25, about 12.
    expect(open.filter(one => one === 0).length).toBe(12);
  });

  it('expects an error that is the dilution times the error of a range', () => {
    const one = surveyOf(GOOD);
    const twice = surveyOf({ ...GOOD, ranging: { by: 'range', errorM: 0.2 } });
    one.errorM.clear.forEach((errorM, i) => {
      expect(errorM).toBeLessThanOrEqual(0.1 * (one.dilution.range.horizontal[i] ?? 0) + 1e-9);
      // Knowing the height from the stage helps less against a better sensor.
      expect(twice.errorM.clear[i]).toBeGreaterThan(1.9 * errorM);
    });
  });

  it('is never better with a body in the way, nor with two', () => {
    const { errorM, inView } = surveyOf(GOOD);
    errorM.clear.forEach((clear, i) => {
      expect(errorM.own.likely[i]).toBeGreaterThanOrEqual(clear - 1e-12);
      expect(errorM.own.worst[i]).toBeGreaterThanOrEqual(errorM.own.likely[i] ?? 0);
      expect(errorM.beside.worst[i]).toBeGreaterThanOrEqual(errorM.own.worst[i] ?? 0);
      expect(inView.own.worst[i]).toBeLessThanOrEqual(inView.clear[i] ?? 0);
      expect(inView.beside.worst[i]).toBeLessThanOrEqual(inView.own.worst[i] ?? 0);
    });
  });

  it('has no position with two anchors', () => {
    const { summary, rules } = planAnchors(withAnchors(at('a', -1, 0, 3), at('b', 11, 1, 4)));
    expect(summary.errorM.clear.best).toBe(Number.POSITIVE_INFINITY);
    expect(summary.inView.clear).toEqual({ fewest: 2, three: 0, four: 0 });
    expect(rules.find(one => one.rule === 'view')?.state).toBe('fail');
  });
});

describe('wearers', () => {
  const low = { heightM: 1.7, wornAtM: 1.1, label: 'Low' };
  const head = { heightM: 1.7, wornAtM: 1.66, label: 'Head' };
  // Anchors on one side only: with their back to them, one tracker on the trunk sees none.
  const ONE_SIDE = withAnchors(
    at('a', -1, -1, 3), at('b', 2, -1.4, 3.3), at('c', 5, -1, 3.1), at('d', 8, -1.3, 3.4), at('e', 11, -1, 3.2),
  ); // biome-ignore format: a row of anchors

  it('are looked at one by one, and the map is of the one who is hardest to see', () => {
    const {
      worn,
      wearer,
      survey: map,
    } = planAnchors({ ...GOOD, stepM: 1, wearers: [head, low, head] });
    expect(worn.map(({ labels, members }) => [labels, members])).toEqual([
      [
        ['Head', 'Head'],
        [0, 2],
      ],
      [['Low'], [1]],
    ]);
    expect(wearer).toBe(low);
    expect(map.grid.heightM).toBe(1.1);
    expect(worn[0]?.positionShare).toBeGreaterThanOrEqual(worn[1]?.positionShare ?? 1);
    expect(worn[0]?.errorM.median).toBeLessThan(worn[1]?.errorM.median ?? 0);
  });

  it('of a pair have a position with their back to the anchors, where one of a single tracker has none', () => {
    const pair = { ...low, isPair: true };
    const shares = planAnchors({ ...ONE_SIDE, wearers: [low, pair] }).worn.map(
      one => one.positionShare,
    );
    expect(shares[0]).toBe(0);
    expect(shares[1]).toBeGreaterThan(0.9);
    // Also in what a suggestion starts from.
    const { suggestions } = planAnchors({ ...ONE_SIDE, wearers: [pair] });
    for (const { before } of suggestions) expect(before.positionShare).toBeGreaterThan(0.9);
  });

  it('of a pair are never worse off than of one tracker', () => {
    const one = survey(GOOD, low);
    const two = survey(GOOD, { ...low, isPair: true });
    two.inView.own.worst.forEach((count, i) => {
      expect(count).toBeGreaterThanOrEqual(one.inView.own.worst[i] ?? 0);
      expect(two.inView.beside.worst[i]).toBeGreaterThanOrEqual(one.inView.beside.worst[i] ?? 0);
    });
  });
});

describe('worst places', () => {
  it('are named in the words of the stage', () => {
    // Behind two walls, with nobody's body in the way.
    const wall = (name: string, x0: number, y0: number, x1: number, y1: number) => ({
      name,
      solid: { kind: 'box', min: { x: x0, y: y0, z: 0 }, max: { x: x1, y: y1, z: 4.5 } } as const,
    });
    const options = {
      ...GOOD,
      stepM: 1,
      obstacles: [wall('a', 8, 6, 8.1, 8), wall('b', 8, 5.9, 10, 6)],
      wearers: [{ heightM: 1.7, wornAtM: 1.7 }],
    };
    const { worst } = planAnchors(options);
    expect(worst[0]?.words).toBe('upstage left');
    expect(worst[0]?.x).toBeGreaterThan(8);
    expect(worst).toHaveLength(9);
  });

  it.each([
    [0.1, 0.1, 'downstage right'],
    [5, 4, 'centre stage'],
    [9.9, 4, 'centre left'],
    [5, 7.9, 'upstage centre'],
    [12, 9, 'upstage left'],
  ])('(%d, %d) is %s', (x, y, words) => expect(stageWords(GOOD.bounds, x, y)).toBe(words));
});

describe('rules of common practice', () => {
  it('are all kept by a good layout but the view past a body', () => {
    const states = checkRules(GOOD, surveyOf(GOOD)).map(one => one.state);
    expect(states.slice(1).every(state => state === 'ok')).toBe(true);
  });

  it('want performers between the anchors', () => {
    expect(stateOf(withAnchors(...GOOD.anchors.slice(0, 5)), 'spread')).toBe('warn');
    expect(convexHull([[0, 0], [4, 0], [2, 1], [4, 4], [0, 4], [2, 0]])).toHaveLength(4); // biome-ignore format: points
  });

  it('want anchors above heads', () => {
    expect(stateOf(withAnchors(...GOOD.anchors, at('low', -1, 2, 1.2)), 'height')).toBe('warn');
  });

  it('want none over the middle', () => {
    expect(stateOf(withAnchors(...GOOD.anchors, at('mid', 5, 4, 5)), 'edge')).toBe('warn');
    expect(stateOf(withAnchors(...GOOD.anchors, at('in', 5, 0.9, 5)), 'edge')).toBe('ok');
  });

  it('want 0.6 m to a light', () => {
    const light = (x: number) => [{ name: 'head', position: { x, y: -1.3, z: 3.2 } }];
    expect(stateOf({ ...GOOD, lights: light(4.9) }, 'lights')).toBe('warn');
    expect(stateOf({ ...GOOD, lights: light(5.1) }, 'lights')).toBe('ok');
  });

  it('want no regular figure', () => {
    const corner = (x: number, y: number) => at(`${x}${y}`, x, y, 3);
    const rectangle = [corner(-1, -1), corner(11, -1), corner(11, 9), corner(-1, 9)];
    expect(stateOf(withAnchors(...rectangle), 'figure')).toBe('warn');
    expect(stateOf(withAnchors(...rectangle.slice(1), at('x', -1, 1, 4)), 'figure')).toBe('ok');
    const pentagon = Array.from({ length: 5 }, (_, i) => {
      const angle = (2 * Math.PI * i) / 5 + 0.2;
      return at(`p${i}`, 5 + 7 * Math.sin(angle), 4 + 7 * Math.cos(angle), 3);
    });
    expect(stateOf(withAnchors(...pentagon), 'figure')).toBe('warn');
  });

  it('want all within 30 m, and none inside an obstacle', () => {
    expect(stateOf(withAnchors(...GOOD.anchors, at('far', -20, 4, 5)), 'cube')).toBe('warn');
    const min = { x: 11, y: 3, z: 0 };
    const solid = { kind: 'box', min, max: { x: 12, y: 4, z: 5 } } as const;
    expect(stateOf({ ...GOOD, obstacles: [{ name: 'wall', solid }] }, 'standing')).toBe('warn');
  });
});

describe('suggestions', () => {
  // Three of the four corners: the fourth is what is missing.
  const options = withAnchors(
    at('a', -0.8, -0.7, 3.9),
    at('b', 10.9, -0.6, 3.2),
    at('c', -0.9, 8.8, 3.6),
    at('d', 2, -0.8, 3),
    at('e', -0.9, 3, 3.1),
  );

  it('add an anchor where there is none, with the gain that a new plan confirms', () => {
    const { suggestions } = planAnchors(options);
    const add = suggestions.find(one => one.kind === 'add');
    expect(add).toBeDefined();
    if (add === undefined) return;
    expect(add.after.meanErrorM).toBeLessThan(add.before.meanErrorM);
    expect(stageWords(options.bounds, add.to.x, add.to.y)).toMatch(/left|upstage/);
    const share = ({ errorM, open }: Survey) =>
      errorM.own.worst.filter(value => Number.isFinite(value)).length / open.length;
    const after = surveyOf({ ...options, anchors: [...options.anchors, at('new', add.to.x, add.to.y, add.to.z)] }); // biome-ignore format: one call
    expect(share(after)).toBeCloseTo(add.after.positionShare, 1);
    expect(share(surveyOf(options))).toBeCloseTo(add.before.positionShare, 1);
  });

  it('say on how much of the stage an anchor is in reserve, as a new plan confirms', () => {
    const share = ({ inView, open }: Survey) =>
      inView.own.worst.filter(count => count >= 4).length / open.length;
    const { suggestions } = planAnchors(options);
    expect(suggestions.length).toBeGreaterThan(0);
    for (const { kind, anchor, to, before, after } of suggestions) {
      const kept = options.anchors.filter(({ name }) => kind === 'add' || name !== anchor);
      const next = { ...options, anchors: [...kept, at('new', to.x, to.y, to.z)] };
      expect(before.reserveShare).toBeCloseTo(share(surveyOf(options)), 1);
      expect(after.reserveShare).toBeCloseTo(share(surveyOf(next)), 1);
    }
  });

  it('are for the reserve as well, where another place leaves more of it', () => {
    // Found among layouts at random, with the tracker on the shoulder.
    const ring = [
      [10.9, 4.9, 2.6], [8.3, 8.2, 2.8], [2.3, 8.5, 3], [-0.2, 6.5, 3.5],
      [-0.5, 1.9, 3.7], [3.1, -0.7, 3], [5.6, -1, 3.3], [10, 1.2, 3.8],
    ] as const; // biome-ignore format: four a row
    const layout = {
      ...GOOD,
      obstacles: [],
      lights: [],
      anchors: ring.map(([x, y, z], i) => at(`a${i}`, x, y, z)),
      ranging: { by: 'range', errorM: 0.15 },
      wearers: [{ heightM: 1.7, wornAtM: 1.5 }],
      stepM: 0.5,
    } satisfies PlanOptions;
    const { suggestions } = planAnchors(layout);
    expect(suggestions.map(one => [one.kind, one.for])).toEqual([
      ['add', 'error'],
      ['move', 'error'],
      ['add', 'reserve'],
    ]);
    const [add, move, reserve] = suggestions;
    if (add === undefined || move === undefined || reserve === undefined) return;
    for (const { after } of [add, move]) {
      expect(reserve.after.reserveShare).toBeGreaterThanOrEqual(after.reserveShare + 0.05);
    }
    expect(reserve.after.meanErrorM).toBeGreaterThanOrEqual(add.after.meanErrorM);
    expect(advice(reserve, layout.bounds).join(' ')).toMatch(
      /^in case an anchor fails, add an anchor at .* and 3 anchors in view, whichever one of them all fails, on \d+ % to \d+ %$/,
    );
  });

  it('keep the rules: 0.6 m to lights, a metre to other anchors', () => {
    const { suggestions } = planAnchors(options);
    const lights = suggestions.map(({ to }) => ({ name: 'head', position: to }));
    for (const { to, kind } of planAnchors({ ...options, lights }).suggestions) {
      for (const { position } of lights) {
        expect(Math.hypot(position.x - to.x, position.y - to.y, position.z - to.z)).toBeGreaterThan(
          0.59,
        );
      }
      const nearest = Math.min(
        ...options.anchors.map(({ position: p }) => Math.hypot(p.x - to.x, p.y - to.y, p.z - to.z)),
      );
      if (kind === 'add') expect(nearest).toBeGreaterThanOrEqual(1);
    }
  });

  it('move the anchor that is missed least', () => {
    const move = planAnchors(options).suggestions.find(one => one.kind === 'move');
    expect(['d', 'e', 'a']).toContain(move?.anchor);
  });
});

describe('picture and page', () => {
  const zone = {
    label: 'harbour',
    area: { shape: { kind: 'circle' as const, centre: { x: 5, y: 4 }, radiusM: 1 } },
  };
  const options = { ...GOOD, lights: [at('head <1>', 1, 1, 5)], zones: [zone] };
  const plan = planAnchors(options);

  it.each([
    ['picture', drawPlan('A & B', options, plan)],
    ['page', planPage('A & B', options, plan)],
  ])(
    'the %s shows stage, anchors, lights, zones, worst places, and nothing from elsewhere',
    (_, text) => {
      expect(text).toContain('A &amp; B: anchor plan');
      for (const { name } of GOOD.anchors) expect(text).toContain(`>${name}<`);
      for (const words of ['audience', 'stage left', 'light head &lt;1&gt;', '>harbour<']) {
        expect(text).toContain(words);
      }
      expect(text).not.toMatch(/href|url\(http|<script|NaN|undefined|Infinity/);
      expect(text.length).toBeLessThan(300_000);
    },
  );

  it('leaves out what says nothing of the show', () => {
    const titles = (some: typeof options) => mapsOf(some, plan).map(({ title }) => title);
    // One kind of ranging, and nobody beside.
    expect(titles(options)).toHaveLength(5);
    expect(titles(options).join()).not.toContain('beside');
    const wearers = [...GOOD.wearers, ...GOOD.wearers];
    expect(titles({ ...options, wearers }).join()).toMatch(/another body beside/);
  });
});

it('a tracker at the shoulders is told: a few centimetres change what the plan sees', () => {
  const at = (wornAtM: number, label?: string) => ({ heightM: 1.75, wornAtM, label });
  // 0.818 of 1.75 m is 1.43 m.
  expect(shoulderAdvice([at(1.55), at(1.3), at(1.75)])).toEqual([]);
  const [told = '', ...more] = shoulderAdvice([
    at(1.55, 'Ines'),
    at(1.4, 'Tobias'),
    at(1.47, 'Mara'),
  ]);
  expect(more).toEqual([]);
  expect(told).toContain('Tobias and Mara: the tracker is worn within 5 cm of the shoulders');
  expect(told).toContain('1.43 of 1.75 m');
  // It is where the survey changes: behind the trunk, and behind the head.
  const sizes = [1.42, 1.44].map(wornAtM => bodiesAround(wornAtM, 1.75, 1.75).own[0]?.x);
  expect(sizes).toEqual([BODY.trunkRadiusM, BODY.headRadiusM]);
});
