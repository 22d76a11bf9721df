import { createHash, type Hash } from 'node:crypto';
import { expect, test } from 'vitest';
import { act } from '../../src/engine/cues/actions.js';
import { stepCues } from '../../src/engine/cues/cues.js';
import { stepSignals } from '../../src/engine/cues/signals.js';
import { stepDesk } from '../../src/engine/desk.js';
import { createEngine, type Engine } from '../../src/engine/engine.js';
import type { EngineEvent } from '../../src/engine/events/events.js';
import { weighOrders } from '../../src/engine/events/orders.js';
import { stepDeskGround } from '../../src/engine/ground.js';
import { guard } from '../../src/engine/guard.js';
import { aim, steer } from '../../src/engine/heads/aim.js';
import { choose } from '../../src/engine/heads/choices.js';
import { takeHeads } from '../../src/engine/heads/cue-heads.js';
import { keepClear } from '../../src/engine/heads/keep-out.js';
import { crossfade, weighCrossfades } from '../../src/engine/light/crossfade.js';
import { markShown } from '../../src/engine/light/fades.js';
import { noteFalling } from '../../src/engine/light/falling.js';
import { ask } from '../../src/engine/light/intensity.js';
import { markDrives, stepDrives } from '../../src/engine/light/lanes.js';
import { map } from '../../src/engine/light/map.js';
import { patch } from '../../src/engine/light/patch.js';
import { askByLanes } from '../../src/engine/light/wishes.js';
import { gateHazards, stepGates } from '../../src/engine/operator/hazards.js';
import { showHighlight, stepHighlight } from '../../src/engine/operator/highlight.js';
import { operate } from '../../src/engine/operator/operator.js';
import { leave } from '../../src/engine/people/off-stage.js';
import { forgetContacts, watchTrackers } from '../../src/engine/people/tracker-watch.js';
import { watch } from '../../src/engine/people/watch.js';
import { zones } from '../../src/engine/people/zones.js';
import { follow, refit } from '../../src/engine/reports/tracks.js';
import { absorb, step } from '../../src/engine/step.js';
import type { Datagram } from '../../src/engine/values/inputs.js';
import type { OperatorAction } from '../../src/engine/values/operator-action.js';
import { viewOf } from '../../src/engine/view.js';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import { ORDER_ADDRESSES } from '../../src/protocols/osc/orders.js';
import { showOf } from '../show/show-of.js';
import { position } from './harness.js';
import { HOUSE } from './shows.js';
import { SignalShow } from './signal-show.js';

type Part = keyof Engine;

/** What of an engine is whose. What several refer to (an estimate, say) is of the first that has it. */
const PARTS: readonly Part[] = [
  'lastTickS',
  'stall',
  'show',
  'counters',
  'roster',
  'orders',
  'reception',
  'desk',
  'ground',
  'tracks',
  'trackerWatch',
  'offStage',
  'watched',
  'shown',
  'presences',
  'signals',
  'lights',
  'cues',
  'actions',
  'crossfades',
  'falling',
  'mappings',
  'asks',
  'cueAsks',
  'wishes',
  'hazards',
  'fades',
  'aims',
  'keepOuts',
  'choices',
  'highlight',
  'explaining',
  'reloadFade',
  'patch',
];

interface Tick {
  readonly datagrams: readonly Datagram[];
  readonly operator: readonly OperatorAction[];
  readonly nowS: number;
  readonly dtS: number;
}

const DT_S = 1 / 40;
const UNIX_OFFSET_S = 1_768_262_400;

