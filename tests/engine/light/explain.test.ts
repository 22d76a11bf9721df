import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { ChannelWhy } from '../../../src/engine/light/explain.js';
import { readRaw, toRaw } from '../../../src/fixtures/encode.js';
import { position, Rig } from '../harness.js';

const SEED = 20261130;

/** Two performers, practicals, a colour without a dimmer of its own, a wheel, a head and a hazer; three cues. */
const ROOM = `lampwright: 1
name: Why
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] } }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 }, feather: 1 }
  table: { circle: { centre: [6, 3], radius: 1.5 } }
  near-ines: { circle: { around: ines, radius: 1.5 }, feather: 0.5 }
groups: { all: [ines, tobias], lamps: [lamp-1, lamp-2, strip] }
profiles:
  strip: { channels: [{ attribute: ColorAdd_R }, { attribute: ColorAdd_B }] }
  wheel: { channels: [{ attribute: Dimmer, bits: 16 }, { attribute: Color1, values: { open: [0, 9], red: [10, 19], blue: [20, 29] }, default: open }] }
  hazer: { hazard: atmospheric, channels: [{ attribute: Haze1 }] }
fixtures:
  lamp-1: { profile: dimmer, universe: 1, address: 1, position: [2, 6, 1], base: { Dimmer: 7 }, safe: { Dimmer: 20 } }
  lamp-2: { profile: dimmer, universe: 1, address: 2, position: [6, 3, 1], fade: 1 }
  strip: { profile: strip, universe: 1, address: 11, position: [9, 3, 1], base: { ColorAdd_R: 100, ColorAdd_B: 30 }, safe: { Dimmer: 12 } }
  spot: { profile: wheel, universe: 1, address: 21, position: [5, 5, 4], safe: { Dimmer: 5 } }
  haze: { profile: hazer, universe: 1, address: 31, base: { Haze1: 12 }, safe: { Haze1: 0 } }
  head: { profile: moving-head, universe: 2, address: 1, position: [5, 0, 5], base: { aim: [5, 4, 0] }, safe: { aim: [5, 4, 0], Dimmer: 0 } }
signals:
  near: { distance: [ines, lamp-1], range: [5, 1], curve: smooth, attack: 0.2, release: 1 }
  each: { distance: [all, each], range: [4, 0] }
  wave: { wave: { period: 0.7, spread: 1 } }
  both: { product: [each, wave] }
  fast: { speed: all, range: [0, 3] }
  here: { count: { zone: table, of: all } }
conditions:
  at-table: { signal: here, on: 1 }
  close: { in: near-ines, hold: 1 }
  calm: { all: [{ not: { in: stove } }, at-table], for: 0.5 }
operator: { port: 9011 }
watchdog:
  trackerSilent: { after: 0.2, fade: 0.5 }
  feedSilent: { after: 0.3, fade: 0.4 }
  rearm: 0.2
  return: 0.3
  move: 0.2
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: ["1-2"] }
`;

const LAMPS = ['lamp-1', 'lamp-2', 'spot', 'strip', 'lamps'] as const;
const percent = fc.integer({ min: 0, max: 100 });
const driver = fc.oneof(
  fc.constantFrom('stove', 'table', 'near-ines').map(zone => `zone: ${zone}`),
  fc.constantFrom('near', 'each', 'wave', 'both', 'fast').map(signal => `by: ${signal}`),
  fc.constantFrom('at-table', 'close', 'calm', '{ not: close }').map(when => `when: ${when}`),
);
const mixing = fc.oneof(
  { weight: 3, arbitrary: fc.constant('') },
  fc
    .tuple(fc.constantFrom('highest', 'latest', 'add', 'scale'), fc.integer({ min: -1, max: 2 }))
    .map(([mix, priority]) => `, mix: ${mix}, priority: ${priority}`),
);
const fade = fc.constantFrom('', ', fade: { in: 0, out: 0 }', ', fade: { in: 0.3, out: 2 }');
const lampMapping = fc
  .tuple(driver, fc.constantFrom(...LAMPS), percent, fc.option(percent), mixing, fade)
  .map(
    ([drives, lamp, to, from, mixed, faded]) =>
      `{ ${drives}, fixtures: [${lamp}], set: { Dimmer: ${to} }${from === null ? '' : `, from: { Dimmer: ${from} }`}${mixed}${faded} }`,
  );
