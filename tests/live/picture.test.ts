import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { describeStage } from '../../src/live/describe-stage.js';
import { EnginePicture } from '../../src/live/engine-part.js';
import { EngineSchema } from '../../src/live/engine-schema.js';
import { fixtureInWords } from '../../src/live/light-words.js';
import { isSafeUnknown, safeValue } from '../../src/live/reading.js';
import { SnapshotSchema } from '../../src/live/schema.js';
import { StageSchema } from '../../src/live/stage-schema.js';
import { Rig } from '../engine/harness.js';
import { snapshotOf } from '../panel/support.js';

const TEXT = readFileSync('config/salt-lantern.show.yaml', 'utf8');
const AT = { 1: [3, 5, 1.58], 2: [7, 3, 1.7], 3: [5, 2, 1.6] } as const;
const rig = new Rig(TEXT).run(8, AT);
const picture = new EnginePicture(rig.view);
const stage = describeStage(rig.show, 1);

describe('the picture of a tick', () => {
  it('is as its schema says, and so are the stage and the whole snapshot', () => {
    const engine = picture.take();
    expect(EngineSchema.strict().parse(engine)).toEqual(engine);
    expect(StageSchema.strict().parse(stage)).toEqual(stage);
    const snapshot = snapshotOf(rig.show, { engine });
    expect(SnapshotSchema.parse(JSON.parse(JSON.stringify(snapshot)))).toEqual(snapshot);
  });

  it('has performers where they are, and beams on the line from the head through its point', () => {
    const { performers, fixtures } = picture.take();
    expect(performers[0]?.place?.x).toBeCloseTo(3, 1);
    expect(performers[0]?.place?.y).toBeCloseTo(5, 1);
    const index = stage.fixtures.findIndex(({ name }) => name === 'head-right');
    // The head hangs at 1, 1, 5.2 and aims 0.1 m below her tracker, at 3, 5, 1.48: straight on to the floor.
    const t = 5.2 / (5.2 - 1.48);
    expect(fixtures[index]?.beam?.x).toBeCloseTo(1 + 2 * t, 1);
    expect(fixtures[index]?.beam?.y).toBeCloseTo(1 + 4 * t, 1);
    expect(fixtures[index]).toMatchObject({ follows: 'ines', reachable: true });
    // At the height at which it aims at her it is on her, as wide as its mapping holds it there.
    const on = fixtures[index]?.beamOn;
    expect([on?.x, on?.y, on?.z, on?.diameterM].map(one => Number(one).toFixed(1))).toEqual([
      ...['3.0', '5.0', '1.5', '1.7'],
    ]);
  });

  it('names the fixtures that each enable brings on', () => {
    const enabled = stage.fixtures.flatMap(({ label, hazards }) =>
      hazards ? [[label, hazards]] : [],
    );
    expect(enabled).toEqual([['haze', ['atmospheric']]]);
    expect(stage.hazards).toEqual(['atmospheric']);
  });

  it('says why a head is dark', () => {
    const dark = new Rig(TEXT).run(8, AT).run(4, { 2: AT[2], 3: AT[3] });
    const engine = new EnginePicture(dark.view).take();
    const index = stage.fixtures.findIndex(({ name }) => name === 'head-right');
    expect(engine.fixtures[index]).toMatchObject({ dark: 'lost', darkFor: 'ines' });
    const snapshot = snapshotOf(dark.show, { engine });
    expect(fixtureInWords(stage, snapshot, index)?.text).toBe('dark: Ines is lost');
  });

  it("says for whom a lamp shows its safe value, and that a safe value is the desk's", () => {
    const lamp = stage.fixtures.findIndex(({ name }) => name === 'stove-glow');
    expect(picture.take().fixtures[lamp]).not.toHaveProperty('safeFor');
    const lost = new Rig(TEXT).run(8, AT).run(4, { 2: AT[2], 3: AT[3] });
    expect(new EnginePicture(lost.view).take().fixtures[lamp]?.safeFor).toEqual(['ines']);

    const desk =
      'desk:\n  house: { protocol: sacn, universe: 20, interface: lo, ground: 1 }\noutputs:';
    const text = TEXT.replace('\noutputs:', `\n${desk}`).replace(
      'safe: { Dimmer: 20 } }',
      'safe: { Dimmer: 20 }, ground: safe }',
    );
    const grounded = new Rig(text).run(1, AT);
    const described = describeStage(grounded.show, 1);
    expect(described.fixtures[lamp]?.channels[0]?.safeFromDesk).toBe(true);
    const engine = new EnginePicture(grounded.view).take();
    expect(engine.fixtures[lamp]?.safe).toEqual([20]);
    const at = { fixture: lamp, channel: 0 };
    const moved = engine.fixtures.map((one, i) => (i === lamp ? { ...one, safe: [55] } : one));
    const told = { engine: { ...engine, fixtures: moved } };
    expect(safeValue(described, snapshotOf(grounded.show, told), at)).toBe(55);
    const without = snapshotOf(grounded.show, { engine: null });
    expect(isSafeUnknown(described, without, at)).toBe(true);
  });

  it('says how far a mapping acts, which of one who is stopped is nothing', () => {
    const stopping = new Rig(TEXT).run(8, AT);
    const view = new EnginePicture(stopping.view);
    const index = stage.mappings.findIndex(({ title }) => title === 'follows Ines');
    expect(view.take().mappings[index]).toMatchObject({ level: 1, shows: 1 });
    stopping.order({ kind: 'stop', performer: 'ines', cause: 'command', by: 'x', id: 1 });
    stopping.run(8, AT);
    expect(view.take().mappings[index]).toMatchObject({ level: 1, shows: 0 });
  });

  it('says that a head is pinned, and to whom where it is on somebody else', () => {
    const index = stage.fixtures.findIndex(({ name }) => name === 'head-right');
    const words = (pinnedTo?: string) => {
      const head = { fixture: 'head-right', label: 'head', since: new Date(0).toISOString() };
      const heads = [{ ...head, ...(pinnedTo === undefined ? {} : { pinnedTo }) }];
      const told = { engine: picture.take(), status: { heads } };
      return fixtureInWords(stage, snapshotOf(rig.show, told), index)?.text;
    };
    expect(words()).toBe('on Ines');
    expect(words('ines')).toBe('on Ines, pinned');
    expect(words('gull')).toBe('on Ines, pinned to The Gull');
  });
});
