import { describe, expect, test } from 'vitest';
import { planOptions } from '../../src/commands/checking/plan.js';
import { checkPatched } from '../../src/readiness/show-checks.js';
import { safeLook } from '../../src/show/model/safe-look.js';
import { parseShow } from '../../src/show/parse.js';
import { changed } from './base.js';

const GLOW = '  glow: { profile: dimmer, universe: 1, address: 1 }\n';
const problems = (text: string) => {
  const result = parseShow(text, 'x.show.yaml');
  return result.ok ? [] : result.problems.map(({ code, message }) => `${code}: ${message}`);
};
const show = (text: string) => {
  const result = parseShow(text, 'x.show.yaml');
  if (!result.ok) throw new Error(result.problems.map(({ message }) => message).join());
  return result.show;
};
const withFixture = (line: string) => changed(GLOW, `${GLOW}  far: ${line}\n`);

describe('an unpatched fixture', () => {
  const far = '{ label: Far, profile: placeholder, unpatched: true, position: [1, 2, 5] }';

  test('is in the show, and not among those that are sent something', () => {
    const plain = show(changed(GLOW, GLOW));
    const more = show(withFixture(far));
    expect(more.fixtures).toEqual(plain.fixtures);
    expect(more.unpatched).toEqual([{ name: 'far', label: 'Far', position: { x: 1, y: 2, z: 5 } }]);
    expect(safeLook(more)).toEqual(safeLook(plain));
  });

  test('hangs in the plan, and is named before the doors', () => {
    const more = show(withFixture(far));
    expect(planOptions(more, 1).lights).toContainEqual({
      name: 'far',
      position: { x: 1, y: 2, z: 5 },
    });
    expect(checkPatched(more)).toMatchObject([
      { state: 'warn', found: expect.stringContaining('Far is unpatched') },
    ]);
    expect(checkPatched(show(changed(GLOW, GLOW)))).toEqual([]);
  });

  test('may keep an address, also one that another has', () => {
    const parked = '{ profile: dimmer, unpatched: true, universe: 77, address: 1 }';
    expect(problems(withFixture(parked))).toEqual([]);
  });

  test('is no place for a mapping to send to', () => {
    const text = changed('[glow]', '[glow, far]', withFixture(far));
    expect(problems(text)).toEqual([
      'fixture-unpatched: fixture "far" is unpatched, so nothing would be sent to it: give it a universe and an address and remove unpatched, or leave it out here.',
    ]);
  });

  test('has a profile that there is, or the placeholder', () => {
    expect(problems(withFixture('{ profile: dimer, unpatched: true }'))).toEqual([
      'unknown-name: there is no profile "dimer". Did you mean "dimmer"?',
    ]);
  });
});

describe('a fixture that is not marked as unpatched', () => {
  test('needs universe and address, each said', () => {
    expect(problems(withFixture('{ profile: dimmer }'))).toEqual([
      'missing-key: fixture "far" has no universe; write it, or mark the fixture as unpatched: true.',
      'missing-key: fixture "far" has no address; write it, or mark the fixture as unpatched: true.',
    ]);
  });

  test('needs a profile that says what its slots do', () => {
    expect(problems(withFixture('{ profile: placeholder, universe: 1, address: 30 }'))).toEqual([
      'placeholder-profile: fixture "far" has the profile "placeholder", which doesn\'t say what its slots do; give it its real profile, or mark it as unpatched: true.',
    ]);
  });

  test('may have a profile of its own that is called placeholder', () => {
    const own = withFixture('{ profile: placeholder, universe: 1, address: 30 }').replace(
      'fixtures:\n',
      'profiles:\n  placeholder: { channels: [{ attribute: Dimmer }] }\nfixtures:\n',
    );
    expect(problems(own)).toEqual([]);
  });
});
