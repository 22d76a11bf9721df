import { describe, expect, it } from 'vitest';
import { lampwright, SALT_LANTERN } from './support.js';

describe('aim', () => {
  it('explains an aim to people and to scripts alike', async () => {
    const people = await lampwright(['aim', SALT_LANTERN, 'head-right', '5', '4', '0']);
    expect(people.code).toBe(0);
    // From (1, 1, 5.2) to the middle of the stage: 3-4-5 on the plan, atan(5 / 5.2) of tilt.
    expect(people.stdout).toContain('pan -53.13°, tilt 43.88°');
    const json = await lampwright(['aim', SALT_LANTERN, 'head-right', '5', '4', '0', '--json']);
    const explained = JSON.parse(json.stdout);
    expect(explained.fixture).toBe('head-right');
    expect(explained.panDeg).toBeCloseTo(-53.130102, 5);
    expect(explained.solutions).toHaveLength(3);
  });

  it('takes negative numbers for numbers', async () => {
    const args = [
      'aim',
      SALT_LANTERN,
      'head-right',
      '-1',
      '-0.5',
      '0',
      '--from',
      '-90,20',
      '--json',
    ];
    const { code, stdout } = await lampwright(args);
    expect(code).toBe(0);
    expect(JSON.parse(stdout)).toMatchObject({ point: [-1, -0.5, 0], from: { panDeg: -90 } });
  });

  it.concurrent.each([
    [['head-right', '5', '4', '20'], 1, 'misses the point by'],
    [['head-rihgt', '5', '4', '0'], 2, 'Did you mean "head-right"?'],
    [['stove-glow', '5', '4', '0'], 2, '"head-left" or "head-back" can'],
    [['head-right', '5', 'four', '0'], 2, 'Y is a number, not "four"'],
    [['head-right', '5', '4', '0', '--from', '1'], 2, '--from takes PAN,TILT'],
    [['head-right', '5', '4', '0', '--zoom', '200'], 2, 'between 0 and 180'],
    [['head-right', '5', '4'], 2, 'give a show file, a fixture, and X, Y and Z'],
  ])('%j', async (args, wanted, says) => {
    const { code, stdout, stderr } = await lampwright(['aim', SALT_LANTERN, ...args]);
    expect(stdout + stderr).toContain(says);
    expect(code).toBe(wanted);
  });
});
