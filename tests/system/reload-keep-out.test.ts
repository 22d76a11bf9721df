/** Heads that a keep-out applies to, over a reload: the gate at the wire knows where they are. */
import { readFileSync, writeFileSync } from 'node:fs';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, SacnReceiver, Trackers, until, variantOf } from './support.js';

/** First slot of each head of Low Water, in universe 2; its dimmer is the fifth. */
const HEADS = Array.from({ length: 12 }, (_, i) => 20 * i);
const DIMMER = 4;
/** Nobody within the pool, and each far enough from the others that no head has a reason to change. */
const PLACES = [
  [2, 2],
  [2, 5],
  [2, 8.5],
  [5.5, 1.5],
  [8.5, 1.5],
  [12, 2],
  [12, 5],
  [12, 8.5],
] as const;
const STANDS_S = 1;

let show: ReturnType<typeof variantOf>;
let daemon: Daemon;
let trackers: Trackers;
let sacn: SacnReceiver;

const litHeads = (slots: Uint8Array) => HEADS.filter(first => (slots[first + DIMMER] ?? 0) > 0);
const reloaded = () => daemon.log.filter(({ kind }) => kind === 'reloaded').length;
const keptDark = () => daemon.log.filter(({ kind }) => kind === 'keep-out-held');

/** All their slots have been the same for a while. */
function isAtRest(): boolean {
  const nowS = performance.now() / 1000;
  const { last, packets } = sacn;
  if (litHeads(last).length !== PLACES.length) return false;
  const moved = packets.findLast(({ slots }) => Buffer.compare(slots, last) !== 0);
  return moved !== undefined && nowS - moved.atS > STANDS_S;
}

async function reload(edits: readonly (readonly [string, string])[]): Promise<void> {
  const before = reloaded();
  let text = readFileSync(show.file, 'utf8');
  for (const [from, to] of edits) text = text.replace(from, to);
  writeFileSync(show.file, text);
  daemon.signal('SIGHUP');
  await until('it is loaded', () => reloaded() === before + 1, 20);
}

beforeEach(async () => {
  // A busy machine keeps the daemon waiting for more than the usual 0.25 s, and that alone leads to the safe look.
  show = variantOf('config/low-water.show.yaml', [
    ['performers:', 'watchdog: { engineSilent: { after: 2 } }\nperformers:'],
  ]);
  sacn = await SacnReceiver.open(2);
  trackers = new Trackers();
  daemon = Daemon.run(show.file);
  PLACES.forEach(([x, y], i) => {
    trackers.place(i + 1, x, y);
  });
  await until('eight heads are lit, and at rest', isAtRest, 40);
});

afterEach(async () => {
  trackers.close();
  await daemon.stop();
  sacn.close();
  show.remove();
});

it('no slot of a head moves where nothing of it changes', async () => {
  const lit = Uint8Array.from(sacn.last);
  const packets = sacn.packets.length;
  await reload([
    ['label: Mara', 'label: Mara Lund'],
    ['outputs:', 'reload: 4\n\noutputs:'],
  ]);
  // Time for whatever it would do: it was dark within a beat, and up again in a fifth of a second.
  const loadedS = performance.now() / 1000;
  await until('a while has gone by', () => performance.now() / 1000 > loadedS + 2, 5);
  const since = sacn.packets.slice(packets);
  expect(since.length).toBeGreaterThan(0);
  for (const { slots } of since) expect(slots).toEqual(lit);
  expect(keptDark()).toEqual([]);
});

it('a keep-out that is added where lit beams stand darkens them', async () => {
  const lit = litHeads(sacn.last);
  await reload([
    [
      '  camera: {',
      '  whole: { polygon: [[-2, -1.5], [16, -1.5], [16, 12], [-2, 12]], height: [-1, 2.5], fixtures: [fronts] }\n  camera: {',
    ],
  ]);
  // The fronts are the first four; the sides go on.
  await until(
    'the fronts are dark',
    () => litHeads(sacn.last).every(first => first >= (HEADS[4] as number)),
    5,
  );
  // At once, by the gate at the wire, which says so; the engine would have taken the time of a turn.
  await until('it is told', () => keptDark().length > 0, 5);
  expect(keptDark()[0]?.msg).toContain('kept dark at the output');
  expect(lit.filter(first => first < (HEADS[4] as number)).length).toBe(4);
  expect(litHeads(sacn.last).length).toBeGreaterThan(0);
});
