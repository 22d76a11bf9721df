import { describe, expect, test } from 'vitest';
import {
  createEnable,
  GATE_STATES,
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
    hearEnable(enable, true, 10);
    expect(isHeld(enable, 11, 1)).toBe(true);
    expect(isHeld(enable, 11.001, 1)).toBe(false);
    hearEnable(enable, true, 12);
    hearEnable(enable, false, 12);
    expect(isHeld(enable, 12, 1)).toBe(false);
  });
});
