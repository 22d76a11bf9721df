import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parseShow } from '../../src/show/parse.js';

const GOOD = readFileSync('config/salt-lantern.show.yaml', 'utf8');

/** Codes of the problems of the example show with some of its text replaced, in file order. */
function codesAfter(...replacements: readonly (readonly [string, string])[]): string[] {
  let text = GOOD;
  for (const [from, to] of replacements) {
    expect(text).toContain(from);
    text = text.replace(from, to);
  }
  const result = parseShow(text, 'salt.show.yaml');
  return result.ok ? [] : result.problems.map(problem => problem.code);
}

const OVERLAP = ['universe: 1, address: 3', 'universe: 1, address: 2'] as const;

describe('a slip in one entry does not hide others', () => {
  it('reports an overlap beside a wrong port', () => {
    expect(codesAfter(['port: 9010', 'port: ninety'], OVERLAP)).toEqual([
      'wrong-type',
      'patch-overlap',
    ]);
  });

  it('reports an overlap beside slips in what is heard of a desk, and nothing that these are the reason of', () => {
    const haze =
      'hazard: atmospheric, ground: [Dimmer], profile: dimmer, universe: 1, address: 400 }';
    expect(
      codesAfter(OVERLAP, [
        'fixtures:\n',
        `desk: { stage: { protocol: sacn, universe: none, interface: eth1, ground: 1 } }
orders: [{ slot: [stage, 0], enable: atmospheric }]
masters: [{ fixtures: [hazer], by: 7 }]
fixtures:
  hazer: { ${haze}
`,
      ]),
    ).toEqual(['wrong-type', 'bad-value', 'wrong-type', 'patch-overlap']);
  });

  it.for([
    ['a key', 'grond: 1', 'fixtures:', ['unknown-key', 'patch-overlap']],
    ['its universe', 'ground: 99', 'fixtures:', ['universe-unreachable', 'patch-overlap']],
    [
      'the fixture',
      'ground: 1',
      'fixtures:\n  beam: { hazrd: laser, profile: dimmer, universe: 1, address: 401 }',
      ['unknown-key', 'patch-overlap'],
    ],
  ] as const)('of a ground with a slip in %s nothing follows', ([, ground, fixtures, codes]) => {
    const block = `desk: { stage: { protocol: sacn, universe: 9, interface: eth1, ${ground} } }
orders: [{ slot: [stage, 1], enable: ${ground === 'ground: 1' ? 'laser' : 'atmospheric'} }]
${fixtures}
  hazer: { hazard: atmospheric, profile: dimmer, universe: 1, address: 410 }
  lamp: { profile: dimmer, universe: 1, address: 411, ground: safe }
`;
    expect(codesAfter(OVERLAP, ['fixtures:\n', block])).toEqual(codes);
  });

  it('reports an overlap beside an unknown key', () => {
    expect(codesAfter(['feather: 0.8', 'fether: 0.8'], OVERLAP)).toEqual([
      'unknown-key',
      'patch-overlap',
    ]);
  });

  it('reports an unknown attribute beside a decimal with a comma, and says how decimals are written', () => {
    const from = /set: \{ Dimmer: (\d+)/.exec(GOOD)?.[0] ?? '';
    const result = parseShow(GOOD.replace(from, 'set: { Dimmr: 60,5'), 'salt.show.yaml');
    const problems = result.ok ? [] : result.problems;
    expect(problems.map(({ message }) => message)).toEqual([
      expect.stringMatching(/"Dimmr".*Did you mean "Dimmer"/),
      expect.stringMatching(/^"5" .*Decimals are written with a point/),
    ]);
  });

  it('a mapping that is refused is there for the cues that name it, by text and with a level', () => {
    const result = parseShow(
      `${GOOD.replace(/\ncues:[\s\S]*?\n(?=\S)/, '\n').replace(
        'mappings:\n',
        'mappings:\n  - { name: slip, follow: ines, priority: 3, fixtures: [stove-glow], set: { Dimmer: 5 } }\n',
      )}\ncues:\n  one: { mappings: [slip] }\n  two: { mappings: [slip: 50] }\n  three: { mappings: [slop] }\n`,
      'salt.show.yaml',
    );
    const problems = result.ok ? [] : result.problems;
    expect(problems.map(({ code, message }) => [code, message])).toEqual([
      ['unknown-key', expect.stringContaining('priority')],
      ['aim-impossible', expect.stringContaining('"stove-glow" can\'t follow')],
      ['unknown-name', expect.stringContaining('"slop"')],
    ]);
  });

  it('of two mappings with one name, either may be the one that a cue names', () => {
    const twin = '  - { name: twin, zone: stove, fixtures: [stove-glow], set: { Dimmer: 5 } }\n';
    const result = parseShow(
      `${GOOD.replace(/\ncues:[\s\S]*?\n(?=\S)/, '\n').replace('mappings:\n', `mappings:\n${twin}${twin}`)}\ncues:\n  one: { mappings: [other] }\n`,
      'salt.show.yaml',
    );
    expect(result.ok ? [] : result.problems.map(({ code }) => code)).toEqual(['name-shared']);
  });

  it('reports an unknown name at its own place though an earlier mapping is refused', () => {
    const result = parseShow(
      GOOD.replace('curve: smooth', 'curve: soft').replace('follow: gull', 'follow: gulf'),
      'salt.show.yaml',
    );
    const problems = result.ok ? [] : result.problems;
    expect(problems.map(problem => problem.code)).toEqual(['bad-value', 'unknown-name']);
    const line = GOOD.split('\n').findIndex(text => text.includes('follow: gull')) + 1;
    expect(problems[1]?.line).toBe(line);
  });
});

describe('what was left out is not missed', () => {
  it('no unknown name where the zone itself is refused', () => {
    expect(codesAfter(['radius: 1.2', 'radius: wide'])).toEqual(['wrong-type']);
  });

  it('no unreachable universe where an output is refused', () => {
    expect(codesAfter(['protocol: artnet', 'protocol: artnot'])).toEqual(['bad-value']);
  });

  it('nothing more where there is no stage', () => {
    expect(codesAfter(['  x: [0, 10]', '  x: [0]'], OVERLAP)).toEqual(['wrong-type']);
  });
});
