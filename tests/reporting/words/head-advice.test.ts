import { expect, test } from 'vitest';
import { parseScene } from '../../../src/rehearsal/scenes/scene-file.js';
import { HandOverTimes } from '../../../src/reporting/measures/hand-over-times.js';
import { rehearsalPage } from '../../../src/reporting/pages/rehearsal-page.js';
import { reportRehearsal } from '../../../src/reporting/rehearsal.js';
import { handOverLines } from '../../../src/reporting/words/hand-over-words.js';
import { headAdvice } from '../../../src/reporting/words/head-advice.js';
import { Rig } from '../../engine/harness.js';
import { showOf } from '../../show/show-of.js';

const SHOW = showOf(`lampwright: 1
name: Three people and two heads
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { mara: { trackers: [1] }, ilja: { trackers: [2] }, noor: { trackers: [3] } }
keepOut: { camera: { point: [5, -1, 2.5], radius: 0.6 } }
fixtures:
  back: { profile: moving-head, universe: 1, address: 1, position: [5, 7.9, 6], safe: { aim: [5, 4, 0] } }
  left: { profile: moving-head, universe: 1, address: 21, position: [10, 4, 6], safe: { aim: [5, 4, 0] } }
  right: { profile: moving-head, universe: 1, address: 41, position: [0, 4, 6], safe: { aim: [5, 4, 0] } }
mappings:
  - { name: back, follow: mara, fixtures: [back], set: { Dimmer: 60 } }
  - { name: sides, follow: { share: [mara, ilja, noor] }, fixtures: [left, right], set: { Dimmer: 80 } }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`);

test('what keeps a head dark for long, and who has none while the pool is used up, are to be fixed first', () => {
  const scene = parseScene(
    `lampwright: 1
scene: mara stands before the camera
length: 40
sensor: { noise: 0.01, outliers: 0, shadow: 0, jitter: 0, rate: 40, latency: 0 }
performers:
  mara: { height: 1.5, path: [{ at: 0, place: [5, 3] }, { at: 10, place: [5, 3] }, { at: 14, place: [5, 0.4] }, { at: 30, place: [5, 0.4] }, { at: 34, place: [5, 3] }] }
  ilja: { path: [{ at: 0, place: [7, 3] }] }
  noor: { path: [{ at: 0, place: [3, 3] }] }
`,
    'a.scene.yaml',
    SHOW,
    () => ({ ok: false, why: 'there is none' }),
  );
  if (!scene.ok) throw new Error(scene.problems[0]?.message);
  const clock = { startS: 0, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 };
  const result = reportRehearsal(SHOW, scene.scene, clock, { version: '0', node: '20' }, String);
  const { recommendations, keepOuts, withoutHead } = result.report;
  expect(keepOuts[0]).toMatchObject({ fixture: 'back', keepOut: 'camera', times: 1 });
  const told = recommendations.map(({ what }) => what);
  expect(told).toHaveLength(3);
  expect(told).toContainEqual(
    expect.stringMatching(
      /^back was dark for the keep-out camera once, 2\d\.\d s in all \(\d\d\.\d % of the time\): its beam would have touched it\.$/,
    ),
  );
  expect(told).toContainEqual(
    expect.stringMatching(
      /^ilja was tracked and had no head for 1\d\.\d s: all heads that can light them were on others\.$/,
    ),
  );
  // A head that follows her, and doesn't choose, was on her before and after.
  expect(told).toContainEqual(
    expect.stringMatching(
      /^mara was tracked and had no head for 1\d\.\d s: none of the heads for them could light them: behind the keep-out camera\.$/,
    ),
  );
  const page = rehearsalPage(result, SHOW, String);
  const sumOf = (all: readonly { forS: number }[]) =>
    all.reduce((sum, { forS }) => sum + forS, 0).toFixed(1);
  const figures = page.slice(page.indexOf('<div class="figures">'), page.indexOf('<h2>'));
  expect(figures).toContain(`<b>${sumOf(keepOuts)} s</b>dark for a keep-out, over all heads`);
  expect(figures).toContain(
    `<b>${sumOf(withoutHead)} s</b>tracked without a head, over all performers`,
  );
});

test('a head that is dark on its way past a keep-out is as it should be, and many people are one advice', () => {
  const report = { fromS: 0, endS: 600, withoutHead: [], keepOuts: [], outsideBeam: [] };
  const dark = { fixture: 'back', keepOut: 'camera', times: 10, forS: 20, longestS: 2.1 };
  expect(headAdvice({ ...report, keepOuts: [dark] })).toEqual([]);
  const [often] = headAdvice({ ...report, keepOuts: [{ ...dark, times: 20, forS: 40 }] });
  expect(often?.what).toBe(
    'back was dark for the keep-out camera 20 times, 40.0 s in all, 2.1 s at most (6.7 % of the time): its beam would have touched it.',
  );
  const without = (label: string, forS: number, whileFreeS: number, whileBarredS = 0) => ({
    ...{ performer: label, label, forS, whileFreeS, whileBarredS, whileOffS: 0 },
    barredBy: { reach: whileBarredS > 0, keepOuts: whileBarredS > 0 ? ['camera'] : [] },
  });
  const advice = headAdvice({
    ...report,
    withoutHead: [without('Mara', 12, 2), without('Ilja', 20, 20), without('Noor', 90, 0, 20)],
  });
  expect(advice.map(({ what, weightS }) => [what, weightS])).toEqual([
    [
      '2 people were tracked and had no head for a time (Noor 1:10 min and Mara 10.0 s): all heads that can light them were on others.',
      40,
    ],
    [
      'Ilja was tracked and had no head for 20.0 s: a head that can light them was on nobody: on its way, or pinned.',
      10,
    ],
    [
      'Noor was tracked and had no head for 20.0 s: none of the heads for them could light them: out of reach, or behind the keep-out camera.',
      10,
    ],
  ]);
});

