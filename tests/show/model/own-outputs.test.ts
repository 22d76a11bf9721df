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

const shared = (operator: string) =>
  showOf(
    changed(
      'universes: [1] }',
      `universes: [1] }
  left: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [2] }
  right: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [3] }
operator: { port: 9011, ${operator} }`,
    ),
  );

it('tells its orders to the machines of its own outputs only', () => {
  const show = shared(
    'standby: { left: 10.0.0.12, lamps: 10.0.0.12, right: 10.0.0.22 }, main: { left: 10.0.0.11 }',
  );
  const told = (names: readonly string[] | undefined) => {
    const own = ownOutputs(show, names);
    if (!own.ok) throw new Error(own.problems.join());
    const addresses = (all: readonly { readonly address: string }[] = []) =>
      all.map(({ address }) => address);
    return [addresses(own.show.operator?.standby), addresses(own.show.operator?.main)];
  };
  expect(told(['lamps', 'left'])).toEqual([['10.0.0.12'], ['10.0.0.11']]);
  expect(told(['right'])).toEqual([['10.0.0.22'], []]);
  // One machine for all of them, that has the place of several.
  expect(told(undefined)).toEqual([['10.0.0.12', '10.0.0.22'], ['10.0.0.11']]);
});

it('refuses one address where several pairs share the outputs, and says how to give each its own', () => {
  const one = shared('standby: 10.0.0.12');
  expect(ownOutputs(one, ['right'])).toEqual({
    ok: false,
    problems: [
      '--outputs: `operator.standby` has one machine, 10.0.0.12, for right, which this machine sends, and for lamps and left, which others send: a stop given at one pair would go to another, or to none. Give each pair its own: `standby: { right: ADDRESS, lamps: ADDRESS, left: ADDRESS }`, and leave out outputs without one.',
    ],
  });
  const twice = shared('main: { left: 10.0.0.11, right: 10.0.0.11 }, standby: 10.0.0.12');
  expect(ownOutputs(twice, ['left'])).toMatchObject({
    ok: false,
    problems: [
      expect.stringMatching(/`operator.standby`/),
      expect.stringMatching(/`operator.main`/),
    ],
  });
  // One pair that sends both.
  expect(ownOutputs(one, ['lamps', 'left', 'right']).ok).toBe(true);
});
