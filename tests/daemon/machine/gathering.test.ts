import { beforeEach, expect, it } from 'vitest';
import {
  AWAKE_BEFORE_TICK_S,
  GATHER_S,
  Gathering,
  JUST_AWAKE_S,
  MOST_IN_A_TURN,
} from '../../../src/daemon/machine/gathering.js';

const PERIOD_S = 0.025;
const MANY = 125;
const turn = () => new Promise(resolve => setImmediate(resolve));

let untilTickS = PERIOD_S;
let slept: number[] = [];
let nowS = 0;
let gathering: Gathering;

/** A tick that has found so many. */
async function tickWith(datagrams: number): Promise<void> {
  for (let i = 0; i < datagrams; i++) gathering.arrived();
  await turn();
  gathering.tick(PERIOD_S);
  slept = [];
}

beforeEach(() => {
  untilTickS = PERIOD_S;
  slept = [];
  gathering = new Gathering(
    () => untilTickS,
    (_, forS) => {
      slept.push(forS);
      nowS += forS;
    },
    () => nowS,
  );
});

it('lets a few datagrams wake the process for each of them', async () => {
  await tickWith(3);
  gathering.arrived();
  await turn();
  expect(slept).toEqual([]);
});

it('sleeps once after the datagrams of a turn, where the tick before had many', async () => {
  await tickWith(MANY);
  for (let i = 0; i < 3; i++) gathering.arrived();
  expect(slept).toEqual([]);
  await turn();
  expect(slept).toEqual([GATHER_S]);
  await turn();
  expect(slept).toHaveLength(1);
});

it('stops with the first tick that had few', async () => {
  await tickWith(MANY);
  gathering.tick(PERIOD_S);
  gathering.arrived();
  await turn();
  expect(slept).toEqual([]);
});

it('is awake before the tick, and while there is something else to do', async () => {
  await tickWith(MANY);
  untilTickS = 0.004;
  gathering.arrived();
  await turn();
  expect(slept).toEqual([0.004 - AWAKE_BEFORE_TICK_S]);
  for (untilTickS of [AWAKE_BEFORE_TICK_S, 0, -0.01]) {
    gathering.arrived();
    await turn();
  }
  expect(slept).toHaveLength(1);
});

it('fetches what is left in the kernel first', async () => {
  await tickWith(MANY);
  for (let i = 0; i < MOST_IN_A_TURN; i++) gathering.arrived();
  await turn();
  expect(slept).toEqual([]);
  gathering.arrived();
  await turn();
  expect(slept).toEqual([GATHER_S]);
});

it('stamps what a sleep kept waiting with the middle of it, and nothing else', async () => {
  await tickWith(MANY);
  nowS = 100;
  expect(gathering.cameS(nowS)).toBe(100);
  gathering.arrived();
  await turn();
  expect(nowS).toBe(100 + GATHER_S);
  // In the same turn, some later than others.
  expect(gathering.cameS(nowS)).toBeCloseTo(100 + GATHER_S / 2, 9);
  expect(gathering.cameS(nowS + JUST_AWAKE_S / 2)).toBeGreaterThan(gathering.cameS(nowS));
  expect(gathering.cameS(nowS + JUST_AWAKE_S / 2)).toBeLessThan(nowS);
  // It was awake when this one came.
  expect(gathering.cameS(nowS + JUST_AWAKE_S)).toBe(nowS + JUST_AWAKE_S);
});

// Wall time: how long the thread really sleeps.
it('sleeps by the thread', async () => {
  const real = new Gathering(() => PERIOD_S);
  for (let i = 0; i < MANY; i++) real.arrived();
  real.tick(PERIOD_S);
  await turn();
  real.arrived();
  const beganMs = performance.now();
  await turn();
  expect(performance.now() - beganMs).toBeGreaterThan(GATHER_S * 0.9e3);
});
