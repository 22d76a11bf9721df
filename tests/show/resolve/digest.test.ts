import { expect, it } from 'vitest';
import { configShow } from '../base.js';
import { showOf } from '../show-of.js';

const TEXT = `${configShow('minimal')}operator: { port: 9011, standby: 10.0.0.12 }\n`;
const digest = (from = '', to = from) => {
  expect(TEXT).toContain(from);
  return showOf(TEXT.replace(from, to)).digest;
};

it('is the same for what each machine of a pair may have for itself, and for comments', () => {
  expect(digest()).toMatch(/^[0-9a-f]{16}$/);
  for (const [from, to] of [
    ['port: 9010', 'port: 9010 # of the tracking server'],
    ['port: 9010', 'port: 9010\n    listen: 0.0.0.0\n    allow: [10.0.0.5]'],
    ['interface: 127.0.0.1, to: [127.0.0.1]', 'interface: eth1, to: multicast'],
    ['standby: 10.0.0.12', 'main: 10.0.0.11, allow: [10.0.0.12]'],
  ] as const) {
    expect(digest(from, to)).toBe(digest());
  }
});

it('is another where the light is another', () => {
  const all = [
    digest(),
    digest('radius: 0.8', 'radius: 0.9'),
    digest('Dimmer: 20', 'Dimmer: 21'),
    digest('address: 1', 'address: 2'),
    digest('port: 9010', 'port: 9010\n    scale: 2'),
    digest('port: 9011', 'port: 9011, desk: required'),
    digest('universes: [1]', 'universes: [1], priority: 90'),
  ];
  expect(new Set(all).size).toBe(all.length);
});
