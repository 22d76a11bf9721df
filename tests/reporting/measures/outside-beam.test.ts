import { expect, it } from 'vitest';
import { parseScene } from '../../../src/rehearsal/scenes/scene-file.js';
import { OutsideBeams } from '../../../src/reporting/measures/outside-beam.js';
import { rehearsalPage } from '../../../src/reporting/pages/rehearsal-page.js';
import { rehearsalText } from '../../../src/reporting/pages/rehearsal-text.js';
import { reportText } from '../../../src/reporting/pages/report-text.js';
import { reportRehearsal } from '../../../src/reporting/rehearsal.js';
import { showOf } from '../../show/show-of.js';

/** The head is as far from both: at their throw its beam is as wide as at the middle. */
const show = (beam: string) =>
  showOf(`lampwright: 1
name: The two of them
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { label: Tobias, trackers: [2] } }
fixtures:
  head: { profile: moving-head, universe: 1, address: 1, position: [5, -2, 6], safe: { aim: [8, 7, 0] } }
mappings: [{ follow: { middle: [ines, tobias] }, fixtures: [head], beam: ${beam}, set: { Dimmer: 80 } }]
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`);

/** From 2 m apart to 6 m, and back. A walk is eased, 3 s^2 - 2 s^3: each is a quarter of the way, 1.5 m from the middle, after s = 0.3264. */
const SCENE = `lampwright: 1
scene: apart
length: 26
sensor: { noise: 0.01, outliers: 0, shadow: 0, jitter: 0, rate: 40, latency: 0 }
performers:
  ines: { path: [{ at: 0, place: [4, 4] }, { at: 12, place: [4, 4] }, { at: 14, place: [2, 4] }, { at: 18, place: [2, 4] }, { at: 20, place: [4, 4] }] }
  tobias: { path: [{ at: 0, place: [6, 4] }, { at: 12, place: [6, 4] }, { at: 14, place: [8, 4] }, { at: 18, place: [8, 4] }, { at: 20, place: [6, 4] }]LOST }
`;

function play(of: ReturnType<typeof show>, text = SCENE.replace('LOST', '')) {
  const scene = parseScene(text, 'a.scene.yaml', of, () => ({ ok: false, why: 'there is none' }));
  if (!scene.ok) throw new Error(scene.problems[0]?.message);
  const clock = { startS: 0, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 };
  const tracked = new OutsideBeams();
  const version = { version: '0', node: '20' };
  const result = reportRehearsal(of, scene.scene, clock, version, String, {
    ticked: ({ view, nowS }) => tracked.ticked(view, nowS, 1 / 40),
  });
  return { result, tracked: tracked.all(26) };
}

it('a beam that opens to 3 m leaves both out while they are more than 1.5 m from the middle', () => {
  const of = show('{ diameter: 1, cover: 3 }');
  const { result, tracked } = play(of);
  const outS = 12 + 2 * 0.3264;
  const backS = 20 - 2 * 0.3264;
  // A recording knows where their trackers had them, which are behind when somebody begins to walk.
  for (const [all, withinS] of [
    [result.report.outsideBeam, 0.05],
    [tracked, 0.15],
  ] as const) {
    expect(all.map(({ performer }) => performer)).toEqual(['ines', 'tobias']);
    for (const one of all) {
      expect(one).toMatchObject({ fixture: 'head', times: 1 });
      expect(Math.abs(one.outsideS - (backS - outS))).toBeLessThan(withinS);
      expect(one.longestS).toBe(one.outsideS);
      expect(Math.abs((one.longestFromS ?? 0) - outS)).toBeLessThan(withinS);
      expect(one.litS).toBeGreaterThan(20);
    }
  }
  const at = (s: number) => `${s.toFixed(0)} s`;
  const words =
    /^ {2}head +Tobias +outside once, [67]\.\d s of 2\d\.\d s; the longest [67]\.\d s, from 1[23] s$/;
  const lines = rehearsalText(result, at, text => text);
  expect(lines).toContainEqual(expect.stringMatching(words));
  const report = reportText(result.report, { day: at, at }, text => text);
  expect(report).toContainEqual(expect.stringMatching(words));
  expect(rehearsalPage(result, of, at)).toContain('Where they truly are');
  expect(result.report.recommendations.map(({ what }) => what)).toContainEqual(
    expect.stringMatching(
      /^head follows the middle of several, and some of them were outside its beam: ines [67]\.\d s and Tobias [67]\.\d s\.$/,
    ),
  );
});

it('a beam that opens far enough leaves out nobody; who is lost is not to be held', () => {
  const of = show('{ diameter: 1, cover: 9 }');
  const lost = SCENE.replace('LOST', ', losses: [{ from: 11, to: 26 }]');
  for (const text of [SCENE.replace('LOST', ''), lost]) {
    const [ines, tobias] = play(of, text).result.report.outsideBeam;
    expect([ines?.outsideS, tobias?.outsideS]).toEqual([0, 0]);
    expect(ines?.litS).toBeGreaterThan(20);
    if (text === lost) expect(tobias?.litS).toBeLessThan(13);
  }
});