/** A tick taken apart: what `step` calls, in its order, and what each may change. */
const STAGES: readonly [
  name: string,
  owns: readonly Part[],
  run: (engine: Engine, tick: Tick, events: EngineEvent[]) => void,
][] = [
  [
    'operator: refit, forgetContacts',
    ['roster', 'orders', 'cues', 'tracks', 'trackerWatch', 'highlight'],
    (engine, { operator, nowS }, events) => {
      const { tracks, trackerWatch } = engine;
      const changes = operate(engine, operator, nowS, events);
      refit(tracks, changes, nowS);
      forgetContacts(trackerWatch, changes, nowS);
    },
  ],
  [
    'absorb',
    ['reception', 'tracks', 'orders', 'cues', 'counters'],
    (engine, { datagrams, nowS }) =>
      absorb(engine, { datagrams, unixOffsetS: UNIX_OFFSET_S }, nowS),
  ],
  [
    'stepDesk',
    ['desk', 'reception', 'orders', 'cues'],
    (e, { nowS }) => stepDesk(e.desk, [], e, nowS),
  ],
  ['follow', ['tracks'], (e, { nowS }) => follow(e.tracks, e.reception, e.show, nowS)],
  ['weighOrders', ['orders'], (e, { nowS }, to) => weighOrders(e.orders, e.show, nowS, to)],
  [
    'watchTrackers',
    ['trackerWatch'],
    (e, { nowS }, to) => watchTrackers(e.trackerWatch, e, nowS, to),
  ],
  [
    'markShown',
    ['shown'],
    ({ shown, fades, crossfades, lights, mappings, watched }) => {
      markShown(shown, fades, crossfades, lights, mappings.driveOf);
      markDrives(shown, mappings.drives, watched);
    },
  ],
  ['leave', ['offStage'], (e, { nowS }, to) => leave(e.offStage, e, nowS, to)],
  ['watch', ['watched'], (e, { nowS, dtS }, to) => watch(e.watched, e, nowS, dtS, to)],
  ['zones', ['presences'], (e, _, to) => zones(e.presences, e.tracks, e.watched, to)],
  [
    'stepSignals',
    ['signals'],
    (e, { nowS, dtS }, to) => stepSignals(e.signals, e.tracks, e.watched, nowS, dtS, to),
  ],
  [
    'stepCues',
    ['cues', 'lights'],
    (e, { dtS }, to) => stepCues(e.cues, e.signals.network, e.lights, dtS, to),
  ],
  // This show has no actions to send, so that nothing is counted.
  [
    'stepDeskGround',
    ['ground', 'lights', 'cues', 'aims'],
    (e, { dtS }) => stepDeskGround(e.ground, e, dtS),
  ],
  ['act', ['actions'], (e, { nowS }, to) => act(e.actions, e.signals, e.cues, nowS, to)],
  [
    'weighCrossfades, takeHeads',
    ['crossfades', 'fades', 'aims', 'lights'],
    // No head of this show chooses.
    (e, { dtS }, to) => {
      if (e.cues.moved) weighCrossfades(e.crossfades, e.cues);
      takeHeads(e.cues, e);
      choose(e.choices, e, dtS, to);
    },
  ],
  [
    // Of those who are believed it has the mappings, as the watch has the performers.
    'stepDrives',
    ['mappings', 'watched'],
    ({ mappings, signals, orders, cues, watched, show }, { dtS }) =>
      stepDrives(mappings.drives, signals.network, orders, cues, watched, show, dtS),
  ],
  [
    'map',
    ['mappings', 'lights'],
    (e, { dtS }) =>
      map(e.mappings, e.presences, e.cues, e.watched, e.crossfades, e.fades, e.lights, dtS),
  ],
  ['crossfade', ['crossfades'], (e, { dtS }) => crossfade(e.crossfades, e.watched, e.show, dtS)],
  ['noteFalling', ['falling'], e => noteFalling(e.falling, e)],
  ['ask', ['lights', 'cueAsks'], e => ask(e.asks, e.cueAsks, e.mappings, e.crossfades, e.lights)],
  [
    'askByLanes',
    ['lights', 'wishes', 'cueAsks'],
    e => askByLanes(e.wishes, e.cueAsks, e.crossfades, e.lights),
  ],
  [
    'stepHighlight',
    ['highlight'],
    (e, { nowS, dtS }, to) => stepHighlight(e.highlight, e, nowS, dtS, to),
  ],
  [
    'stepGates',
    ['hazards'],
    (e, { nowS }, to) => stepGates(e.hazards, e.orders, e.cues, e.watched, e.show, nowS, to),
  ],
  [
    'aim',
    // A beam is kept clear as part of its aim; nothing is kept out of in this show.
    ['aims', 'lights'],
    (e, { dtS }, to) => {
      aim(e.aims, 0, e.watched, e.fades, e.lights, dtS, to);
      keepClear(e.keepOuts, 0, e.aims, e.fades, e.lights, e.show, dtS, to);
    },
  ],
  ['guard', ['fades', 'lights'], (e, { dtS }) => guard(e.fades, e, 0, dtS)],
  ['steer', ['aims', 'lights'], (e, { dtS }) => steer(e.aims, 0, e.fades, e.lights, dtS)],
  [
    'showHighlight',
    ['lights', 'highlight'],
    e => showHighlight(e.highlight, 0, e.keepOuts, e.fades, e.lights),
  ],
  ['gateHazards', ['lights'], e => gateHazards(e.hazards, 0, e.lights)],
  ['patch', ['patch'], e => patch(e.patch, 0)],
];

