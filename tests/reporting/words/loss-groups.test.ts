import { expect, it } from 'vitest';
import { groupInWords, lossGroups } from '../../../src/reporting/words/loss-groups.js';
import type { Report } from '../../../src/reporting/words/report-data.js';

type Loss = Report['losses'][number];

const loss = (performer: string, atS: number, forS: number, why: string, place = 'stove') =>
  ({ performer, atS, forS, untilS: atS + forS, why, place }) as Loss;

const groupsOf = (...losses: Loss[]) => {
  const performers = ['ines', 'tobias', 'gull'].map(name => ({ name, label: `The ${name}` }));
  return lossGroups({ losses, performers } as unknown as Report);
};

it('is one for all who were lost at once, with their names and how long each', () => {
  const [one, ...others] = groupsOf(
    loss('tobias', 10.02, 4.5, 'tracking silent', 'window'),
    loss('ines', 10, 3, 'tracking silent'),
    loss('gull', 10, 3, 'tracking silent'),
  );
  expect(others).toEqual([]);
  expect(one).toMatchObject({
    atS: 10,
    performers: ['The ines', 'The gull', 'The tobias'],
    forS: '3.0 to 4.5 s',
    longestS: 4.5,
    why: 'tracking silent',
    place: undefined,
  });
});

it('keeps apart other causes, other times, another return, and one performer twice', () => {
  const all = [
    loss('ines', 10, 3, 'tracking silent'),
    loss('tobias', 10, 3, 'tracker silent'),
    loss('gull', 11, 3, 'tracking silent'),
    loss('tobias', 30, 3, 'tracking silent'),
    loss('gull', 30, 60, 'tracking silent'),
    { ...loss('ines', 30, 90, 'tracking silent'), untilS: undefined },
    loss('tobias', 33.2, 3, 'tracking silent'),
    loss('ines', 200, 0.1, 'tracking silent'),
    loss('ines', 200.2, 0.1, 'tracking silent'),
  ];
  expect(groupsOf(...all)).toHaveLength(all.length);
  expect(groupsOf(...all).find(({ longestS }) => longestS === 90)?.forS).toBe(
    '1:30 min to the end',
  );
});

it('says where, if it was one place', () => {
  const [one] = groupsOf(loss('ines', 1, 2, 'frozen'), loss('tobias', 1, 2, 'frozen'));
  expect(one && groupInWords(one)).toBe('frozen; stove');
});