test('a head that follows counts, and whom no head can have is told apart from whom others keep', () => {
  const pool = (plain: string, keepOut: string) =>
    showOf(`lampwright: 1
name: One head for two
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { mara: { trackers: [1] }, ilja: { trackers: [2] } }
${keepOut}
fixtures:
  front: { profile: moving-head, universe: 1, address: 1, position: [5, 0, 6], safe: { aim: [5, 4, 0] } }
  side: { profile: moving-head, universe: 1, address: 21, position: [0, 4, 6], safe: { aim: [3, 4, 0] } }
mappings:
  - { name: shared, follow: { share: [mara, ilja] }, fixtures: [side], set: { Dimmer: 80 } }
  - { name: front, follow: ${plain}, fixtures: [front], set: { Dimmer: 60 } }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`);
  const told = (show: ReturnType<typeof showOf>) => {
    const scene = parseScene(
      `lampwright: 1
scene: two people
length: 20
sensor: { noise: 0.01, outliers: 0, shadow: 0, jitter: 0, rate: 40, latency: 0 }
performers:
  mara: { path: [{ at: 0, place: [2, 3] }] }
  ilja: { path: [{ at: 0, place: [8, 5] }] }
`,
      'a.scene.yaml',
      show,
      () => ({ ok: false, why: 'there is none' }),
    );
    if (!scene.ok) throw new Error(scene.problems[0]?.message);
    const clock = { startS: 0, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 };
    const { report } = reportRehearsal(
      show,
      scene.scene,
      clock,
      { version: '0', node: '20' },
      String,
    );
    return report.withoutHead.filter(({ forS }) => forS > 3);
  };
  // The shared head is on Ilja.
  expect(told(pool('mara', ''))).toEqual([]);
  const [mara, nobodyElse] = told(pool('ilja', ''));
  expect(nobodyElse).toBeUndefined();
  expect(mara).toMatchObject({ performer: 'mara', whileFreeS: 0, whileBarredS: 0 });
  // Its beam would touch the camera on Mara's way.
  const camera = 'keepOut: { camera: { point: [1.2, 3.4, 3.2], radius: 0.6 } }';
  const [behind] = told(pool('ilja', camera));
  expect(behind?.barredBy).toEqual({ reach: false, keepOuts: ['camera'] });
  expect(behind?.whileBarredS).toBe(behind?.forS);
});

test('who has a head whose mapping an operator has off has none, and it is said why', () => {
  const show = showOf(`lampwright: 1
name: One head each
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { mara: { trackers: [1] }, ilja: { trackers: [2] } }
fixtures:
  front: { profile: moving-head, universe: 1, address: 1, position: [5, 0, 6] }
  side: { profile: moving-head, universe: 1, address: 21, position: [0, 4, 6] }
mappings: [{ name: shared, follow: { share: [mara, ilja] }, fixtures: [front, side], set: { Dimmer: 80 } }]
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`);
  const rig = new Rig(show);
  const times = new HandOverTimes();
  const places = (t: number) => {
    const sway = 0.01 * Math.sin(9 * t);
    return { 1: [2 + sway, 3, 1.2], 2: [8 + sway, 5, 1.2] } as const;
  };
  const run = (seconds: number) => {
    rig.run(seconds, places, () => times.ticked(rig.view, rig.nowS, 1 / 40));
  };
  run(8);
  const before = times.without();
  rig.order({ kind: 'mapping', mapping: 'shared', off: true, cause: 'command' });
  run(10);
  rig.order({ kind: 'mapping', mapping: 'shared', off: false, cause: 'command' });
  run(5);
  const all = times.without();
  expect(all.map(({ performer }) => performer)).toEqual(['mara', 'ilja']);
  for (const { performer, forS, whileOffS, whileFreeS, whileBarredS } of all) {
    const was = before.find(one => one.performer === performer)?.forS ?? 0;
    // Until it has faded out it lights them.
    expect(whileOffS).toBeGreaterThan(8);
    expect(whileOffS).toBeLessThan(10.3);
    expect(forS - was).toBeLessThan(whileOffS + 0.3);
    expect([whileFreeS, whileBarredS]).toEqual([expect.any(Number), 0]);
  }
  const lines = handOverLines({ heads: times.heads(100), withoutHead: all }, text => text);
  expect(lines).toContainEqual(
    expect.stringMatching(/^ {2}mara .* of it while an operator had the mapping off$/),
  );
  const report = { fromS: 0, endS: 23, keepOuts: [], outsideBeam: [] };
  expect(headAdvice({ ...report, withoutHead: all })).toEqual([]);
});
