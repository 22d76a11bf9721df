import fc from 'fast-check';
import { test } from 'vitest';
import type { Show } from '../../src/show/model/model.js';
import { demand } from '../demand.js';
import { showOf } from '../show/show-of.js';
import { Rig } from './harness.js';
import { HOUSE } from './shows.js';
import { SignalShow } from './signal-show.js';

/** Each of those who drive a zone mapping by a mapping of their own, by their presence. */
function longForm(show: Show): Show {
  const long = new SignalShow(show).keeping(({ kind }) => kind !== 'zone');
  for (const mapping of show.mappings) {
    if (mapping.kind !== 'zone') continue;
    for (const performer of mapping.performers) {
      const source = { kind: 'presence', zone: mapping.zone, performers: [performer] } as const;
      const by = long.signal({ ...source, every: false }, { curve: mapping.curve });
      const { values, fade } = mapping;
      const fixtures = [...new Set(values.map(({ fixture }) => fixture))];
      long.mappingOf({ by: fixtures.map(() => by), fixtures, values, fade });
    }
  }
  return long.show();
}

const place = fc.tuple(
  fc.constantFrom('1', '2'),
  fc.constantFrom([2, 6], [5, 4], [8.2, 7], [1.2, 4.4], [6.7, 6.5]),
);
const turn = fc.record({
  places: fc.array(place, { maxLength: 2 }),
  ticks: fc.integer({ min: 1, max: 60 }),
  stop: fc.option(fc.constantFrom('ines', 'tobias'), { freq: 6 }),
});

test('a zone mapping is short for a mapping by presence: the same bytes, whatever happens', () => {
  const [short, long] = [showOf(HOUSE), longForm(showOf(HOUSE))];
  fc.assert(
    fc.property(fc.array(turn, { minLength: 2, maxLength: 12 }), turns => {
      const [a, b] = [new Rig(short), new Rig(long)];
      for (const { places, ticks, stop } of turns) {
        for (const rig of [a, b]) {
          if (stop !== null) rig.order({ kind: 'stop', performer: stop, cause: 'command' });
          else rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
        }
        for (let i = 0; i < ticks; i++) {
          const now = Object.fromEntries(places.map(([id, at]) => [id, at as [number, number]]));
          const [ours, theirs] = [a, b].map(rig => rig.run(1 / 40, now).view.levels);
          demand(Buffer.compare(ours as Uint8Array, theirs as Uint8Array) === 0, () => `tick ${i}`);
        }
      }
    }),
    { seed: 20261130, numRuns: 20 },
  );
});
