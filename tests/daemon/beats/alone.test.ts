import { expect, it } from 'vitest';
import { type SideView, whileAlone } from '../../../src/daemon/beats/alone.js';
import type { PairPartView } from '../../../src/daemon/beats/pair-light.js';

const side = (fields: Partial<SideView> = {}): SideView => ({
  name: 'eth1',
  sendsSacn: true,
  canHear: true,
  isDeaf: false,
  silentForS: () => 0.1,
  ...fields,
});
const NEVER = { other: 'never heard' } as const;

it('misses a standby of which nothing was heard since the start of the main machine, after 10 s', () => {
  const at = (nowS: number, ...sides: SideView[]) =>
    whileAlone([], sides, { standby: false, startS: 100, nowS });
  expect(at(109, side())).toEqual([]);
  const eth1 = { interface: 'eth1', phase: 'leading', sinceS: 100, other: NEVER };
  expect(at(110, side())).toEqual([eth1]);
  const artnet = side({ name: 'eth2', sendsSacn: false });
  expect(at(110, side(), artnet)).toEqual([eth1, { ...eth1, interface: 'eth2', other: undefined }]);
  // By Art-Net a standby that waits says nothing, and by unicast to others it isn't heard.
  expect(at(110, artnet)).toEqual([]);
  expect(at(110, side({ canHear: false }))).toEqual([]);
});

it('leaves alone what is known of one that was heard', () => {
  const heard: PairPartView[] = [
    { interface: 'eth1', phase: 'listening', sinceS: 1, other: NEVER },
  ];
  expect(whileAlone(heard, [side()], { standby: false, startS: 1, nowS: 90 })).toBe(heard);
});

it('says that a standby has the light whose sACN is out, and which has not heard the main machine', () => {
  const partAt = (nowS: number, one: SideView, view: Partial<PairPartView> = {}) => {
    const waits = { interface: 'eth1', phase: 'standing-by', sinceS: 100, other: NEVER } as const;
    const when = { standby: true, startS: 100, nowS };
    return whileAlone([{ ...waits, ...view }], [one], when)[0]?.phase;
  };
  expect(partAt(102, side())).toBe('standing-by');
  expect(partAt(102.5, side())).toBe('standing-in');
  // Its Art-Net waits, its cable is out, or the main machine is there.
  expect(partAt(105, side({ sendsSacn: false }))).toBe('standing-by');
  expect(partAt(105, side({ silentForS: () => 4 }))).toBe('standing-by');
  const main = { other: 'heard', lastHeardS: 104.9, address: '10.0.0.11' } as const;
  expect(partAt(105, side(), { other: main })).toBe('standing-by');
});
