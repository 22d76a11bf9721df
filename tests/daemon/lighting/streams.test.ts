import { expect, it } from 'vitest';
import { streamsOf } from '../../../src/daemon/lighting/streams.js';
import { fallbackPlan } from '../../../src/show/model/safe-look.js';
import { parseShow } from '../../../src/show/parse.js';
import { demand } from '../../demand.js';
import { shapesOf } from '../../one-shape.js';

const UNIVERSES = 40;
const parsed = parseShow(
  `lampwright: 1
name: many universes
stage: { x: [0, 10], y: [0, 10] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers: { ines: { trackers: [1] } }
fixtures:
${Array.from({ length: UNIVERSES }, (_, i) => `  head-${i}: { profile: moving-head, universe: ${i + 1}, address: 1, position: [5, 5, 6] }`).join('\n')}
outputs:
  gateways: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: ["1-20"] }
  nodes: { protocol: artnet, interface: 127.0.0.1, to: [127.0.0.1], universes: ["21-40"] }
`,
  'many.show.yaml',
);
demand(parsed.ok, () => JSON.stringify(parsed));
const { show } = parsed as Extract<typeof parsed, { ok: true }>;
const source = { cid: new Uint8Array(16), sourceName: 'streams' };

it('has one shape for what is read of each universe in each beat', () => {
  const sent = new Uint8Array(UNIVERSES * 512);
  const streams = show.outputs.flatMap(plan => streamsOf(plan, source, undefined, sent));
  expect(streams).toHaveLength(UNIVERSES);
  // One for each protocol at the most.
  expect(shapesOf(streams)).toBeLessThanOrEqual(2);
});

it('has one shape for what is read of each channel in each beat', () => {
  const channels = fallbackPlan(show).fixtures.flatMap(fixture => fixture.channels);
  expect(channels.length).toBeGreaterThan(UNIVERSES);
  expect(shapesOf(channels)).toBe(1);
});
