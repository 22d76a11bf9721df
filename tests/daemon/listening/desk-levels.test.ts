import { setTimeout as sleep } from 'node:timers/promises';
import { Sender } from 'sacn';
import { afterEach, describe, expect, test } from 'vitest';
import { DeskListener } from '../../../src/daemon/listening/desk-levels.js';

/** An address of the loopback that no other test listens on. */
const HERE = '127.0.46.1';
const UNIVERSE = 461;

const open: { close(): unknown }[] = [];
afterEach(() => {
  for (const one of open.splice(0)) one.close();
});

async function listening(universe = UNIVERSE): Promise<DeskListener> {
  const desk = new DeskListener({ protocol: 'sacn', universe, interface: HERE });
  open.push(desk);
  expect(await desk.open()).toBeUndefined();
  return desk;
}

/** The npm package `sacn` as the desk; per cent of each slot. */
function source(name: string, priority: number, universe = UNIVERSE) {
  const cid = Buffer.alloc(16, name);
  const sender = new Sender({ universe, useUnicastDestination: HERE });
  open.push(sender);
  return (payload: Record<number, number>) =>
    sender.send({ payload, sourceName: name, priority, cid });
}

/** Packets take their way through the system's loopback. */
async function heard(desk: DeskListener, holds: () => boolean): Promise<void> {
  for (let i = 0; i < 200 && !holds(); i++) await sleep(10);
  expect(holds(), JSON.stringify(desk.levels)).toBe(true);
}

describe('the levels of a desk, sent by an independent sACN library', () => {
  test('nothing before it is heard; then its slots', async () => {
    const desk = await listening();
    expect(desk.levels).toEqual({ kind: 'none' });
    await source('desk', 100)({ 1: 100, 3: 20 });
    await heard(desk, () => desk.levels.kind === 'levels');
    const now = desk.levels;
    if (now.kind !== 'levels') throw new Error('no levels');
    expect([...now.slots.subarray(0, 4)]).toEqual([255, 0, 51, 0]);
    expect(now.source).toContain('desk');
  });

  test('the highest priority has the word; two of the same are told of', async () => {
    const desk = await listening();
    await source('desk', 100)({ 1: 100 });
    await source('backup', 50)({ 1: 20 });
    await heard(desk, () => desk.levels.kind === 'levels');
    await sleep(100);
    expect(desk.levels).toMatchObject({ kind: 'levels', source: expect.stringContaining('desk') });
    await source('another', 100)({ 1: 50 });
    await heard(desk, () => desk.levels.kind === 'several');
    expect(desk.levels).toMatchObject({
      sources: [expect.stringContaining('desk'), expect.stringContaining('another')],
    });
  });

  test('other universes are not taken for it', async () => {
    const desk = await listening();
    await source('desk', 100, UNIVERSE + 1)({ 1: 100 });
    await sleep(200);
    expect(desk.levels).toEqual({ kind: 'none' });
  });

  test('an interface that is not there is named, with those that are', async () => {
    const desk = new DeskListener({ protocol: 'artnet', universe: 0, interface: 'lighting0' });
    expect(await desk.open()).toMatch(
      /^can't listen on interface lighting0: this machine has no such interface; it has .*lo \(127\.0\.0\.1\)/,
    );
  });
});
