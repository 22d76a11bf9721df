import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { FixtureView } from '../../src/engine/view.js';
import type { Show } from '../../src/show/model/model.js';
import { showOf } from '../show/show-of.js';
import { type Place, Rig } from './harness.js';
import { HOUSE } from './shows.js';
import { SignalShow } from './signal-show.js';

const SEED = 20261130;
const QUICK = HOUSE.replace(
  /watchdog:[\s\S]*outputs:/,
  `watchdog:
  trackerSilent: { after: 0.2, fade: 0.5 }
  feedSilent: { after: 0.3, fade: 0.4 }
  jumped: { fade: 0.2 }
  rearm: 0.2
  return: 0.3
  move: 0.2
outputs:`,
);
/** A stop fades for 1 s, as does window-inverse by its own time; a head waits for it to be dark, and moves. */
const SAFE_WITHIN_S = 1.4;

/** Of all kinds: any, nobody, several at once, near, between two looks, a wave, priorities, sums and scales. */
function signalHouse(): Show {
  const show = new SignalShow(showOf(QUICK));
  const anyWindow = show.presence('window', 'ines', 'tobias');
  const inesStove = show.presence('stove', 'ines');
  const both = show.signal({
    kind: 'count',
    zone: show.zone('stove'),
    performers: show.performers('ines', 'tobias'),
  });
  const near = show.signal(
    {
      kind: 'distance',
      performers: show.performers('ines'),
      to: { kind: 'performers', performers: show.performers('tobias') },
    },
    { range: { from: 5, to: 1 }, curve: 'smooth', attackS: 0.2, releaseS: 0.4 },
  );
  const wave = show.signal({ kind: 'wave', shape: 'sine', periodS: 0.7, phase: 0 });
  const across = show.signal(
    {
      kind: 'along',
      performer: 1,
      line: [
        [0, 0],
        [10, 0],
      ],
    },
    { range: { from: 0, to: 10 } },
  );
  const nobody = show.condition({ kind: 'not', condition: show.above(anyWindow, 0.5, 0.2) });
  const two = show.above(both, 2, 1, 0.2, 0.3);
  const one = show.above(inesStove, 0.5, 0.3);
  show
    .keeping(({ kind }) => kind === 'follow')
    .mapping({
      when: nobody,
      on: ['stove-glow'],
      to: { Dimmer: 60 },
      fade: { inS: 0.4, outS: 0.2 },
    })
    .mapping({ by: near, on: ['stove-glow'], to: { Dimmer: 90 }, fade: { inS: 0.3, outS: 0 } })
    .mapping({ when: two, on: ['window-inverse'], to: { Dimmer: 70 } })
    .mapping({ when: one, by: wave, on: ['window-inverse'], to: { Dimmer: 50 } })
    .mapping({
      by: across,
      on: ['window-wash'],
      from: { Dimmer: 70, ColorAdd_B: 0 },
      to: { Dimmer: 20, ColorAdd_B: 100 },
    })
    .mapping({ by: anyWindow, on: ['window-wash'], to: { Dimmer: 25 }, mix: 'add' })
    .mapping({
      when: one,
      on: ['window-wash'],
      to: { Dimmer: 50 },
      mix: 'scale',
      fade: { inS: 0.2, outS: 0.2 },
    })
    .mapping({
      when: two,
      on: ['window-wash'],
      to: { Dimmer: 0 },
      priority: 2,
      fade: { inS: 0.2, outS: 0.2 },
    })
    .mapping({ by: anyWindow, on: ['zone-head'], to: { Dimmer: 80, ColorAdd_R: 20 } })
    .follow(0, nobody);
  return show.show();
}

interface Turn {
  readonly ines: Place;
  readonly tobias: Place;
  readonly ticks: number;
  readonly loses: '1' | '2' | null;
}

