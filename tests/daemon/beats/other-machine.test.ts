import { beforeEach, expect, it } from 'vitest';
import {
  OtherMachine,
  type OtherShowEvent,
  type OtherTrackingEvent,
} from '../../../src/daemon/beats/other-machine.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';

const [MAIN, STANDBY] = ['10.0.0.11', '10.0.0.12'];
let ours: string;
let told: OtherShowEvent[];
let tracking: OtherTrackingEvent[];
let other: OtherMachine;
let hearsTracking: boolean;
let hasStandby: boolean;
let state: string;

beforeEach(() => {
  ours = 'a';
  told = [];
  tracking = [];
  hearsTracking = true;
  hasStandby = false;
  state = 'well';
  other = new OtherMachine(
    false,
    { digest: () => ours, hearsTracking: () => hearsTracking, hasStandby: () => hasStandby },
    event => (event.kind === 'other-show' ? told.push(event) : tracking.push(event)),
  );
});

function hear(digest: string, atS: number, teller = 'standby', from = STANDBY): void {
  const args = [teller, digest, state].map(value => ({ type: 's', value }) as const);
  const bytes = Buffer.from(encodePacket({ address: '/lampwright/show', args }));
  const plan = { maxDatagramBytes: 1472 };
  other.hear({ plan, bytes, arrivalS: atS, from, isForwarded: true }, atS);
  other.look(atS);
}
const shows = () => told.map(one => one.shows);

it('tells that the other machine runs another show, once, and that it runs the same again', () => {
  for (let s = 0; s < 3; s++) hear('a', s);
  expect(told).toEqual([
    { kind: 'other-show', machine: 'standby', shows: 'same', address: STANDBY },
  ]);
  for (let s = 3; s < 20; s++) hear('b', s);
  hear('a', 20);
  expect(shows()).toEqual(['same', 'differ', 'same']);
  expect(told[1]).toMatchObject({ machine: 'standby', address: STANDBY });
});

it('tells it of a reload here, and not of two that follow each other within 3 s', () => {
  hear('a', 0);
  ours = 'b';
  hear('a', 1);
  hear('a', 3);
  hear('b', 3.5);
  expect(shows()).toEqual(['same']);
  ours = 'c';
  for (let s = 4; s < 9; s++) hear('b', s);
  expect(shows()).toEqual(['same', 'differ']);
});

it('does not know what a machine runs that has said nothing for 5 s', () => {
  other.look(0);
  for (let s = 0; s < 6; s++) hear('b', s);
  other.look(9.9);
  expect(shows()).toEqual(['differ']);
  other.look(10.1);
  expect(told.slice(1)).toEqual([
    { kind: 'other-show', machine: 'standby', shows: 'unknown', address: STANDBY },
  ]);
});

it('listens to the other machine only, and to no more than a few', () => {
  for (let s = 0; s < 6; s++) hear('b', s, 'main', MAIN);
  expect(told).toEqual([]);
  for (let i = 0; i < 40; i++) hear('a', 6, 'standby', `10.0.1.${i}`);
  for (let s = 6; s < 11; s++) hear('b', s);
  expect(shows()).toEqual(['same']);
});

it('of several others, one that differs is told', () => {
  for (let s = 0; s < 6; s++) {
    hear('a', s);
    hear('b', s, 'standby', '10.0.0.22');
  }
  expect(told.at(-1)).toMatchObject({ shows: 'differ', address: '10.0.0.22' });
});

it('does not miss a machine that has said that it ends, until it has been there again', () => {
  for (let s = 0; s < 3; s++) hear('a', s);
  state = 'ends';
  hear('a', 3);
  expect(told.at(-1)).toMatchObject({ shows: 'unknown', ended: true });
  state = 'well';
  hear('a', 10);
  other.look(15.1);
  expect(told.at(-1)).toMatchObject({ shows: 'unknown', address: STANDBY });
  expect(told.at(-1)?.ended).toBeUndefined();
});

it('misses a standby that should speak and never has, 12 s after its start, once', () => {
  hasStandby = true;
  for (let s = 0; s <= 30; s += 0.5) other.look(s);
  expect(told).toMatchObject([{ machine: 'standby', shows: 'unknown', never: true }]);
  hear('a', 31);
  for (let s = 31; s <= 60; s++) hear('a', s);
  expect(shows()).toEqual(['unknown', 'same']);
});

it('tells that the other machine hears no tracking after 3 s, and only while this one hears some', () => {
  state = 'no-tracking';
  for (let s = 0; s < 3; s++) hear('a', s);
  expect(tracking).toEqual([]);
  hear('a', 3);
  expect(tracking).toEqual([
    { kind: 'other-tracking', machine: 'standby', silent: true, address: STANDBY },
  ]);
  // The tracking system is gone: there is nothing wrong with the other machine.
  hearsTracking = false;
  hear('a', 4);
  expect(tracking.at(-1)).toMatchObject({ silent: false });
  hearsTracking = true;
  hear('a', 5);
  state = 'well';
  hear('a', 6);
  expect(tracking.map(one => one.silent)).toEqual([true, false, true, false]);
});
