import { expect, it } from 'vitest';
import { LinksDown } from '../../../src/daemon/lighting/links-down.js';

const lost = { kind: 'interface-lost', interface: 'eth1', reason: 'it is gone' } as const;
const noCarrier = { kind: 'carrier-lost', interface: 'eth1' } as const;

function machine() {
  const there = {
    name: 'eth1',
    address: '10.0.0.1',
    loopback: false,
    netmask: '255.255.255.0',
    broadcast: '10.0.0.255',
  };
  const state = { isThere: true, hasCarrier: true };
  const find = () => (state.isThere ? there : undefined);
  return { state, down: new LinksDown(find, () => state.hasCarrier) };
}

it('what comes back while sockets are opened anew is told of once', () => {
  const { down } = machine();
  expect([down.hear(lost), down.hear(noCarrier)]).toEqual([lost, noCarrier]);
  const over = down.over([]);
  expect(over).toEqual([
    { kind: 'interface-back', interface: 'eth1', address: '10.0.0.1' },
    { kind: 'carrier-back', interface: 'eth1' },
  ]);
  for (const event of over) expect(down.hear(event)).toBe(event);
  expect(down.over([])).toEqual([]);
});

it('what new sockets find as those before them did is not for the log again; a number of changes is', () => {
  const { down, state } = machine();
  down.hear(lost);
  down.hear(noCarrier);
  Object.assign(state, { isThere: false, hasCarrier: false });
  expect(down.over(['eth1'])).toEqual([]);
  expect([down.hear(lost), down.hear(noCarrier)]).toEqual([
    { ...lost, quiet: true },
    { ...noCarrier, quiet: true },
  ]);
  expect(down.hear({ ...lost, changes: 3 })).toEqual({ ...lost, changes: 3 });
  const other = { ...lost, interface: 'eth2' };
  expect(down.hear(other)).toBe(other);
  // The name is there, and the address is not ours any more.
  state.isThere = true;
  expect(down.over(['eth1', 'eth2'])).toEqual([]);
});

it('other news is passed on', () => {
  const { down } = machine();
  const event = { kind: 'errand-sent', interface: 'eth1', errand: 'ArtPoll' } as const;
  expect(down.hear(event)).toBe(event);
});
