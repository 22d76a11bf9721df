import { MOST_ANCHORS } from '../../planning/options.js';
import type { Finding } from '../problems/problem.js';
import type { ShowFile } from '../schema/schema.js';
import { reversed } from './stage.js';

/** Anchors nearer than this are one that stands in the file twice. */
const SAME_M = 0.01;

/** Anchors and obstacles. */
export function checkAnchors(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  const anchors = Object.entries(show.anchors);
  if (anchors.length > MOST_ANCHORS) {
    findings.push({
      code: 'anchors-too-many',
      message: `the show has ${anchors.length} anchors; at most ${MOST_ANCHORS} can be planned at once.`,
      path: ['anchors'],
      atKey: true,
    });
  }
  anchors.forEach(
    (
      [
        name,
        {
          position: [x, y, z],
        },
      ],
      index,
    ) => {
      const same = anchors
        .slice(0, index)
        .find(([, { position: p }]) => Math.hypot(x - p[0], y - p[1], z - p[2]) < SAME_M);
      if (same === undefined) return;
      findings.push({
        code: 'anchors-same-place',
        message: `anchors "${same[0]}" and "${name}" have the same position.`,
        path: ['anchors', name, 'position'],
      });
    },
  );
  for (const [name, { box, cylinder }] of Object.entries(show.obstacles)) {
    const path = ['obstacles', name];
    if ((box === undefined) === (cylinder === undefined)) {
      const has = box === undefined ? 'no shape' : 'two shapes';
      findings.push({
        code: 'obstacle-shape',
        message: `obstacle "${name}" has ${has}; give it either a box or a cylinder.`,
        path,
        atKey: true,
      });
    }
    for (const axis of ['x', 'y', 'z'] as const) {
      if (box !== undefined)
        findings.push(...reversed(box[axis], [...path, 'box', axis], 'metres'));
    }
    if (cylinder !== undefined) {
      findings.push(...reversed(cylinder.z, [...path, 'cylinder', 'z'], 'metres'));
    }
  }
  return findings;
}