function digests(engine: Engine): Record<string, string> {
  const seen = new Set<object>();
  return Object.fromEntries(
    PARTS.map(part => {
      const hash = createHash('sha256');
      feed(hash, engine[part], seen);
      return [part, hash.digest('hex')];
    }),
  );
}

function feed(hash: Hash, value: unknown, seen: Set<object>): void {
  if (typeof value !== 'object' || value === null) {
    if (typeof value !== 'function') hash.update(`${String(value)};`);
  } else if (seen.has(value)) {
    hash.update('seen;');
  } else {
    seen.add(value);
    if (ArrayBuffer.isView(value)) {
      // A view of a part of an array is that array's.
      if (seen.has(value.buffer)) return;
      seen.add(value.buffer);
      hash.update(Buffer.from(value.buffer, value.byteOffset, value.byteLength));
    } else {
      const entries = value instanceof Map ? [...value] : Object.entries(value);
      for (const [key, one] of entries) {
        hash.update(`${String(key)}:`);
        feed(hash, one, seen);
      }
    }
  }
}

const BACK = encodePacket({ address: `${ORDER_ADDRESSES.cue}/back`, args: [] });
const SIGN_OF_LIFE = encodePacket({ address: ORDER_ADDRESSES.desk, args: [] });

/** Ines walks through the stove and falls silent; Tobias is stopped, and changes his tracker. */
function tickOf(i: number): Tick {
  const timeS = (tick: number) => 1000 + tick * DT_S;
  const nowS = timeS(i);
  const at = (id: string, x: number, y: number) => ({
    input: 0,
    bytes: encodePacket(position(id, [x + 0.02 * Math.sin(i), y])),
    arrivalS: nowS - 0.01,
  });
  const datagrams = [
    ...(i < 200 || i > 400 ? [at('1', 2 + Math.abs((i % 160) - 80) / 40, 6)] : []),
    at(i < 260 ? '2' : '7', 8.2, 7),
    { input: 1, bytes: i === 300 ? BACK : SIGN_OF_LIFE, arrivalS: nowS - 0.01 },
  ];
  const operator: OperatorAction[] = [];
  if (i === 60) {
    const fixture = 'zone-head';
    operator.push({ kind: 'highlight', fixture, whileTracked: true, cause: 'command' });
  }
  if (i === 150) operator.push({ kind: 'stop', performer: 'tobias', cause: 'command' });
  if (i === 120) operator.push({ kind: 'cue', to: 'next', cause: 'command' });
  if (i === 180) operator.push({ kind: 'resume', performer: 'tobias', cause: 'command' });
  if (i === 250) operator.push({ kind: 'unassign', tracker: '2', cause: 'command', id: 1 });
  if (i === 252) {
    operator.push({ kind: 'assign', tracker: '7', performer: 'tobias', cause: 'command' });
  }
  return { datagrams, operator, nowS, dtS: i === 0 ? 0 : nowS - timeS(i - 1) };
}

