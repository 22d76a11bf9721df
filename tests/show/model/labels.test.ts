import { expect, it } from 'vitest';
import { labelsOf, withLabels } from '../../../src/show/model/labels.js';
import { HOUSE } from '../../engine/shows.js';
import { showOf } from '../show-of.js';

const labelled = (tobias: string) =>
  showOf(
    HOUSE.replace('ines: { trackers: [1] }', 'ines: { trackers: [1], label: Ines Lind }')
      .replace('tobias: { trackers: [2] }', `tobias: { trackers: [2], label: ${tobias} }`)
      .replace('head: { profile: spot, universe: 2, address: 1,', '$& label: Head one,'),
  );

it('has the label of each name, and the name itself where there is none', () => {
  const { performer, fixture, zone } = labelsOf(labelled('Tobias'));
  expect([performer('ines'), performer('tobias'), performer('of-another-show')]).toEqual([
    'Ines Lind',
    'Tobias',
    'of-another-show',
  ]);
  expect([fixture('head'), fixture('stove-glow'), zone('stove')]).toEqual([
    'Head one',
    'stove-glow',
    'stove',
  ]);
});

it('tells two of one label apart by their names', () => {
  const { performer } = labelsOf(labelled('Ines Lind'));
  expect([performer('ines'), performer('tobias')]).toEqual([
    'Ines Lind (ines)',
    'Ines Lind (tobias)',
  ]);
});

it('works them out once for a show: each event asks for them', () => {
  const show = labelled('Tobias');
  expect(labelsOf(show)).toBe(labelsOf(show));
  expect(labelsOf(labelled('Toby')).performer('tobias')).toBe('Toby');
});

it('puts labels beside the names in data, at any depth, and changes nothing else', () => {
  const labels = labelsOf(labelled('Tobias'));
  const data = {
    kind: 'stopped',
    performers: ['ines', 'tobias'],
    stillStopped: [],
    action: { performer: 'ines', by: undefined },
    outputs: [{ fixture: 'head', hazard: 'strobe' }],
    atS: 3,
  };
  expect(withLabels(data, labels)).toEqual({
    ...data,
    performerLabels: ['Ines Lind', 'Tobias'],
    stillStoppedLabels: [],
    action: { performer: 'ines', performerLabel: 'Ines Lind' },
    outputs: [{ fixture: 'head', fixtureLabel: 'Head one', hazard: 'strobe' }],
  });
});
