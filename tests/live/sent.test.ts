import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { encodeFixture } from '../../src/fixtures/encode.js';
import { describeStage } from '../../src/live/describe-stage.js';
import { EnginePicture } from '../../src/live/engine-part.js';
import { fixtureInWords, lightInWords } from '../../src/live/light-words.js';
import { beamOf, intensityOf, levelOf, shownValue } from '../../src/live/reading.js';
import { sentOf } from '../../src/live/sent.js';
import { plainView } from '../../src/panel/plain-view.js';
import { SLOTS_PER_UNIVERSE } from '../../src/show/model/model.js';
import { Rig } from '../engine/harness.js';
import { snapshotOf, type Told } from '../panel/support.js';

const rig = new Rig(readFileSync('config/salt-lantern.show.yaml', 'utf8')).run(8, {
  ...{ 1: [8.4, 7, 1.58], 2: [2, 6, 1.7], 3: [5, 2, 1.6] },
});
const { show } = rig;
const stage = describeStage(show, 1);
const engine = new EnginePicture(rig.view).take();

/** Half way between what is lit and the safe look, as a supervisor that fades sends it. */
const out = new Uint8Array(show.universes.length * SLOTS_PER_UNIVERSE);
const half = show.fixtures.map(({ profile, safe, firstSlot }, f) => {
  const values = safe.map((value, c) => (value + (engine.fixtures[f]?.values[c] ?? 0)) / 2);
  encodeFixture(profile, values, out, firstSlot);
  const channel = intensityOf(stage.fixtures[f] as (typeof stage.fixtures)[number]);
  return channel === undefined ? null : (values[channel] as number);
});
const sent = sentOf(show, out);

const at = (name: string) => stage.fixtures.findIndex(one => one.name === name);
const told = (phase: Told['phase'], more: Told = {}) => ({
  ...snapshotOf(show, { engine, phase: phase ?? 'live', ...more }),
  sent,
});

it('reads from the slots how bright each fixture is, to within half a step of a slot', () => {
  expect(sent).toHaveLength(half.length);
  for (const [f, level] of half.entries()) {
    if (level === null) expect(sent[f]).toBeNull();
    else expect(Math.abs((sent[f] ?? 0) - level)).toBeLessThanOrEqual(0.5 * (100 / 255) + 0.01);
  }
  // A hazer has no intensity.
  expect(half.filter(one => one === null).length).toBeGreaterThan(0);
});

it('shows what leaves, whatever the engine asks for, and while there is none', () => {
  const stove = { fixture: at('stove-glow'), channel: 0 };
  for (const phase of ['losing', 'safe', 'rearming', 'returning', 'live'] as const) {
    for (const one of [told(phase), told(phase, { engine: null })]) {
      expect([phase, shownValue(stage, one, stove)]).toEqual([phase, sent[stove.fixture]]);
      expect(levelOf(stage, one, stove)).toBe(sent[stove.fixture]);
    }
  }
  expect(plainView(stage, told('losing'))).toContain(
    `${stage.fixtures[stove.fixture]?.label} ${Math.round(sent[stove.fixture] ?? 0)}`,
  );
});

it('calls nothing safe that is not there yet', () => {
  const index = at('stove-glow');
  expect(fixtureInWords(stage, told('safe'), index).text).toBe('on the way to safe');
  expect(lightInWords(stage, told('safe', { engine: null }))).toMatch(
    /on the way to safe: .*stove \d+ %/,
  );
});

it('draws no beam where the engine does not aim', () => {
  const head = at('head-back');
  expect(beamOf(stage, told('live'), head)).toBeDefined();
  for (const phase of ['losing', 'safe', 'rearming'] as const) {
    expect(beamOf(stage, told(phase), head)).toBeUndefined();
  }
});

it('draws no beam of a head whose output sends nothing', () => {
  const head = at('head-back');
  const one = told('live');
  const status = { ...one.status, notSent: ['head-back'] };
  expect(beamOf(stage, { ...one, status }, head)).toBeUndefined();
});