const CUES = `
cues:
  one: { mappings: [on-ines] }
  two: { fade: 1, base: { stove-glow: { Dimmer: 30 }, zone-head: { Pan: 30 } }, safe: { lit-head: { Pan: 20 } } }
`;
const SHOW = `${HOUSE.replace('zones:', 'spares: [7]\nzones:')
  .replace(/^ {2}- \{ (?=zone|follow: tobias)/gm, '  - { always: true, ')
  .replace('- { follow: ines', '- { name: on-ines, follow: ines')}operator: { port: 9011 }${CUES}`;

function signalShow() {
  const show = new SignalShow(showOf(SHOW));
  const by = show.presence('window', 'ines', 'tobias');
  show.mapping({ when: show.above(by, 0.5), by, on: ['stove-glow'], to: { Dimmer: 70 } });
  show.mapping({ on: ['stove-glow'], to: { Dimmer: 95 } });
  show.mapping({ by, on: ['window-wash'], to: { Dimmer: 20, ColorAdd_G: 30 }, mix: 'add' });
  return show.show();
}

const WITHOUT_PART = new Set(['gateHazards', 'stepGates', 'stepDesk', 'stepDeskGround']);

test('each stage changes what is its own, and nothing else', () => {
  const engine = createEngine(signalShow());
  expect(Object.keys(engine).sort()).toEqual([...PARTS].sort());
  const changed = new Map<string, Set<string>>();
  for (let i = 0; i < 560; i++) {
    // Now and then, and where people ask for something: to look at all of it takes long.
    const isBetweenCues = engine.crossfades.blend.length > 0;
    const looks = i % (isBetweenCues ? 4 : 20) === 0 || i === 300 || tickOf(i).operator.length > 0;
    const events: EngineEvent[] = [];
    const tick = tickOf(i);
    engine.lastTickS = tick.nowS;
    let before = looks ? digests(engine) : {};
    for (const [name, owns, run] of STAGES) {
      run(engine, tick, events);
      if (!looks) continue;
      const after = digests(engine);
      const parts = changed.get(name) ?? new Set();
      for (const part of PARTS) if (before[part] !== after[part]) parts.add(part);
      changed.set(name, parts);
      before = after;
      // Of the values that flow only these stages write.
      for (const part of parts)
        if (!(owns as string[]).includes(part)) expect([name, part]).toBe(0);
    }
  }
  // And all of it was changed at some time, or the test would show nothing. No output here is hazardous, and no
  // desk is heard: tests/engine/desk.test.ts and ground.test.ts have one.
  for (const [name, owns] of STAGES) {
    if (WITHOUT_PART.has(name)) continue;
    const missed = owns.filter(part => !changed.get(name)?.has(part));
    expect([name, missed]).toEqual([name, []]);
  }
});

test('taken apart like this, a tick gives the same light and events as step', () => {
  const [apart, whole] = [createEngine(signalShow()), createEngine(signalShow())];
  for (let i = 0; i < 560; i++) {
    const tick = tickOf(i);
    const events: EngineEvent[] = [];
    for (const [, , run] of STAGES) run(apart, tick, events);
    const { datagrams, operator, nowS } = tick;
    const made = step(whole, { datagrams, operator, unixOffsetS: UNIX_OFFSET_S }, nowS);
    expect(Buffer.from(made.levels).equals(Buffer.from(viewOf(apart).levels))).toBe(true);
    expect(events).toEqual(made.events);
  }
});
