import { describe, expect, test } from 'vitest';
import {
  createEnable,
  GATE_STATES,
  type GateState,
  hearEnable,
  isHeld,
  nextGate,
} from '../../src/safety/enable.js';

describe('the gate of a hazardous output', () => {
  test('all combinations: on only while held and well, and never straight from latched off', () => {
    for (const gate of GATE_STATES) {
      for (const held of [true, false]) {
        for (const well of [true, false]) {
          const expected = !held ? 'off' : gate === 'latched-off' || !well ? 'latched-off' : 'on';
          expect(nextGate(gate, held, well), `${gate} ${held} ${well}`).toBe(expected);
        }
      }
    }
  });

  test('what fell off stays off for as long as the hand lies on the button', () => {
    let gate = nextGate('off', true, true);
    expect(gate).toBe('on');
    gate = nextGate(gate, true, false);
    for (let i = 0; i < 1000; i++) gate = nextGate(gate, true, true);
    expect(gate).toBe('latched-off');
    gate = nextGate(nextGate(gate, false, true), true, true);
    expect(gate).toBe('on');
  });
});

describe('the enable', () => {
  test('holds for its time after it was last repeated, and not before the first', () => {
    const enable = createEnable();
    expect(isHeld(enable, 10, 1)).toBe(false);
    hearEnable(enable, true, 10, 'a');
    expect(isHeld(enable, 11, 1)).toBe(true);
    expect(isHeld(enable, 11.001, 1)).toBe(false);
    hearEnable(enable, true, 12, 'a');
    hearEnable(enable, false, 12, 'a');
    expect(isHeld(enable, 12, 1)).toBe(false);
  });

  test('of two hands: one that lets go drops it, and it is off until both have let go', () => {
    const enable = createEnable();
    let gate: GateState = 'off';
    const tick = (nowS: number) => {
      const held = isHeld(enable, nowS, 1);
      gate = nextGate(gate, held, !enable.isDropped);
      return gate;
    };
    hearEnable(enable, true, 10, 'a');
    hearEnable(enable, true, 10, 'b');
    expect(tick(10)).toBe('on');
    hearEnable(enable, false, 10.1, 'a');
    expect(tick(10.1)).toBe('latched-off');
    for (let nowS = 10.2; nowS < 12; nowS += 0.1) {
      hearEnable(enable, true, nowS, 'b');
      expect(tick(nowS)).toBe('latched-off');
    }
    // A new press of one is none while the other's hand still lies there.
    hearEnable(enable, true, 12, 'a');
    hearEnable(enable, true, 12, 'b');
    expect(tick(12)).toBe('latched-off');
    hearEnable(enable, false, 12.1, 'a');
    hearEnable(enable, false, 12.1, 'b');
    expect(tick(12.1)).toBe('off');
    hearEnable(enable, true, 12.2, 'b');
    expect(tick(12.2)).toBe('on');
  });

  test('one of two that is not repeated in time has let go, and a word from anywhere drops it', () => {
    const enable = createEnable();
    hearEnable(enable, true, 10, 'a');
    hearEnable(enable, true, 10.8, 'b');
    expect([isHeld(enable, 11.2, 1), enable.isDropped]).toEqual([true, true]);
    expect([isHeld(enable, 12, 1), enable.isDropped]).toEqual([false, false]);
    hearEnable(enable, true, 13, 'b');
    expect([isHeld(enable, 13, 1), enable.isDropped]).toEqual([true, false]);
    hearEnable(enable, false, 13.1, 'elsewhere');
    expect([isHeld(enable, 13.1, 1), enable.isDropped]).toEqual([true, true]);
  });

  test('a crowd of hands is bounded, and drops it', () => {
    const enable = createEnable();
    for (let i = 0; i < 1000; i++) hearEnable(enable, true, 10, `hand ${i}`);
    expect(enable.hands.size).toBeLessThanOrEqual(16);
    expect([isHeld(enable, 10, 1), enable.isDropped]).toEqual([true, true]);
  });
});
