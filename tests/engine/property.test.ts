import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { snapshot } from '../../src/engine/snapshot.js';
import type { FixtureView } from '../../src/engine/view.js';
import { decode, toPhysical, toRaw } from '../../src/fixtures/encode.js';
import type { Channel } from '../../src/fixtures/profile.js';
import { encodePacket, type OscMessage } from '../../src/protocols/osc/encode.js';
import { PHASES } from '../../src/safety/watchdog.js';
import { safeLook } from '../../src/show/model/safe-look.js';
import { demand } from '../demand.js';
import { position, Rig, UNIX_OFFSET_S } from './harness.js';
import { HOUSE } from './shows.js';

const SEED = 20260114;
/** A light with a fade this short goes through all of its phases in a run. */
const QUICK = HOUSE.replace(
  /watchdog:[\s\S]*outputs:/,
  `watchdog:
  trackerSilent: { after: 0.2, fade: 0.5 }
  feedSilent: { after: 0.3, fade: 0.4 }
  jumped: { fade: 0.2 }
  outOfBounds: { after: 0.2, fade: 0.5 }
  confidenceLow: { after: 0.2, fade: 0.5 }
  rearm: 0.2
  return: 0.3
  move: 0.2
outputs:`,
);

/** One turn of a feed that may be broken in any way: what arrives, then a tick. */
interface Turn {
  readonly datagrams: readonly Buffer[];
  readonly dtS: number;
  /** How often it happens. */
  readonly times: number;
}

const place = fc.oneof(
  { weight: 6, arbitrary: fc.double({ min: 0, max: 10, noNaN: true }) },
  { weight: 1, arbitrary: fc.constantFrom(2, 6, 8.2, 7, -0.4, 10.4, 1000, -1000) },
  { weight: 1, arbitrary: fc.float() },
);
const tracker = fc.constantFrom('1', '2', '1', '2', '3', '', '__proto__');
const report: fc.Arbitrary<OscMessage> = fc
  .tuple(tracker, place, place, place, fc.option(fc.float(), { freq: 3 }))
  .map(([id, x, y, z, quality]) => position(id, quality === null ? [x, y, z] : [x, y, z, quality]));
const standing: fc.Arbitrary<OscMessage> = fc
  .tuple(
    fc.constantFrom('1', '2'),
    fc.constantFrom([2, 6] as const, [5, 4] as const, [8.2, 7] as const),
  )
  .map(([id, [x, y]]) => position(id, [x, y]));
const timeTag = fc.oneof(
  fc.constant('immediately' as const),
  fc.double({ min: -10, max: 10, noNaN: true }).map(s => UNIX_OFFSET_S + 1000 + s),
);
const bundle = fc
  .tuple(timeTag, fc.array(fc.oneof(report, standing), { maxLength: 4 }))
  .map(([tag, elements]) => encodePacket({ timeTag: tag, elements }));
const valid = fc.oneof(report.map(encodePacket), standing.map(encodePacket), bundle);
const mutated = fc
  .tuple(valid, fc.array(fc.tuple(fc.nat(), fc.integer({ min: 0, max: 255 })), { maxLength: 6 }))
  .map(([bytes, changes]) => {
    const copy = Buffer.from(bytes);
    for (const [at, value] of changes) copy[at % copy.length] = value;
    return copy;
  });
const noise = fc.uint8Array({ maxLength: 64 }).map(bytes => Buffer.from(bytes));
const anything = fc.oneof({ weight: 4, arbitrary: valid }, mutated, noise);
const dtS = fc.oneof(
  { weight: 8, arbitrary: fc.constant(1 / 40) },
  { weight: 1, arbitrary: fc.constantFrom(0, 1e-9, 0.1, 0.3, 2, 1e5) },
  { weight: 1, arbitrary: fc.double({ min: 0, max: 1, noNaN: true }) },
);

