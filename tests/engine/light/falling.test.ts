import { describe, expect, test } from 'vitest';
import { configShow } from '../../show/base.js';
import { Rig } from '../harness.js';

const names = ({ engine, show }: Rig) =>
  show.fixtures.flatMap(({ name }, i) => (engine.falling.lights[i] === 1 ? [name] : []));

const ALL = { 1: [2, 6, 1.5], 2: [5, 4, 1.6], 3: [8, 7, 1.5] } as const;

describe('lights that a loss takes down', () => {
  test('are those of whoever is lost, from the tick in which they are until they are at their safe values', () => {
    const rig = new Rig(configShow('salt-lantern')).run(8, ALL);
    expect(names(rig)).toEqual([]);
    const [ines] = rig.engine.watched.performers;
    const { 1: _, ...others } = ALL;
    let most = 0;
    let whole = 0;
    rig.run(12, others, () => {
      const falls = names(rig);
      const { phase, trust } = ines?.watch ?? {};
      if (phase === 'live') expect(falls).toEqual([]);
      if (phase === 'losing' && trust !== 0) {
        expect(falls).toContain('stove-glow');
        whole += 1;
      }
      most = Math.max(most, falls.length);
    });
    expect(whole).toBeGreaterThan(20);
    expect(most).toBeLessThan(rig.show.fixtures.length);
    expect(names(rig)).toEqual([]);
  });

  test('and of whoever is stopped; nobody’s who leaves a zone', () => {
    const rig = new Rig(configShow('salt-lantern')).run(8, ALL);
    const out = (t: number) => ({ ...ALL, 1: [2 + t * 0.5, 6 - t, 1.5] as const });
    rig.run(4, out, () => expect(names(rig)).toEqual([]));
    rig.order({ kind: 'stop', performer: 'gull', cause: 'command' });
    rig.run(0.1, ALL);
    expect(names(rig)).toContain('window-glow');
  });
});
