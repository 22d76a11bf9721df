import { expect, it } from 'vitest';
import { OutgoingCues } from '../../../src/daemon/levels/outgoing-cues.js';
import { createShowLevels } from '../../../src/daemon/levels/show-levels.js';
import { showOf } from '../../show/show-of.js';

const TEXT = `
lampwright: 1
name: Three cues
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1] }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1 }
cues:
  prologue: {}
  storm: { fade: 3 }
  dawn: { fade: 1 }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
const SHOW = showOf(TEXT);
/** Without the prologue, so that the cues have other places. */
const SHORTER = showOf(TEXT.replace('  prologue: {}\n', ''));

class Light {
  readonly outgoing = new OutgoingCues();
  nowS = 0;
  levels = createShowLevels(SHOW);

  constructor() {
    this.levels.fallback.phase = 'live';
    this.on(0, 0);
  }

  on(cue: number, atS: number, show = SHOW): this {
    this.nowS = atS;
    if (show !== this.levels.show) {
      this.levels = createShowLevels(show);
      this.levels.fallback.phase = 'live';
    }
    this.levels.cue = cue;
    this.outgoing.follow(this.levels, atS);
    return this;
  }

  at(atS: number): (string | undefined)[] {
    return this.outgoing.at(atS).map(({ show, cue }) => show.cues[cue]?.name);
  }
}

it('a cue shows until the crossfade from it is over', () => {
  const light = new Light().on(1, 10);
  expect([light.at(10), light.at(12.9), light.at(13)]).toEqual([['prologue'], ['prologue'], []]);
});

it('says how long the crossfade still takes', () => {
  const light = new Light();
  expect(light.outgoing.leftS(0)).toBe(0);
  light.on(1, 10);
  expect([10, 12, 13, 14].map(atS => light.outgoing.leftS(atS))).toEqual([3, 1, 0, 0]);
  expect(light.on(2, 12.5).outgoing.leftS(12.5)).toBe(1);
});

it('one that comes in the middle takes with it what is left of those before', () => {
  const light = new Light().on(1, 10).on(2, 12);
  expect([light.at(12.9), light.at(13)]).toEqual([['prologue', 'storm'], []]);
  // To and fro: each once.
  expect(light.on(1, 12.5).at(13)).toEqual(['prologue', 'dawn']);
  expect(light.on(2, 12.6).at(13)).toEqual(['prologue', 'storm']);
  // What was over is not taken along.
  expect(light.on(1, 20).at(20)).toEqual(['dawn']);
});

it('goes on in a show that takes over, between its cues of the same names', () => {
  const light = new Light().on(1, 10).on(2, 10.5).on(1, 11, SHORTER);
  expect([light.at(11.4), light.at(11.5)]).toEqual([['storm'], []]);
  expect(light.on(0, 20).at(20)).toEqual(['dawn']);
  // In the beat of a cue.
  expect(new Light().on(1, 5).on(1, 20, SHORTER).at(20.5)).toEqual(['storm']);
});

it('forgets what it was where the light is not live', () => {
  const light = new Light().on(1, 10);
  light.levels.fallback.phase = 'losing';
  expect(light.on(1, 11).at(11)).toEqual([]);
  light.levels.fallback.phase = 'live';
  expect(light.on(1, 12).at(12)).toEqual([]);
});
