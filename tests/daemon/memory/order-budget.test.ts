import { describe, expect, it } from 'vitest';
import { OrderBudget } from '../../../src/daemon/memory/order-budget.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';

const DESK = '10.0.0.5';
const NOISY = '10.0.0.66';
const JUNK = encodePacket({ address: '/elsewhere', args: [] });
const CUE = encodePacket({ address: '/lampwright/cue/next', args: [] });
const STOP = encodePacket({ address: '/lampwright/stop', args: [{ type: 's', value: 'ines' }] });
const STOP_IN_BUNDLE = encodePacket({
  timeTag: 'immediately',
  elements: [{ address: '/lampwright/stop', args: [] }],
});

const taken = (budget: OrderBudget, bytes: Buffer, sender: string, times: number) =>
  Array.from({ length: times }, () => budget.takes(bytes, sender)).filter(Boolean).length;

describe('what is read of a flood in one beat', () => {
  it('is bounded; the rest is counted, and the next beat reads as much again', () => {
    const budget = new OrderBudget();
    expect(taken(budget, JUNK, NOISY, 5000)).toBe(256);
    expect(budget.dropped).toBe(5000 - 256);
    expect(budget.beat()).toBe(true);
    budget.dropped = 0;
    expect(taken(budget, JUNK, NOISY, 256)).toBe(256);
    expect(budget.beat()).toBe(false);
  });

  it('leaves room for the desk, which is another sender', () => {
    const budget = new OrderBudget();
    taken(budget, JUNK, NOISY, 5000);
    expect(taken(budget, CUE, DESK, 20)).toBe(20);
  });

  it('is bounded over all senders too', () => {
    const budget = new OrderBudget();
    const senders = Array.from({ length: 1000 }, (_, i) => `10.0.${i >> 8}.${i & 255}`);
    expect(senders.filter(one => budget.takes(JUNK, one))).toHaveLength(512);
    expect(budget.takes(CUE, DESK)).toBe(false);
    budget.beat();
    expect(budget.takes(CUE, DESK)).toBe(true);
  });

  it('has a stop in it, whoever floods; stops are bounded as well', () => {
    const budget = new OrderBudget();
    taken(budget, JUNK, NOISY, 5000);
    expect(budget.takes(STOP, NOISY)).toBe(true);
    expect(budget.takes(STOP_IN_BUNDLE, NOISY)).toBe(true);
    expect(budget.takes(CUE, NOISY)).toBe(false);
    expect(taken(budget, STOP, NOISY, 5000)).toBe(254);
  });
});