const place: fc.Arbitrary<Place> = fc.constantFrom(
  [2, 6],
  [2.9, 6],
  [3.6, 5.2],
  [5, 4],
  [8.2, 7],
  [8.2, 5.8],
  [9, 1],
);
const turn: fc.Arbitrary<Turn> = fc.record({
  ines: place,
  tobias: place,
  ticks: fc.integer({ min: 4, max: 50 }),
  loses: fc.option(fc.constantFrom('1', '2'), { freq: 2 }),
});
const evening = fc.array(turn, { minLength: 3, maxLength: 12 });

/** Walks from place to place, as far as a person goes in a tick; nobody jumps. */
function walk(
  turns: readonly Turn[],
  each: (places: Record<string, Place>, turn: Turn, isFirst: boolean) => void,
) {
  const at: Record<string, [number, number]> = { '1': [5, 4], '2': [5, 4] };
  const settle = { ines: [5, 4], tobias: [5, 4], ticks: 80, loses: null } as const;
  for (const one of [settle, ...turns]) {
    for (let i = 0; i < one.ticks; i++) {
      for (const [id, to] of [
        ['1', one.ines],
        ['2', one.tobias],
      ] as const) {
        const [x, y] = at[id] as [number, number];
        const [dx, dy] = [to[0] - x, to[1] - y];
        const step = Math.min(1, 0.1 / Math.max(1e-9, Math.hypot(dx, dy)));
        at[id] = [x + step * dx, y + step * dy];
      }
      each(breathe({ '1': at['1'] as Place, '2': at['2'] as Place }, i), one, i === 0);
    }
  }
}

/** Nobody stands so still that the same position comes twice: that would be a frozen feed. */
function breathe(places: Readonly<Record<string, Place>>, i: number): Record<string, Place> {
  const sway = 0.01 * Math.sin(i);
  return Object.fromEntries(
    Object.entries(places).map(([id, [x, y]]) => [id, [x + sway, y - sway]]),
  );
}

const STILL = ['stove-glow', 'window-wash', 'window-inverse', 'zone-head'];
const dimmerOf = (light: FixtureView) => light.values[light.intensity] ?? Number.NaN;
const safeOf = (light: FixtureView) => light.plan.safe[light.intensity] ?? Number.NaN;

test('nothing is brighter because of a loss: not than without it, nor than its safe value', () => {
  let compared = 0;
  let down = 0;
  const show = signalHouse();
  fc.assert(
    fc.property(evening, turns => {
      const [live, lossy] = [new Rig(show), new Rig(show)];
      const knownS = new Map<number, number>();
      const before = new Map<string, number>();
      walk(turns, (places, { loses }, isFirst) => {
        if (isFirst && loses !== null) {
          // A stop is a loss at once: before a silence is one, a track goes on from where it was heading.
          lossy.order({
            kind: 'stop',
            performer: loses === '1' ? 'ines' : 'tobias',
            cause: 'command',
          });
        }
        live.run(1 / 40, places);
        lossy.run(1 / 40, places);
        for (const light of lossy.view.fixtures) {
          for (const [c, value] of light.values.entries()) {
            const { from, to } = light.plan.profile.channels[c] ?? { from: 0, to: 0 };
            if (!(value >= Math.min(from, to) - 1e-9 && value <= Math.max(from, to) + 1e-9)) {
              throw new Error(`${light.plan.name} is at ${light.values.join()}`);
            }
          }
        }
        // What has only just become unknown is on its way down.
        const { drives } = lossy.engine.mappings;
        for (const { of, believed } of drives) if (believed.follows) knownS.set(of, lossy.nowS);
        const falls = new Set(
          drives
            .filter(({ of }) => {
              const forS = lossy.nowS - (knownS.get(of) ?? 0);
              return forS > 0 && forS < SAFE_WITHIN_S;
            })
            .flatMap(({ mapping }) => mapping.values.map(one => show.fixtures[one.fixture]?.name)),
        );
        for (const name of STILL) {
          const [is, would] = [lossy.light(name), live.light(name)];
          const most = Math.max(dimmerOf(would), safeOf(is));
          const was = before.get(name) ?? 100;
          before.set(name, dimmerOf(is));
          if (dimmerOf(is) > Math.max(most, was) + 1e-6) {
            throw new Error(
              `${name} comes up from ${was} to ${dimmerOf(is)}, without the loss ${dimmerOf(would)}`,
            );
          }
          if (falls.has(name)) continue;
          compared += 1;
          if (dimmerOf(is) < most - 1) down += 1;
          if (dimmerOf(is) > most + 1e-6) {
            throw new Error(
              `${name} is at ${dimmerOf(is)}, without the loss at ${dimmerOf(would)}`,
            );
          }
        }
      });
    }),
    { seed: SEED, numRuns: 15 },
  );
  expect(compared).toBeGreaterThan(2000);
  expect(down).toBeGreaterThan(300);
});

