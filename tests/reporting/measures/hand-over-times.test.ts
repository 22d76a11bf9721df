import { expect, it } from 'vitest';
import { parseScene } from '../../../src/rehearsal/scenes/scene-file.js';
import { reportRehearsal } from '../../../src/reporting/rehearsal.js';
import { handOverLines } from '../../../src/reporting/words/hand-over-words.js';
import { showOf } from '../../show/show-of.js';

const SHOW = showOf(`lampwright: 1
name: In order
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { label: Ines, trackers: [1] }, tobias: { label: Tobias, trackers: [2] } }
fixtures:
  left: { profile: moving-head, universe: 1, address: 1, position: [2, -2, 6], safe: { aim: [5, 4, 0], Dimmer: 30 } }
  right: { profile: moving-head, universe: 1, address: 21, position: [8, -2, 6], safe: { aim: [5, 4, 0], Dimmer: 30 } }
  plain: { profile: moving-head, universe: 1, address: 41, position: [5, -2, 6], safe: { Dimmer: 0 } }
mappings:
  - { follow: { order: [ines, tobias] }, fixtures: [left, right], set: { Dimmer: 80 } }
  - { follow: ines, fixtures: [plain], set: { Dimmer: 80 } }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`);

it('heads that follow in an order are in the table; at a lit safe look they are on nobody', () => {
  const scene = parseScene(
    `lampwright: 1
scene: one is lost
length: 30
sensor: { noise: 0.01, outliers: 0, shadow: 0, jitter: 0, rate: 40, latency: 0 }
performers:
  ines: { path: [{ at: 0, place: [3, 3] }] }
  tobias: { path: [{ at: 0, place: [6, 5] }], losses: [{ from: 12, to: 30 }] }
`,
    'a.scene.yaml',
    SHOW,
    () => ({ ok: false, why: 'there is none' }),
  );
  if (!scene.ok) throw new Error(scene.problems[0]?.message);
  const clock = { startS: 0, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 };
  const { report } = reportRehearsal(
    SHOW,
    scene.scene,
    clock,
    { version: '0', node: '20' },
    String,
  );
  const lines = handOverLines(report, text => text);
  expect(lines[1]).toMatch(/^ {2}left +0 {2}Ines 2\d\.\d s$/);
  // Until he is lost, and the fade after that; not the 14 s at the safe look.
  expect(lines[2]).toMatch(/^ {2}right +0 {2}Tobias 1[0-5]\.\d s$/);
  expect(report.heads.map(({ fixture }) => fixture)).toEqual(['left', 'right']);
});
