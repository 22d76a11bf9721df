import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { decode } from '../../src/fixtures/encode.js';
import { type RehearsedTick, rehearse } from '../../src/rehearsal/rehearse.js';
import { parseScene } from '../../src/rehearsal/scenes/scene-file.js';
import { configShow } from '../show/base.js';
import { showOf } from '../show/show-of.js';

const SHOW = showOf(configShow('salt-lantern'));

function scene() {
  const text = readFileSync('config/scenes/three-cues.scene.yaml', 'utf8');
  const read = parseScene(text, 'a.scene.yaml', SHOW, () => ({ ok: false, why: 'none' }));
  if (!read.ok) throw new Error(read.problems[0]?.message);
  return read.scene;
}

/** Dimmer as it stands in the slots. */
function dimmer({ view, levels }: RehearsedTick, fixture: string): number {
  const plan = view.fixtures.find(one => one.plan.name === fixture)?.plan;
  const channel = plan?.profile.channels.find(one => one.attribute === 'Dimmer');
  if (plan === undefined || channel === undefined) throw new Error(`no ${fixture}`);
  return Math.round(decode(channel, levels, plan.firstSlot));
}

test('the scene plays through all the cues of The Salt Lantern, an exit and a loss in the middle one', () => {
  const seen = new Map<number, Record<string, number | string | undefined>>();
  rehearse(
    SHOW,
    scene(),
    { startS: 1000, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 },
    {
      ticked: tick => {
        const at = Math.round(tick.sceneS * 40) / 40;
        if (![20, 40, 50, 58, 85].includes(at)) return;
        seen.set(at, {
          cue: tick.view.cue?.name,
          stove: dimmer(tick, 'stove-glow'),
          window: dimmer(tick, 'window-glow'),
          lantern: dimmer(tick, 'lantern-glow'),
          harbour: dimmer(tick, 'harbour-lamp'),
          back: dimmer(tick, 'head-back'),
          left: dimmer(tick, 'head-left'),
        });
      },
    },
  );
  // Tobias at the stove, Ines at the window.
  expect(seen.get(20)).toMatchObject({ cue: 'evening', stove: 85, window: 70, back: 55 });
  // She is all but at the lantern, and the window is dark.
  expect(seen.get(40)).toMatchObject({ cue: 'storm', stove: 85, window: 0 });
  expect(seen.get(40)?.lantern).toBeGreaterThan(75);
  expect(seen.get(40)?.harbour).toBeGreaterThanOrEqual(12);
  expect(seen.get(40)?.harbour).toBeLessThanOrEqual(35);
  // Tobias has gone off. The Gull is lost: their head is dark, and the stove, at which they might be, safe.
  expect(seen.get(50)).toMatchObject({ cue: 'storm', stove: 20, window: 0, back: 0, left: 0 });
  expect(seen.get(50)?.lantern).toBeGreaterThan(75);
  // The Gull is back. Tobias is off stage, not lost: the stove is as low as with nobody near it.
  expect(seen.get(58)).toMatchObject({ cue: 'storm', stove: 8, back: 55, left: 0 });
  // Ines at the window, at 60 % of what it does in the evening; Tobias at the harbour.
  expect(seen.get(85)).toMatchObject({
    cue: 'dawn',
    stove: 3,
    window: 42,
    harbour: 90,
    back: 55,
    left: 65,
  });
});
