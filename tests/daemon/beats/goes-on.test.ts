import { expect, it } from 'vitest';
import { sendsOtherwise } from '../../../src/daemon/beats/goes-on.js';
import { HOUSE } from '../../engine/shows.js';
import { showOf } from '../../show/show-of.js';

const OPERATOR = 'operator: { listen: 0.0.0.0, port: 9020, allow: [10.0.0.0/24] }\n';
const BEFORE = `${HOUSE}${OPERATOR}`;

/** Why the light does not go on where the text of the show has been changed. */
function why(...changes: readonly (readonly [from: string, to: string])[]): string | undefined {
  let after = BEFORE;
  for (const [from, to] of changes) {
    expect(after).toContain(from);
    after = after.replace(from, to);
  }
  return sendsOtherwise(showOf(BEFORE), showOf(after));
}

it('keeps the light where only what is asked of it has changed, or who may send to an input', () => {
  expect(why(['Dimmer: 85', 'Dimmer: 80'])).toBeUndefined();
  expect(why(['10.0.0.0/24', '10.0.0.0/24, 10.0.1.7'])).toBeUndefined();
  expect(why(['port: 9010', 'port: 9010\n    allow: [10.0.0.5]'])).toBeUndefined();
  const pair = 'allow: [10.0.0.0/24], standby: 10.0.0.12, main: 10.0.0.11';
  expect(why(['allow: [10.0.0.0/24]', pair])).toBeUndefined();
});

it('says what has changed, and nothing else', () => {
  expect(why(['port: 9020', 'port: 9021'])).toBe('its operator input changed');
  expect(why(['listen: 0.0.0.0', 'listen: 127.0.0.1'])).toBe('its operator input changed');
  expect(why([OPERATOR, ''])).toBe('its operator input changed');
  expect(why(['port: 9010', 'port: 9011'])).toBe('its inputs changed');
  expect(why(['universe: 1, address: 1,', 'universe: 1, address: 5,'])).toBe('its patch changed');
  expect(why(['Test house', 'Other house'], ['to: [127.0.0.1]', 'to: [127.0.0.2]'])).toBe(
    'its name and outputs changed',
  );
});
