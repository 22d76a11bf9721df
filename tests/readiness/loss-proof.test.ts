import { describe, expect, it } from 'vitest';
import { cuesToProve, proveLosses } from '../../src/readiness/loss-proof.js';
import { middleOf, placesThatMatter, standingPlace } from '../../src/readiness/places.js';
import { checkHazards, checkWatchdog } from '../../src/readiness/show-checks.js';
import { showOf } from '../show/show-of.js';
import { changed, example, PAIR } from './shows.js';

/** The engine runs for some seconds of its own time, not of ours. */
describe('the watchdog, proved by simulated losses', () => {
  it('lets go of what each performer drives alone, in the declared time', () => {
    const show = showOf(PAIR);
    const proof = proveLosses(show);
    expect(proof.neverLive).toEqual([]);
    const [ines, tobias] = proof.losses;
    expect(ines).toMatchObject({ performer: 'Ines', fixtures: ['stove'], wasLit: true });
    expect(tobias).toMatchObject({ performer: 'Tobias', fixtures: ['head'], wasLit: true });
    const { afterS, fadeS } = show.watchdog.trackerSilent;
    for (const loss of [ines, tobias]) {
      expect(loss?.decidedS).toBeGreaterThanOrEqual(afterS);
      expect(loss?.decidedS).toBeLessThan(afterS + 0.1);
      expect(loss?.declaredS).toBe(afterS + fadeS);
      // A fade takes its time: neither a jump nor a delay.
      expect(loss?.tookS).toBeGreaterThan(afterS + fadeS - 0.1);
      expect(loss?.tookS).toBeLessThan(afterS + fadeS + 0.1);
    }
    // The head turns in the dark after it.
    expect(tobias?.restedS).toBeGreaterThan(tobias?.tookS ?? 0);
    expect(proof.feed.fixtures).toEqual(['stove', 'both', 'head']);
    expect(checkWatchdog(show, [proof]).map(one => one.state)).toEqual(['pass', 'pass', 'pass']);
  });

  it('takes the time of a fixture for its own', () => {
    const text = changed('address: 1, safe', 'address: 1, fade: 4, safe');
    const { losses } = proveLosses(showOf(text));
    expect(losses[0]?.declaredS).toBe(losses[0] && showOf(text).watchdog.trackerSilent.afterS + 4);
    expect(losses[0]?.tookS).toBeLessThan(losses[0] ? losses[0].declaredS + 0.25 : 0);
  });

  it('fails where performers never go live', () => {
    // Trackers are worn at 1.5 m, a metre below where the stage is said to begin.
    const low = changed('y: [0, 8] }', 'y: [0, 8], z: [2.5, 4] }');
    const show = showOf(`${low}watchdog: { outOfBounds: { margin: 0 } }\n`);
    const checks = checkWatchdog(show, [proveLosses(show)]);
    expect(checks.at(-1)).toMatchObject({ name: 'going live', state: 'fail' });
    expect(checks.at(-1)?.found).toContain('Ines and Tobias did not go live');
  });

  it('fails where a promise is not kept', () => {
    const show = showOf(PAIR);
    const proof = proveLosses(show);
    const late = { ...proof.feed, tookS: proof.feed.declaredS + 1 };
    const never = { ...proof.feed, restedS: undefined };
    for (const feed of [late, never]) {
      expect(checkWatchdog(show, [{ ...proof, feed }]).at(-1)?.state).toBe('fail');
    }
  });

  it('says so where a loss changes nothing, and where a performer drives nothing', () => {
    const text = changed('set: { Dimmer: 100 }', 'set: { Dimmer: 0 }').replace(
      'stove: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 } }',
      'stove: { profile: dimmer, universe: 1, address: 1 }',
    );
    const show = showOf(
      text.replace('  - { follow: tobias, fixtures: [head], set: { Dimmer: 70 } }\n', ''),
    );
    const [ines, tobias] = checkWatchdog(show, [proveLosses(show)]);
    expect(ines?.found).toContain('already showed the safe look');
    expect(tobias?.found).toContain('drives no fixture alone');
  });

  it('looks at what the cue that is on has somebody drive, and at its safe look', () => {
    const text = `${changed('- { follow: tobias,', '- { name: head, follow: tobias,')}cues:
  still: { mappings: [lamps], base: { head: { Dimmer: 30 } }, safe: { both: { Dimmer: 40 } } }
  walk: { mappings: [lamps, head] }
`
      .replace('- { zone: stove,', '- { name: lamps, zone: stove,')
      .replace('- { zone: lantern,', '- { name: lamps-both, zone: lantern,')
      .replace('[lamps]', '[lamps, lamps-both]');
    const show = showOf(text);
    const proof = proveLosses(show);
    expect(proof.losses.map(({ fixtures }) => fixtures)).toEqual([['stove'], []]);
    expect(proof.feed.fixtures).toEqual(['stove', 'both']);
    const checks = checkWatchdog(show, [proof]);
    expect(checks.slice(0, 3).map(one => one.state)).toEqual(['pass', 'pass', 'pass']);
    expect(checks[3]?.found).toMatch(/^simulated in 1 of 2 cues \(still\): /);
  });

  it.each(['low-water', 'salt-lantern'])('passes for %s, heads that are shared included', name => {
    const show = showOf(example(name));
    const checks = checkWatchdog(
      show,
      cuesToProve(show).map(cue => proveLosses(show, cue)),
    );
    expect(checks.filter(one => one.state !== 'pass')).toEqual([]);
  });

  describe('of a show with cues', () => {
    const CUES = `${changed('- { follow: tobias,', '- { name: head, follow: tobias,')
      .replace('- { zone: stove,', '- { name: stove, zone: stove,')
      .replace('- { zone: lantern,', '- { name: lantern, zone: lantern,')}cues:
  calm: { label: Calm, mappings: [head] }
  storm: { label: Storm, mappings: [stove, lantern], safe: { stove: { Dimmer: 40 } }, fade: 3 }
  alone: { label: Alone, mappings: [stove, head], off: [tobias] }
`;
    const show = showOf(CUES);
    const proofs = cuesToProve(show).map(cue => proveLosses(show, cue));

    it('looks at the light of each, with the performers where they drive it', () => {
      expect(proofs.map(({ cue }) => cue)).toEqual(['Calm', 'Storm', 'Alone']);
      expect(proofs.map(({ feed }) => [feed.fixtures, feed.wasLit])).toEqual([
        [['head'], true],
        [['stove', 'both'], true],
        [['stove'], true],
      ]);
      expect(proofs.flatMap(({ neverLive }) => neverLive)).toEqual([]);
      const [ines, tobias, everybody] = checkWatchdog(show, proofs);
      expect(ines?.found).toMatch(/^simulated \(Storm\): stove; loss detected/);
      expect(checkWatchdog(show, proofs.slice(0, 2))[2]?.found).toContain(
        'in 2 cues (Calm and Storm)',
      );
      expect(tobias?.found).toMatch(/^simulated \(Calm\): head; /);
      expect(everybody?.found).toMatch(
        /^simulated in each of the 3 cues: head, stove and both; slowest in /,
      );
    });

    it('fails for one that is slow in any of them, and names it', () => {
      const [calm, storm, alone] = proofs;
      if (calm === undefined || storm === undefined || alone === undefined) throw new Error();
      const feed = { ...storm.feed, tookS: storm.feed.declaredS + 1 };
      const check = checkWatchdog(show, [calm, { ...storm, feed }, alone]).at(-1);
      expect(check).toMatchObject({ state: 'fail' });
      expect(check?.found).toContain('slowest in Storm');
      const never = { ...storm, feed: { ...storm.feed, restedS: undefined } };
      expect(checkWatchdog(show, [calm, never, alone]).at(-1)?.found).toContain('(Storm)');
    });

    it('takes of very many only those with a mapping or a safe look of their own, and says so', () => {
      const many = Array.from({ length: 600 }, (_, i) => `  c${i}: { mappings: [stove] }\n`);
      const large = showOf(`${CUES}${many.join('')}`);
      expect(cuesToProve(large)).toEqual([0, 1]);
      expect(checkWatchdog(large, proofs.slice(0, 2)).at(-1)).toMatchObject({
        name: 'cues',
        state: 'pass',
        found: expect.stringContaining('2 of 603 cues (Calm and Storm)'),
      });
    });
  });

  it('works beside a desk that is required, and with positions that are time tagged', () => {
    const text = changed('port: 9010,', 'port: 9010, timeTags: measured,');
    const show = showOf(`${text}operator: { port: 9011, allow: [127.0.0.1], desk: required }\n`);
    const proof = proveLosses(show);
    expect(proof.neverLive).toEqual([]);
    expect(checkWatchdog(show, [proof]).every(one => one.state === 'pass')).toBe(true);
  });

  it('proves the loss of a performer who is alone on the stage as that of the feed', () => {
    const text = changed('  tobias: { label: Tobias, trackers: [2] }\n', '').replace(
      '  - { follow: tobias, fixtures: [head], set: { Dimmer: 70 } }\n',
      '',
    );
    const proof = proveLosses(showOf(text));
    expect(proof.losses).toEqual([]);
    expect(proof.feed.fixtures).toEqual(['stove', 'both']);
  });
});

