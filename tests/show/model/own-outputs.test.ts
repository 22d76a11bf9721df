import { expect, it } from 'vitest';
import { outputNames, ownOutputs } from '../../../src/show/model/own-outputs.js';
import { changed } from '../base.js';
import { showOf } from '../show-of.js';

const show = showOf(
  changed(
    'universes: [1] }',
    `universes: [1] }
  left: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [2] }
  right: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [3] }`,
  ),
);

it('sends the outputs that it is given, and keeps the levels of all', () => {
  const own = ownOutputs(show, outputNames('left, right'));
  if (!own.ok) throw new Error(own.problems.join());
  expect(own.show.outputs.map(({ name }) => name)).toEqual(['left', 'right']);
  expect(own.show.universes).toEqual([1, 2, 3]);
  expect(own.show.share).toMatchObject({ others: [{ name: 'lamps' }], tells: false });
});

it('has one of the machines tell others: that with the first output', () => {
  const own = ownOutputs(show, ['lamps']);
  expect(own).toMatchObject({
    show: { share: { others: [{ name: 'left' }, { name: 'right' }], tells: true } },
  });
});

it('sends all without the option, and where it names all', () => {
  expect(ownOutputs(show, outputNames(undefined))).toEqual({ ok: true, show });
  expect(ownOutputs(show, outputNames('right,left,lamps'))).toEqual({ ok: true, show });
});

it('says which names the show does not have, all at once', () => {
  expect(ownOutputs(show, outputNames('lfet, lamps,'))).toEqual({
    ok: false,
    problems: [
      '--outputs: the show has no output "lfet"; it has "lamps", "left" or "right". Did you mean "left"?',
      '--outputs: the show has no output ""; it has "lamps", "left" or "right".',
    ],
  });
});
