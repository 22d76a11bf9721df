import { beforeEach, describe, expect, it } from 'vitest';
import { OperatorKeeping } from '../../../src/daemon/memory/keeping.js';
import { type KeptStopEvent, KeptStops } from '../../../src/daemon/memory/kept-stops.js';
import type { OperatorAction } from '../../../src/engine/values/operator-action.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

const SHOW = showOf(configShow('salt-lantern'));
const EVERYBODY = SHOW.performers.map(({ name }) => name);

let events: KeptStopEvent[];
let told: OperatorAction[];
let isWell: boolean;
let frameS: number | undefined;
let keeping: OperatorKeeping;
let kept: KeptStops;

beforeEach(() => {
  events = [];
  told = [];
  isWell = true;
  frameS = 10;
  keeping = new OperatorKeeping(SHOW, undefined, () => undefined);
  kept = new KeptStops({
    keeping,
    show: () => SHOW,
    isWell: () => isWell,
    frameS: () => frameS,
    operate: actions => {
      told.push(...actions);
      return true;
    },
    onEvent: event => events.push(event),
  });
});

function hear(atS: number, address: string, words: readonly string[] = [], isForwarded = true) {
  const args = words.map(value => ({ type: 's' as const, value }));
  const bytes = encodePacket({ address, args });
  const plan = { maxDatagramBytes: 1024 };
  kept.hear({ plan, bytes, arrivalS: atS, from: '10.0.0.5', isForwarded }, atS);
}

const isStopped = () => keeping.stops.performers;

describe('a stop that comes', () => {
  it('while the engine answers is the engine’s alone', () => {
    hear(9.9, '/lampwright/stop');
    frameS = 10.2;
    kept.look(10.2);
    isWell = false;
    kept.engineEnded(10.3);
    expect(isStopped()).toEqual([]);
    expect(events).toEqual([]);
  });

  it('after its last frame is kept once it ends, and the next one begins with it', () => {
    hear(10.1, '/lampwright/stop');
    expect(isStopped()).toEqual([]);
    isWell = false;
    kept.engineEnded(10.4);
    expect(isStopped()).toEqual([...EVERYBODY].sort());
    expect(events).toMatchObject([
      {
        kind: 'stop-kept',
        change: { kind: 'stopped', by: '10.0.0.5', everybody: true, stopOfEverybody: true },
      },
    ]);
    expect(keeping.restored()).toMatchObject([{ kind: 'stop', performer: undefined }]);
  });

  it('while none runs is kept at once, and so is the resume of one after it', () => {
    isWell = false;
    frameS = undefined;
    hear(11, '/lampwright/stop', [], false);
    hear(11.1, '/lampwright/resume', [EVERYBODY[0] ?? ''], false);
    expect(isStopped()).toEqual(EVERYBODY.slice(1).sort());
    expect(keeping.stops.everybody).toBe(true);
    expect(events.map(one => one.kind === 'stop-kept' && one.change.kind)).toEqual([
      'stopped',
      'resumed',
    ]);
  });

  it('while it hangs is told again to one that goes on after all', () => {
    isWell = false;
    hear(10.8, '/lampwright/stop', [EVERYBODY[1] ?? '']);
    expect(isStopped()).toEqual([EVERYBODY[1]]);
    isWell = true;
    frameS = 10.9;
    kept.look(10.9);
    expect(told).toMatchObject([{ kind: 'stop', performer: EVERYBODY[1], by: '10.0.0.5' }]);
    kept.look(11);
    expect(told).toHaveLength(1);
  });

  it('takes the last word of each, and leaves those whom the show does not have', () => {
    hear(10.1, '/lampwright/stop', ['nobody', EVERYBODY[0] ?? '']);
    hear(10.2, '/lampwright/stop', [EVERYBODY[1] ?? '']);
    hear(10.3, '/lampwright/resume', [EVERYBODY[0] ?? '']);
    isWell = false;
    kept.look(10.6);
    expect(isStopped()).toEqual([EVERYBODY[1]]);
    // Nobody was stopped for the resume to end.
    expect(events).toHaveLength(1);
  });
});

it('tells how many other orders came while none ran, and of no sign of life', () => {
  isWell = false;
  frameS = undefined;
  hear(11, '/lampwright/cue/next', [], false);
  hear(11, '/lampwright/off', [EVERYBODY[0] ?? ''], false);
  hear(11, '/lampwright/desk', [], false);
  hear(11, '/lampwright/enable/strobe', [], false);
  hear(11, '/elsewhere', [], false);
  kept.engineBegins();
  kept.engineBegins();
  expect(events).toEqual([{ kind: 'orders-lost', count: 2 }]);
});

it('tells at the next beat that an order is lost as none runs, and of a flood once a second', () => {
  isWell = false;
  frameS = undefined;
  const counts = () => events.map(event => ('count' in event ? event.count : event.kind));
  hear(11, '/lampwright/cue/next', [], false);
  kept.look(11.02);
  expect(counts()).toEqual([1]);
  for (let i = 1; i <= 100; i++) {
    hear(11.02 + i / 100, '/lampwright/cue/next', [], false);
    kept.look(11.02 + i / 100);
  }
  expect(counts()).toEqual([1, 100]);
  hear(12.5, '/lampwright/cue/next', [], false);
  kept.engineBegins();
  expect(counts()).toEqual([1, 100, 1]);
});

it('tells how many were handed to an engine that hung, and then ended; not of those that it took', () => {
  hear(9.9, '/lampwright/cue/next');
  frameS = 10.2;
  kept.look(10.2);
  hear(10.3, '/lampwright/cue/next');
  hear(10.3, '/lampwright/pin', ['front-1', EVERYBODY[0] ?? '']);
  hear(10.35, '/lampwright/on', [EVERYBODY[0] ?? '']);
  hear(10.35, '/lampwright/cue', ['storm', 'main']);
  hear(10.35, '/lampwright/desk');
  kept.look(10.4);
  isWell = false;
  kept.look(10.6);
  // Nothing is lost while it may still go on.
  kept.engineBegins();
  expect(events).toEqual([]);
  kept.engineEnded(10.9);
  frameS = undefined;
  kept.engineBegins();
  kept.engineEnded(11);
  kept.engineBegins();
  expect(events).toEqual([{ kind: 'orders-lost', count: 3 }]);
});

it('of an engine that hung, and goes on after all, nothing is lost', () => {
  hear(10.1, '/lampwright/cue/next');
  isWell = false;
  kept.look(10.6);
  isWell = true;
  frameS = 10.9;
  kept.look(10.9);
  isWell = false;
  kept.engineEnded(11.3);
  kept.engineBegins();
  expect(events).toEqual([]);
});

it('a flood of orders to an engine that hangs is counted, each of them', () => {
  for (let i = 0; i < 5000; i++) hear(10.3 + i / 50_000, '/lampwright/cue/next');
  isWell = false;
  kept.engineEnded(10.9);
  kept.engineBegins();
  expect(events).toEqual([{ kind: 'orders-lost', count: 5000 }]);
});