const chaos: fc.Arbitrary<Turn> = fc.record({
  datagrams: fc.array(anything, { maxLength: 5 }),
  dtS,
  times: fc.constant(1),
});
const steady: fc.Arbitrary<Turn> = fc.record({
  datagrams: fc.array(standing.map(encodePacket), { minLength: 1, maxLength: 2 }),
  dtS: fc.constant(1 / 40),
  times: fc.integer({ min: 5, max: 40 }),
});
const silence: fc.Arbitrary<Turn> = fc.record({
  datagrams: fc.constant([]),
  dtS: fc.constant(1 / 40),
  times: fc.integer({ min: 5, max: 60 }),
});
const anyFeed = fc.array(fc.oneof({ weight: 3, arbitrary: steady }, silence, chaos, chaos), {
  minLength: 1,
  maxLength: 14,
});

function play(turns: readonly Turn[], after: (rig: Rig) => void): Rig {
  const rig = new Rig(QUICK);
  for (const { datagrams, dtS: stepS, times } of turns) {
    for (let i = 0; i < times; i++) {
      for (const bytes of datagrams) rig.receive(bytes);
      rig.tick(stepS);
      after(rig);
    }
  }
  return rig;
}

/** The tick came so late that the supervisor has the light, and the engine has begun at the safe look. */
function hasStalled(rig: Rig): boolean {
  const last = rig.eventsOf('stalled').at(-1);
  return last?.atS === rig.nowS;
}

/** What is looked at after each tick of one feed. */
type Watcher = (rig: Rig) => void;

/** No intensity takes a larger step from one tick to the next, but where the supervisor has the light. */
function smallSteps(mostPerTick: number): Watcher {
  const last = new Map<FixtureView, number>();
  return rig => {
    if (hasStalled(rig)) last.clear();
    for (const light of rig.view.fixtures) {
      const now = light.values[light.intensity] ?? 0;
      const before = last.get(light) ?? now;
      last.set(light, now);
      demand(
        Math.abs(now - before) <= mostPerTick,
        () => `${light.plan.name} jumped from ${before} to ${now}`,
      );
    }
  };
}

/** Whether anybody is believed on whom the light depends; undefined where it depends on nobody. */
function isBelieved(rig: Rig, light: FixtureView): boolean | undefined {
  if (light.performers.length === 0) return undefined;
  return light.performers.some(one => rig.view.performers[one]?.follows === true);
}

/** Every value is finite, and no intensity rises while nobody is believed. */
function noRise(compared: () => void): Watcher {
  const before = new Map<FixtureView, readonly [wanted: number, sent: number]>();
  return rig => {
    for (const light of rig.view.fixtures) {
      for (const value of light.values) {
        demand(Number.isFinite(value), () => `${light.plan.name} is ${light.values.join()}`);
      }
      const dimmer = light.plan.profile.channels[light.intensity];
      if (dimmer === undefined) continue;
      const now = [
        light.values[light.intensity] ?? Number.NaN,
        decode(dimmer, rig.view.levels, light.plan.firstSlot),
      ] as const;
      const safe = light.plan.safe[light.intensity] ?? Number.NaN;
      const last = before.get(light);
      before.set(light, now);
      if (last === undefined || isBelieved(rig, light) !== false) continue;
      compared();
      // Both as values and as slots; in slots the safe value is rounded to a step.
      const limits = [Math.max(last[0], safe), Math.max(last[1], stepOf(dimmer, safe))];
      demand(
        now[0] <= (limits[0] ?? 0) + 1e-9 && now[1] <= (limits[1] ?? 0) + 1e-9,
        () => `${light.plan.name} rose from ${last.join()} to ${now.join()}, safe ${safe}`,
      );
    }
  };
}

const POINTED = ['head', 'lit-head', 'zone-head'];

/** No head moves while it gives light and nobody is believed. */
function noLitMove(): Watcher {
  const last = new Map<string, { pan: number; tilt: number; dimmer: number }>();
  return rig => {
    if (hasStalled(rig)) last.clear();
    for (const name of POINTED) {
      const now = {
        pan: rig.level(name, 'Pan'),
        tilt: rig.level(name, 'Tilt'),
        dimmer: rig.level(name),
      };
      const before = last.get(name) ?? now;
      last.set(name, now);
      if (isBelieved(rig, rig.light(name)) !== false) continue;
      const lit = now.dimmer > 0 || before.dimmer > 0;
      demand(
        !lit || (now.pan === before.pan && now.tilt === before.tilt),
        () => `${name} went from ${JSON.stringify(before)} to ${JSON.stringify(now)}`,
      );
    }
  };
}

