import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { PositionsSender } from '../../../src/daemon/senders/positions-sender.js';
import type { ReceiverSockets } from '../../../src/daemon/senders/receiver-sockets.js';
import type { PositionRound } from '../../../src/engine/positions-out.js';
import type { Show } from '../../../src/show/model/model.js';
import { MINIMAL } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

const TOLD = `${MINIMAL}receivers: { rack: { address: 127.0.0.1, port: 9050 } }
positions:
  sound: { to: rack, protocol: osc, address: "/{performer}", arguments: [x, state] }
`;
const BY_PSN = TOLD.replace(
  / {2}sound:.*/,
  '  video: { to: rack, protocol: psn, axes: [x, z, y] }',
);

let sent: string[];
let show: Show;
let leads: boolean;
let sender: PositionsSender;

beforeEach(() => {
  vi.useFakeTimers();
  sent = [];
  show = showOf(TOLD);
  leads = true;
  const sockets = {
    send: (_: unknown, datagrams: readonly Buffer[]) => {
      sent.push(...datagrams.map(one => one.toString('latin1').replace(/\0+/g, ' ')));
    },
  } as unknown as ReceiverSockets;
  sender = new PositionsSender(
    sockets,
    () => show,
    () => leads,
    () => Date.now() / 1e3,
  );
});
afterEach(() => {
  sender.end();
  vi.useRealTimers();
});

const round = (output: string): PositionRound => ({
  output,
  atS: 1,
  performers: [{ state: 'tracked', confidence: 1, at: [2, 3, 1], velocity: [0, 0, 0] }],
});

describe('who tells where people are', () => {
  it('passes on what the engine says, and says that they are lost while it is silent', () => {
    for (let i = 0; i < 10; i++) {
      sender.send([round('sound')]);
      vi.advanceTimersByTime(100);
    }
    expect(sent.every(one => one.endsWith('tracked '))).toBe(true);
    expect(sent).toHaveLength(10);
    vi.advanceTimersByTime(1000);
    const lost = sent.slice(10);
    expect(lost.length).toBeGreaterThanOrEqual(5);
    expect(lost.every(one => one.startsWith('/ines ,fs @ lost'))).toBe(true); // x is 2: 0x40000000
  });

  it('before an engine has said anything nobody has been heard', () => {
    vi.advanceTimersByTime(1000);
    expect(sent.length).toBeGreaterThan(2);
    expect(sent.every(one => one.includes('not heard'))).toBe(true);
  });

  it('as a standby it says nothing, and goes on at once when it stands in', () => {
    leads = false;
    sender.send([round('sound')]);
    vi.advanceTimersByTime(1000);
    expect(sent).toEqual([]);
    leads = true;
    sender.send([round('sound')]);
    expect(sent).toHaveLength(1);
  });

  it('says names once a second, and at its end that nobody is tracked', () => {
    show = showOf(BY_PSN);
    for (let i = 0; i < 30; i++) {
      sender.send([round('video')]);
      vi.advanceTimersByTime(100);
    }
    expect(sent.filter(one => one.startsWith('Vg')).length).toBe(3);
    expect(sent.filter(one => one.startsWith('Ug')).length).toBe(30);
    sender.end();
    expect(sent.filter(one => one.startsWith('Ug')).length).toBe(31);
  });

  it('what is of a show that has gone is left out', () => {
    sender.send([round('video'), { ...round('sound'), performers: [] }]);
    expect(sent).toEqual([]);
  });
});
