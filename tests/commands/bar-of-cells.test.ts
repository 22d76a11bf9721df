import { expect, test } from 'vitest';
import { headNamed } from '../../src/commands/calibrating/calibrate-fixture.js';
import { changed } from '../show/base.js';
import { showOf } from '../show/show-of.js';

test('a bar of cells is calibrated as what it is turned about: by its own name, its body, or its label', () => {
  const show = showOf(
    changed(
      'fixtures:\n',
      `profiles:
  moving-bar:
    channels:
      - { attribute: Pan, bits: 16, range: [-270, 270] }
      - { attribute: Tilt, bits: 16, range: [-135, 135] }
      - { attribute: ColorAdd_R, slots: [5], copies: [[6], [7]] }
fixtures:
  bar: { label: The bar, profile: moving-bar, universe: 1, address: 101, position: [5, 0, 5], cells: {} }
`,
    ),
  );
  for (const name of ['bar', 'bar-body', 'The bar body']) {
    expect(headNamed(name, show)).toMatchObject({ name: 'bar-body', inFile: 'bar' });
  }
  // It has no Pan, which is told where it is asked.
  expect(headNamed('bar-2', show)).toMatchObject({ name: 'bar-2', panChannel: -1 });
  expect(headNamed('glow', show)?.name).toBe('glow');
  expect(headNamed('nothing', show)).toBeUndefined();
});
