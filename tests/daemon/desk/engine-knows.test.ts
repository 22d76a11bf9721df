import { expect, test } from 'vitest';
import { EngineKnows } from '../../../src/daemon/desk/engine-knows.js';

const levels = (level: number) => new Uint8Array(512).fill(level);

test('what an engine was told counts as known when a frame has come that was made with it', () => {
  const knows = new EngineKnows();
  knows.tell('control', { levels: levels(1), from: 'a' }, 10);
  knows.look(10.05, 10.05);
  expect(knows.of('control')).toBeUndefined();
  knows.look(10.12, 10.12);
  expect(knows.of('control')).toEqual({ levels: levels(1), from: 'a' });
});

test('though news come without a pause', () => {
  const knows = new EngineKnows();
  for (let i = 0; i < 40; i++) {
    const nowS = 10 + i / 40;
    knows.look(nowS - 0.01, nowS);
    knows.tell('control', { levels: levels(i), from: 'a' }, nowS);
  }
  const known = knows.of('control')?.levels[0] ?? -1;
  expect(known).toBeGreaterThan(25);
  expect(known).toBeLessThan(36);
});

test('what an engine that has died never took in the next one hears as news', () => {
  const knows = new EngineKnows();
  knows.tell('control', { levels: levels(255), from: 'a' }, 10);
  knows.look(10.2, 10.2);
  // It hangs: no frame comes after this.
  knows.tell('control', { levels: levels(0), from: 'a' }, 10.3);
  knows.look(10.2, 12);
  knows.begin();
  expect(knows.of('control')?.levels[0]).toBe(255);
  knows.look(13, 13);
  expect(knows.of('control')?.levels[0]).toBe(255);
});