/** No head is sent faster than it can go. */
function noHaste(moved: () => void): Watcher {
  // 180 degrees a second where the profile says nothing, and the steps of 16 bits over the ranges.
  const rounding = 540 / 65535;
  const last = new Map<string, { at: number; pan: number; tilt: number }>();
  return rig => {
    for (const name of POINTED) {
      const [pan, tilt] = [rig.level(name, 'Pan'), rig.level(name, 'Tilt')];
      const before = last.get(name) ?? { at: rig.nowS, pan, tilt };
      last.set(name, { at: rig.nowS, pan, tilt });
      // There the supervisor moves it.
      if (hasStalled(rig)) continue;
      const most = 180 * Math.min(0.1, rig.nowS - before.at) + rounding;
      const step = Math.max(Math.abs(pan - before.pan), Math.abs(tilt - before.tilt));
      if (step > rounding) moved();
      demand(step <= most, () => `${name} went ${step} degrees, and may go ${most}`);
    }
  };
}

describe('for any sequence of datagrams, however broken', () => {
  // In one run: most of the time goes into the feeds themselves.
  test('values are finite, intensities neither jump nor rise while nobody is believed, heads are not sent too fast, nor while lit and lost', () => {
    const seen = new Set<string>();
    let [compared, moved] = [0, 0];
    // 0.1 s is the longest step, 0.2 s the shortest fade of the watchdog, and 0.5 s the shortest of the
    // mappings, which can run at the same time.
    const mostPerTick = 100 * (0.1 / 0.2 + 0.1 / 0.5) + 1e-9;
    fc.assert(
      fc.property(anyFeed, turns => {
        const watchers = [
          noRise(() => {
            compared += 1;
          }),
          noLitMove(),
          noHaste(() => {
            moved += 1;
          }),
          smallSteps(mostPerTick),
        ];
        play(turns, rig => {
          for (const performer of rig.view.performers) seen.add(performer.phase);
          for (const watcher of watchers) watcher(rig);
        });
      }),
      { seed: SEED, numRuns: 160 },
    );
    // The feeds were not all so broken that nothing ever happened.
    // Nobody is sent off stage here, and the show has no exits.
    expect(seen).toEqual(new Set(PHASES.filter(phase => phase !== 'off')));
    expect(compared).toBeGreaterThan(10_000);
    expect(moved).toBeGreaterThan(500);
  });

  test('at 40 ticks a second no intensity takes a step larger than its fades', () => {
    const mostPerTick = 100 * (1 / 40 / 0.2 + 1 / 40 / 0.5) + 1e-9;
    fc.assert(
      fc.property(fc.array(fc.oneof(steady, silence), { maxLength: 14 }), turns => {
        play(turns, smallSteps(mostPerTick));
      }),
      { seed: SEED, numRuns: 100 },
    );
  });

  test('the same inputs give the same bytes, events and counters', () => {
    fc.assert(
      fc.property(anyFeed, turns => {
        const record = () => {
          const levels: string[] = [];
          const rig = play(turns, one => {
            levels.push(Buffer.from(one.view.levels).toString('base64'));
          });
          return { levels, events: rig.events, end: snapshot(rig.view) };
        };
        expect(record()).toEqual(record());
      }),
      { seed: SEED, numRuns: 40 },
    );
  });

  test('the last silence always ends at the safe look', () => {
    fc.assert(
      fc.property(anyFeed, turns => {
        const rig = play(turns, () => {});
        // What is held for its time tag may still come within 5 s; then 0.3 + 0.5 + 0.2 + 0.5 s.
        rig.run(8);
        expect(Buffer.from(rig.view.levels).equals(Buffer.from(safeLook(rig.show)))).toBe(true);
      }),
      { seed: SEED, numRuns: 60 },
    );
  });
});

/** A value as it comes back from the slots. */
function stepOf(channel: Channel, value: number): number {
  return toPhysical(channel, toRaw(channel, value));
}
