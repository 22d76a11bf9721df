import { expect, it } from 'vitest';
import { parseScene } from '../../src/rehearsal/scenes/scene-file.js';
import { reportRehearsal } from '../../src/reporting/rehearsal.js';
import { showOf } from '../show/show-of.js';

const SHOW = showOf(`lampwright: 1
name: A lit safe look
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] } }
fixtures:
  head: { profile: moving-head, universe: 1, address: 1, position: [5, -2, 6], safe: { aim: [8, 7, 0], Dimmer: 40 } }
mappings: [{ follow: ines, fixtures: [head], set: { Dimmer: 80 } }]
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`);

it("of a head is nobody's: how far it is off them is not measured while it goes out", () => {
  const scene = parseScene(
    `lampwright: 1
scene: a loss
length: 20
sensor: { noise: 0.01, outliers: 0, shadow: 0, jitter: 0, rate: 40, latency: 0 }
performers: { ines: { path: [{ at: 0, place: [2, 2] }], losses: [{ from: 6, to: 12 }] } }
`,
    'a.scene.yaml',
    SHOW,
    () => ({ ok: false, why: 'there is none' }),
  );
  if (!scene.ok) throw new Error(scene.problems[0]?.message);
  const clock = { startS: 0, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 };
  const result = reportRehearsal(SHOW, scene.scene, clock, { version: '0', node: '20' }, String);
  expect(result.heads).toHaveLength(1);
  expect(result.heads[0]?.litS).toBeGreaterThan(6);
  expect(result.heads[0]?.worstM).toBeLessThan(0.3);
});