test('what is asked by others comes up no sooner than without the loss: it begins where it would be', () => {
  const show = new SignalShow(showOf(QUICK));
  const pace = show.signal(
    { kind: 'speed', performers: show.performers('ines', 'tobias') },
    { range: { from: 0.5, to: 2 } },
  );
  show
    .keeping(() => false)
    .mapping({ by: pace, on: ['stove-glow'], to: { Dimmer: 80 }, fade: { inS: 0.4, outS: 0.4 } });
  const [live, lossy] = [new Rig(show.show()), new Rig(show.show())];
  // Ines walks; as Tobias is lost she stands still, and runs then.
  const speeds = [...Array(60).fill(1.6), ...Array(16).fill(0), ...Array(24).fill(4)] as number[];
  let y = 0.5;
  let [before, rose] = [100, false];
  for (const [tick, speed] of speeds.entries()) {
    if (tick === 60) lossy.order({ kind: 'stop', performer: 'tobias', cause: 'command' });
    y += speed / 40;
    const places = breathe({ '1': [5, y], '2': [5, 4] }, tick);
    live.run(1 / 40, places);
    lossy.run(1 / 40, places);
    const [is, would] = [lossy, live].map(rig => dimmerOf(rig.light('stove-glow'))) as [
      number,
      number,
    ];
    const most = Math.max(would, safeOf(lossy.light('stove-glow')));
    expect(is).toBeLessThanOrEqual(Math.max(before, most) + 1e-6);
    rose ||= tick > 60 && is > before;
    before = is;
  }
  expect(rose).toBe(true);
});

test('when all are back, it is as if nobody had been lost', () => {
  const show = signalHouse();
  fc.assert(
    fc.property(evening, turns => {
      const [live, lossy] = [new Rig(show), new Rig(show)];
      let last: Record<string, Place> = {};
      // Not to an edge, where it matters from which side one has come.
      const end = { ines: [2, 6], tobias: [8.2, 7], ticks: 80, loses: null } as const;
      walk([...turns, end], (places, { loses }) => {
        last = places;
        live.run(1 / 40, places);
        lossy.run(
          1 / 40,
          Object.fromEntries(Object.entries(places).filter(([id]) => id !== loses)),
        );
      });
      for (const rig of [live, lossy]) rig.run(8, t => breathe(last, Math.round(40 * t)));
      for (const name of STILL) {
        expect([name, dimmerOf(lossy.light(name))]).toEqual([
          name,
          expect.closeTo(dimmerOf(live.light(name)), 1),
        ]);
      }
    }),
    { seed: SEED, numRuns: 10 },
  );
});

test('everybody stopped, or nobody heard any more: the safe look, wave or not', () => {
  const show = signalHouse();
  for (const stopped of [true, false]) {
    const rig = new Rig(show).run(3, t =>
      breathe({ '1': [2, 6], '2': [2.2, 6.2] }, Math.round(40 * t)),
    );
    const [lamp] = STILL.map(name => rig.light(name));
    expect(dimmerOf(lamp as FixtureView)).not.toBe(safeOf(lamp as FixtureView));
    if (stopped) {
      rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
      rig.run(4, { '1': [2, 6], '2': [2.2, 6.2] });
    } else rig.run(4);
    for (const light of rig.view.fixtures) {
      expect([light.plan.name, ...light.values]).toEqual([light.plan.name, ...light.plan.safe]);
    }
  }
});
