/** A reload that goes on from the light that is out, as the supervisor has it. */
import { describe, expect, test } from 'vitest';
import { goOnWith, prepareLevels } from '../../../src/daemon/levels/next-levels.js';
import { createShowLevels, type ShowLevels } from '../../../src/daemon/levels/show-levels.js';
import { stepFallback } from '../../../src/safety/fallback.js';
import { stepOutputLimiter } from '../../../src/safety/output-limiter.js';
import type { Show } from '../../../src/show/model/model.js';
import { safeLook } from '../../../src/show/model/safe-look.js';
import { KEPT } from '../../engine/keep-out-show.js';
import { showOf } from '../../show/show-of.js';

const BEAT_S = 1 / 40;
/** Dark at the safe look, as a head of a follow spot is. */
const KEPT_DARK = KEPT.replace('safe: { aim: [5, 4, 0], Dimmer: 20 }', 'safe: { aim: [5, 4, 0] }');
const FREE = KEPT_DARK.replace(/keepOut:\n.*\n.*\n/, '');
/** Where its beam stands. */
const ADDED = KEPT_DARK.replace(
  /( {2}camera: .*\n)/,
  '$1  pit: { polygon: [[0, 1], [10, 1], [10, 7], [0, 7]], height: [-1, 2], fixtures: [back] }\n',
);
/** Of the head `back`. */
const [PAN, TILT, DIMMER] = [0, 2, 4];

interface Aim {
  readonly pan: number;
  readonly tilt: number;
  readonly dimmer: number;
}

/** The supervisor's beats, with an engine that is well and says what it is told. */
class House {
  levels: ShowLevels;
  readonly frame: Uint8Array;
  #nowS = 100;

  constructor(show: Show) {
    this.levels = createShowLevels(show);
    this.frame = safeLook(show);
  }

  say({ pan, tilt, dimmer }: Partial<Aim>): void {
    const view = new DataView(this.frame.buffer, this.frame.byteOffset);
    if (pan !== undefined) view.setUint16(PAN, pan);
    if (tilt !== undefined) view.setUint16(TILT, tilt);
    if (dimmer !== undefined) view.setUint16(DIMMER, dimmer);
  }

  beat(): number[] {
    const { fallback, plan, limiter, out } = this.levels;
    this.#nowS += BEAT_S;
    stepFallback(fallback, plan, this.frame, true, BEAT_S, out);
    stepOutputLimiter(limiter, out, BEAT_S, this.#nowS);
    return [...out.subarray(0, 64)];
  }

  run(seconds: number): number[][] {
    return Array.from({ length: Math.round(seconds / BEAT_S) }, () => this.beat());
  }

  async reload(show: Show): Promise<void> {
    this.levels = goOnWith(await prepareLevels(show, 0, () => Promise.resolve()), this.levels);
  }
}

/** Live, with `back` lit where it is clear: a little off its safe aim. */
function lit(text: string): House {
  const house = new House(showOf(text));
  const view = new DataView(house.frame.buffer, house.frame.byteOffset);
  house.say({ pan: view.getUint16(PAN) + 1500, dimmer: 52_428 });
  house.run(4);
  expect(house.levels.fallback.phase).toBe('live');
  return house;
}

/** The level of its dimmer in each beat. */
const dimmers = (beats: readonly number[][]) =>
  beats.map(slots => (slots[DIMMER] as number) * 256 + (slots[DIMMER + 1] as number));

describe('heads that a keep-out applies to, over a reload', () => {
  test('a lit one stays as it is, to the slot', async () => {
    const house = lit(KEPT_DARK);
    const before = house.beat();
    expect(dimmers([before])).toEqual([52_428]);
    await house.reload(showOf(`${KEPT_DARK}reload: 4\n`));
    for (const slots of house.run(1)) expect(slots).toEqual(before);
  });

  test('the same show changes nothing at any moment: at rest, on its way, dark for the keep-out, coming up', async () => {
    const show = showOf(KEPT_DARK);
    // 70 degrees off straight down, at the heads of the audience, and back; lit all the time, so that only the gate
    // keeps it dark there.
    const tilt = new DataView(safeLook(show).buffer).getUint16(TILT);
    const out = 32_768 + Math.sign(tilt - 32_768) * Math.round((70 / 270) * 65_535);
    const steps: readonly Partial<Aim>[] = [{}, { tilt: out }, { tilt }, { dimmer: 9000 }];
    const evening = async (reloadsAt: number) => {
      const house = lit(KEPT_DARK);
      const sent: number[][] = [];
      for (const [i, step] of steps.entries()) {
        house.say(step);
        for (let beat = 0; beat < 24; beat++) {
          if (reloadsAt === 24 * i + beat) await house.reload(show);
          sent.push(house.beat());
        }
      }
      return sent;
    };
    const without = await evening(-1);
    // It was lit, dark in between, and lit again.
    const levels = dimmers(without);
    expect([levels[0], Math.min(...levels), levels.at(-1)]).toEqual([52_428, 0, 9000]);
    for (let at = 0; at < 96; at++) expect(await evening(at), `at beat ${at}`).toEqual(without);
  });

  test('one that is added where a lit beam stands darkens it in the next beat, whether or not there was one before', async () => {
    for (const text of [KEPT_DARK, FREE]) {
      const house = lit(text);
      await house.reload(showOf(ADDED));
      expect(new Set(dimmers(house.run(1)))).toEqual(new Set([0]));
    }
  });

  test('one that is added elsewhere leaves a lit beam alone', async () => {
    const house = lit(FREE);
    await house.reload(showOf(KEPT_DARK));
    expect(new Set(dimmers(house.run(1)))).toEqual(new Set([52_428]));
  });

  test('one that is dark when its first keep-out comes waits until it has surely left', async () => {
    const house = lit(FREE);
    house.say({ dimmer: 0 });
    house.run(1);
    await house.reload(showOf(KEPT_DARK));
    house.say({ dimmer: 52_428 });
    // Its lag and what slots are behind by: 0.2 s, eight beats.
    const levels = dimmers(house.run(1));
    expect(levels.findIndex(level => level > 0)).toBe(8);
    expect(levels.at(-1)).toBe(52_428);
  });
});
