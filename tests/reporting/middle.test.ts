import { expect, it } from 'vitest';
import { parseScene } from '../../src/rehearsal/scenes/scene-file.js';
import { reportRehearsal } from '../../src/reporting/rehearsal.js';
import { explainMoment } from '../../src/sheets/explain-moment.js';
import { stand } from '../../src/sheets/stand.js';
import { showOf } from '../show/show-of.js';

const SHOW = showOf(`lampwright: 1
name: The two of them
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] } }
fixtures:
  head: { profile: moving-head, universe: 1, address: 1, position: [5, -2, 6], safe: { aim: [8, 7, 0] } }
mappings: [{ follow: { middle: [ines, tobias] }, fixtures: [head], beam: { diameter: 2, cover: 6 }, set: { Dimmer: 80 } }]
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`);

it('a head on the middle of two is measured against it, and told to be on both', () => {
  const scene = parseScene(
    `lampwright: 1
scene: apart, and one of them is lost
length: 24
sensor: { noise: 0.01, outliers: 0, shadow: 0, jitter: 0, rate: 40, latency: 0 }
performers:
  ines: { path: [{ at: 0, place: [3, 3] }] }
  tobias: { path: [{ at: 0, place: [6, 5] }], losses: [{ from: 12, to: 24 }] }
`,
    'a.scene.yaml',
    SHOW,
    () => ({ ok: false, why: 'there is none' }),
  );
  if (!scene.ok) throw new Error(scene.problems[0]?.message);
  const clock = { startS: 0, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 };
  const result = reportRehearsal(SHOW, scene.scene, clock, { version: '0', node: '20' }, String);
  const both = result.heads.find(({ performer }) => performer === 'the middle of ines and tobias');
  const one = result.heads.find(({ performer }) => performer === 'ines');
  expect(both?.litS).toBeGreaterThan(8);
  // 1.8 m from either of them.
  expect(both?.meanM).toBeLessThan(0.15);
  expect(one?.litS).toBeGreaterThan(5);
  expect(one?.meanM).toBeLessThan(0.15);
  const [head] = result.report.heads;
  expect(head?.stretches.map(({ label }) => label)).toEqual([
    'the middle of ines and tobias',
    'ines',
  ]);
});

it('explain says that it is on both', () => {
  const places = new Map([
    [0, { x: 3, y: 3, z: 0 }],
    [1, { x: 6, y: 5, z: 0 }],
  ]);
  const moment = explainMoment(
    stand(SHOW, { places, lost: new Set(), off: new Set(), forS: 8, orders: [] }),
  );
  const words = JSON.stringify(moment);
  expect(words).toContain('on the middle of ines and tobias');
});