const colourMapping = fc
  .tuple(driver, percent, mixing)
  .map(
    ([drives, to, mixed]) => `{ ${drives}, fixtures: [strip], set: { ColorAdd_B: ${to} }${mixed} }`,
  );
const wheelMapping = fc
  .tuple(driver, fc.constantFrom('red', 'blue'))
  .map(([drives, to]) => `{ ${drives}, fixtures: [spot], set: { Color1: ${to} } }`);
const headMapping = fc
  .tuple(fc.constantFrom('ines', 'tobias'), fc.constantFrom('', ', when: at-table'), percent)
  .map(
    ([whom, when, to]) => `{ follow: ${whom}, fixtures: [head], set: { Dimmer: ${to} }${when} }`,
  );
const mapping = fc.oneof({ weight: 4, arbitrary: lampMapping }, colourMapping, wheelMapping);
const mappings = fc
  .tuple(fc.array(mapping, { minLength: 1, maxLength: 7 }), fc.option(headMapping))
  .map(([some, head]) => (head === null ? some : [...some, head]));
const cues = fc.option(
  fc.tuple(fc.array(percent, { minLength: 3, maxLength: 3 }), fc.integer({ min: 0, max: 3 })),
);

const show = fc.tuple(mappings, cues).map(([all, cued]) => {
  const named = all.map((one, i) => `  - { name: m${i}, ${one.slice(2)}`);
  const base = `${ROOM}mappings:\n${named.join('\n')}\n`;
  if (cued === null) return base;
  const [levels, fadeS] = cued;
  const lines = levels.map((level, cue) => {
    const acting = all.map((_, i) => i).filter(i => i % 3 !== cue);
    return `  c${cue}: { mappings: [${acting.map(i => `m${i}: ${level}`).join(', ')}], base: { lamp-2: { Dimmer: ${level} } }, fade: ${fadeS} }`;
  });
  return `${base}cues:\n${lines.join('\n')}\n`;
});

const place = fc.tuple(
  fc.double({ min: 0, max: 10, noNaN: true }),
  fc.double({ min: 0, max: 8, noNaN: true }),
);
const turn = fc.record({
  ines: fc.option(place, { freq: 4 }),
  tobias: fc.option(place, { freq: 4 }),
  order: fc.option(fc.constantFrom('stop', 'resume', 'off', 'cue', 'highlight'), { freq: 3 }),
  ticks: fc.integer({ min: 5, max: 50 }),
});
const turns = fc.array(turn, { minLength: 2, maxLength: 8 });

function play(
  yaml: string,
  all: readonly (typeof turn extends fc.Arbitrary<infer T> ? T : never)[],
  asks: boolean,
  after: (rig: Rig) => void,
): Rig {
  const rig = new Rig(yaml);
  if (asks) rig.view.askWhy();
  const hasCues = rig.show.cues.length > 0;
  for (const { ines, tobias, order, ticks } of all) {
    if (order === 'stop' || order === 'resume') {
      rig.order({ kind: order, performer: 'tobias', cause: 'command' });
    } else if (order === 'off') rig.order({ kind: 'off', performer: 'ines', cause: 'command' });
    else if (order === 'highlight') {
      rig.order({ kind: 'highlight', fixture: 'spot', whileTracked: true, cause: 'command' });
    } else if (order === 'cue' && hasCues) rig.order({ kind: 'cue', to: 'next', cause: 'command' });
    for (let i = 0; i < ticks; i++) {
      if (ines !== null) rig.send(position('1', [ines[0], ines[1] + 0.001 * (i % 7)]));
      if (tobias !== null) rig.send(position('2', [tobias[0], tobias[1] + 0.001 * (i % 5)]));
      rig.tick();
      after(rig);
    }
  }
  return rig;
}

