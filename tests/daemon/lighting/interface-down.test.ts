import { expect, it } from 'vitest';
import { isDown } from '../../../src/daemon/lighting/interfaces.js';

it('an interface that is up, or that this machine does not have, is not down', () => {
  expect(isDown('lo')).toBe(false);
  expect(isDown('no-such0')).toBe(false);
  expect(isDown('../lo')).toBe(false);
});
