import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { demand } from '../demand.js';
import { showOf } from '../show/show-of.js';
import { Rig, TICK_HZ } from './harness.js';

/**
 * A cue that changes who has the say, while those who have it are lost: the one before it as well as the one to come.
 */
const LAMPS = ['low', 'high', 'merged'] as const;

interface Drawn {
  /** Of the first and the second cue: which of the mappings act, and base and safe value of each lamp, per cent. */
  readonly cues: readonly {
    readonly acts: readonly boolean[];
    readonly base: readonly number[];
    readonly safe: readonly number[];
  }[];
  readonly lost: readonly ('ines' | 'tobias')[];
  /** When the cue comes after the last report of those who are lost, and its crossfade, seconds. */
  readonly afterS: number;
  readonly fadeS: number;
}

const MAPPINGS = [
  '{ name: ines, zone: stove, performers: [ines], fixtures: [low, high, merged], set: { Dimmer: 80 } }',
  '{ name: tobias, zone: stove, performers: [tobias], fixtures: [low, high, merged], set: { Dimmer: 60 } }',
  '{ name: near, by: near, fixtures: [low, high], set: { Dimmer: 70 } }',
  '{ name: both, when: both, fixtures: [low, merged], set: { Dimmer: 90 }, mix: latest }',
  '{ name: over, by: near, fixtures: [merged], from: { Dimmer: 10 }, set: { Dimmer: 50 }, priority: 1 }',
];
const NAMES = ['ines', 'tobias', 'near', 'both', 'over'];

function showText({ cues, fadeS }: Drawn): string {
  const look = (values: readonly number[]) =>
    `{ ${LAMPS.map((name, i) => `${name}: { Dimmer: ${values[i]} }`).join(', ')} }`;
  const words = cues.map(
    ({ acts, base, safe }, i) =>
      `  ${['one', 'two'][i]}: { mappings: [${NAMES.filter((_, k) => acts[k]).join(', ')}], base: ${look(base)}, safe: ${look(safe)}, fade: ${fadeS} }`,
  );
  return `
lampwright: 1
name: Who has the say
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
  gull: { trackers: [3] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 0 }
fixtures:
  low: { profile: dimmer, universe: 1, address: 1 }
  high: { profile: dimmer, universe: 1, address: 2, fade: 1 }
  merged: { profile: dimmer, universe: 1, address: 3 }
signals:
  near: { distance: [ines, tobias], range: [4, 1] }
conditions:
  both: { in: stove, of: [ines, tobias] }
mappings:
${MAPPINGS.map(one => `  - ${one}`).join('\n')}
cues:
${words.join('\n')}
watchdog:
  trackerSilent: { after: 0.5, fade: 1.5 }
  feedSilent: { after: 0.5, fade: 1.5 }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
}

const percent = fc.constantFrom(0, 20, 50, 80);
const three = fc.tuple(percent, percent, percent);
const drawn: fc.Arbitrary<Drawn> = fc.record({
  cues: fc.tuple(
    ...[0, 1].map(() =>
      fc.record({
        acts: fc.array(fc.boolean(), { minLength: NAMES.length, maxLength: NAMES.length }),
        base: three,
        safe: three,
      }),
    ),
  ),
  lost: fc.constantFrom(['ines', 'tobias'] as const, ['ines'] as const, ['tobias'] as const),
  afterS: fc.constantFrom(0.2, 0.8, 1.4, 3),
  fadeS: fc.constantFrom(0.5, 2),
});

const PLACES = { ines: [2, 6], tobias: [2.5, 6], gull: [8, 2] } as const;
const TRACKERS = { ines: '1', tobias: '2', gull: '3' } as const;

function placesWithout(lost: readonly string[]) {
  const there = (['ines', 'tobias', 'gull'] as const).filter(name => !lost.includes(name));
  return Object.fromEntries(there.map(name => [TRACKERS[name], PLACES[name]]));
}

const go = (rig: Rig, name: string) =>
  rig.order({ kind: 'cue', to: { name }, cause: 'command', id: 1 });

describe('a cue while somebody is lost', () => {
  test('shows at no moment more than in the one cue or in the other: nothing comes up on the way', () => {
    fc.assert(
      fc.property(drawn, one => {
        const show = showOf(showText(one));
        const [stays, was, goes] = [new Rig(show), new Rig(show), new Rig(show)];
        go(was, 'two');
        for (const rig of [stays, was, goes]) rig.run(3, placesWithout([]));
        const places = placesWithout(one.lost);
        const cueAt = Math.round(one.afterS * TICK_HZ);
        for (let tick = 0; tick < 5 * TICK_HZ; tick++) {
          if (tick === cueAt) go(goes, 'two');
          for (const rig of [stays, was, goes]) rig.run(1 / TICK_HZ, places);
          for (const lamp of LAMPS) {
            const most = Math.max(stays.level(lamp), was.level(lamp));
            // A step of 255 is 0.4 per cent.
            const now = goes.level(lamp);
            demand(now <= most + 0.6, () => `${lamp}, tick ${tick}: ${now}, at most ${most}`);
          }
        }
        for (const lamp of LAMPS) expect(goes.level(lamp)).toBeCloseTo(was.level(lamp), 0);
      }),
      { seed: 16, numRuns: 25 },
    );
  });
});
