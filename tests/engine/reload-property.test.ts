import { expect, test } from 'vitest';
import { createEngine } from '../../src/engine/engine.js';
import { snapshot } from '../../src/engine/snapshot.js';
import { takeOver } from '../../src/engine/take-over/take-over.js';
import { viewOf } from '../../src/engine/view.js';
import { demand } from '../demand.js';
import { Rig } from './harness.js';
import { moments, richShow, tickWith } from './rich-house.js';

const TICKS = 40 * 14;

/** The rig goes on with an engine of that show. */
function reload(rig: Rig, renumbered: boolean): void {
  const next = createEngine(richShow(renumbered));
  takeOver(next, rig.engine);
  Object.assign(rig, { engine: next, view: viewOf(next), show: next.show });
}

/** Two rigs have the same light, tick by tick, and show and tell the same. @param before is called before each tick */
function alike(seed: number, plain: Rig, changed: Rig, before: (tick: number) => void): void {
  let tick = 0;
  for (const moment of moments(20261130 + 7919 * seed, TICKS)) {
    before(tick);
    const [ours, theirs] = [tickWith(plain, moment), tickWith(changed, moment)];
    demand(Buffer.compare(ours, theirs) === 0, () => `tick ${tick}: ${where(plain, ours, theirs)}`);
    if (tick % 40 === 0) expect(shown(changed), `tick ${tick}`).toEqual(shown(plain));
    tick += 1;
  }
  expect(told(changed)).toEqual(told(plain));
  expect(new Set(plain.events.map(({ kind }) => kind)).size).toBeGreaterThan(6);
}

/** All that is told; of who is not back after an order without the one whom only the renumbered show has. */
function told({ events }: Rig) {
  return events.map(event => {
    if (event.kind !== 'operator-done' || event.keptAway === undefined) return event;
    const { keptAway, ...rest } = event;
    const others = keptAway.filter(({ performer }) => performer !== 'ghost');
    return others.length === 0 ? rest : { ...rest, keptAway: others };
  });
}

/** The first slot that is not the same. */
function where({ show }: Rig, ours: Uint8Array, theirs: Uint8Array): string {
  const at = ours.findIndex((level, slot) => level !== theirs[slot]);
  const before = show.fixtures.filter(({ firstSlot }) => firstSlot <= at);
  const { name } = before.toSorted((a, b) => b.firstSlot - a.firstSlot)[0] ?? {};
  return `${name} has ${theirs[at]} instead of ${ours[at]}`;
}

/** All that is shown, by name; without what only the renumbered show has. */
function shown({ view }: Rig) {
  const { performers, zones, trackers, fixtures, ...rest } = snapshot(view);
  const byName = <T extends { readonly name: string }>(all: readonly T[], but = '') =>
    Object.fromEntries(all.filter(({ name }) => name !== but).map(one => [one.name, one]));
  return {
    ...rest,
    performers: byName(performers, 'ghost'),
    zones: byName(zones, 'attic'),
    trackers: trackers.filter(({ id }) => id !== '90'),
    fixtures: byName(fixtures),
    choices: Object.fromEntries(
      view.fixtures.map(({ plan, choice }) => [plan.name, choice?.candidates()]),
    ),
    cue: { ...view.cue, index: 0 },
    conditions: byName(view.conditions, 'never'),
    heard: Object.fromEntries(view.signals.map(({ name, kept }) => [name, kept])).fader,
  };
}

/** The seed, and how many ticks there are from one reload to the next. */
test.for([
  [1, 29],
  [2, 61],
  [3, 7],
  [4, 97],
  [5, 13],
  [6, 41],
  [7, 17],
  [8, 5],
  [9, Number.POSITIVE_INFINITY],
  [10, Number.POSITIVE_INFINITY],
  [11, Number.POSITIVE_INFINITY],
])(
  'a reload changes no byte, whatever is put before all else in the show: seed %i',
  ([seed = 1, every = 1]) => {
    const [plain, changed] = [new Rig(richShow()), new Rig(richShow())];
    let isRenumbered = false;
    alike(seed, plain, changed, tick => {
      if (tick % every !== 2) return;
      isRenumbered = !isRenumbered;
      reload(changed, isRenumbered);
    });
  },
);