describe('hazards', () => {
  const HAZY = changed(
    'fixtures:\n',
    'fixtures:\n  haze: { profile: dimmer, universe: 1, address: 99, hazard: atmospheric }\n',
  ).replace('fixtures: [both]', 'fixtures: [both, haze]');

  it('stay at their safe values while nobody holds their enable', () => {
    const show = showOf(`${HAZY}operator: { port: 9011, allow: [127.0.0.1] }\n`);
    const proof = proveLosses(show);
    expect(proof.leaks).toEqual([]);
    expect(checkHazards(show, [proof])).toMatchObject([
      { name: 'haze (atmospheric)', state: 'pass' },
    ]);
    expect(checkHazards(show, [{ ...proof, leaks: ['haze'] }])[0]?.state).toBe('fail');
  });

  it('that can never be enabled are a warning, and none is a pass', () => {
    // Patched, and driven by nothing: the show check refuses the rest.
    const show = showOf(HAZY.replace('[both, haze]', '[both]'));
    expect(checkHazards(show, [proveLosses(show)])[0]).toMatchObject({ state: 'warn' });
    const none = showOf(PAIR);
    expect(checkHazards(none, [proveLosses(none)])[0]).toMatchObject({ state: 'pass' });
  });
});

describe('places that matter', () => {
  it('are zones with mappings, for those who drive them', () => {
    const found = placesThatMatter(showOf(PAIR));
    expect(found).toEqual([
      { performer: 0, zone: 0, named: true },
      // The lantern is for anybody.
      { performer: 0, zone: 1, named: false },
      { performer: 1, zone: 1, named: false },
    ]);
    expect(standingPlace(showOf(PAIR), 1)).toMatchObject({ x: 7, y: 5 });
  });

  it('have a middle that lies inside, also where the centre of mass does not', () => {
    // An L: its centre of mass is outside.
    const points = [[0, 0], [4, 0], [4, 1], [1, 1], [1, 4], [0, 4]] as const; // biome-ignore format: corners
    const { x, y } = middleOf({ shape: { kind: 'polygon', points } }, 1.5);
    expect(x < 1 || y < 1).toBe(true);
    const shape = { kind: 'circle', centre: { x: 3, y: 2 }, radiusM: 1 } as const;
    expect(middleOf({ shape, height: { fromM: 2, toM: 3 } }, 1.5)).toEqual({ x: 3, y: 2, z: 2.5 });
  });
});