function demand(holds: boolean, what: () => string): void {
  if (!holds) throw new Error(what());
}

/** What is said of a channel is so: its slots hold its last value, and its wishes lead to it. */
function demandTruth({ view, show: { fixtures, mappings } }: Rig, why: ChannelWhy): void {
  const isBetweenCues = (view.cue?.share ?? 1) < 1;
  const plan = fixtures[why.fixture];
  const channel = plan?.profile.channels[why.channel];
  if (plan === undefined || channel === undefined) throw new Error('no such channel');
  const told = () => `${plan.name} ${channel.attribute}: ${JSON.stringify(why, undefined, 1)}`;
  const virtual = plan.profile.channels[plan.profile.virtualDimmer];
  if (channel.offsets.length > 0) {
    const share = view.why.find(
      one => one.fixture === why.fixture && one.channel === plan.profile.virtualDimmer,
    );
    if (virtual === undefined || !channel.dimmed) {
      const raw = readRaw(channel, view.levels as Uint8Array, plan.firstSlot);
      demand(raw === toRaw(channel, why.out), told);
    } else if (share !== undefined) {
      const raw = readRaw(channel, view.levels as Uint8Array, plan.firstSlot);
      const dimmed = (why.out * Math.min(100, Math.max(0, share.out))) / 100;
      demand(Math.abs(raw - toRaw(channel, dimmed)) <= 1, told);
    }
  }
  const moving = why.fade.stage !== undefined;
  const won = why.wishes.filter(one => one.place === 'won');
  // A fixture that moves holds what it shows while it goes out: what is asked is of no matter then.
  if (!moving && won.length > 0 && channel.attribute !== 'Dimmer') {
    demand(Math.abs((why.wishes.at(-1)?.result ?? 0) - why.merged) < 1e-9, told);
  }
  if (channel.attribute !== 'Dimmer' || isMerged(mappings, why)) return;
  // The highest counts: who won asked for what it came to, and nobody for more. Between cues it may be one's in the one, and another's in the other.
  for (const { result, place: at } of why.wishes) {
    const holds = at === 'won' ? Math.abs(result - why.merged) < 1e-9 : result < why.merged;
    demand(holds && (at !== 'cue' || isBetweenCues), told);
  }
}

/** Priorities or another mix decide, and the trust of all together. */
function isMerged(mappings: Rig['show']['mappings'], { wishes, idle }: ChannelWhy): boolean {
  return [...wishes.map(one => one.mapping), ...idle].some(index => {
    const mapping = mappings[index];
    if (mapping?.kind !== 'signal') return false;
    return mapping.priority !== 0 || !['usual', 'highest'].includes(mapping.mix);
  });
}

describe('an explanation', () => {
  test('ends with what is in the slots, and says nothing that is not so', () => {
    fc.assert(
      fc.property(show, turns, (yaml, all) => {
        let tick = 0;
        play(yaml, all, true, rig => {
          // Every third: of a fade that is all.
          tick += 1;
          if (tick % 3 !== 0) return;
          for (const why of rig.view.why) demandTruth(rig, why);
        });
      }),
      { seed: SEED, numRuns: 25 },
    );
  });

  test('changes nothing of what is explained', () => {
    fc.assert(
      fc.property(show, turns, (yaml, all) => {
        const bytes = (asks: boolean) => {
          const seen: Buffer[] = [];
          play(yaml, all, asks, rig => seen.push(Buffer.from(rig.view.levels)));
          return Buffer.concat(seen);
        };
        expect(bytes(true).equals(bytes(false))).toBe(true);
      }),
      { seed: SEED + 1, numRuns: 15 },
    );
  });
});
