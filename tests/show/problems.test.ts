import { describe, expect, test } from 'vitest';
import { PROBLEM_CODES, type ProblemCode } from '../../src/show/codes.js';
import { MAX_SHOW_BYTES, parseShow } from '../../src/show/parse.js';
import type { Problem } from '../../src/show/problem.js';
import { changed, MINIMAL } from './base.js';

interface Case {
  readonly code: ProblemCode;
  /** Line and column, from 1, where the eye has to go. */
  readonly at: readonly [line: number, column: number];
  readonly says: string;
  readonly text: string;
}

function problemsOf(text: string): readonly Problem[] {
  const result = parseShow(text, 'a.show.yaml');
  return result.ok ? [] : result.problems;
}

const PROFILE = 'fixtures:\n  glow';
const withProfile = (channels: string) =>
  changed(PROFILE, `profiles: { mine: { channels: [${channels}] } }\n${PROFILE}`);
const OUTPUT = '  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }';
const ROUTE = '{ address: "/tracker/{tracker}/position" }';
const CIRCLE = 'circle: { centre: [2, 3], radius: 0.8 }';

// biome-ignore format: a table
const CASES: readonly Case[] = [
  // The text.
  { code: 'file-too-large', at: [1, 1], says: `the file has ${MAX_SHOW_BYTES + 1} characters; at most ${MAX_SHOW_BYTES} are read.`, text: ' '.repeat(MAX_SHOW_BYTES + 1) },
  { code: 'yaml-syntax', at: [3, 1], says: 'this key stands twice in its block; each key once.', text: changed('name: One lamp\n', 'name: One lamp\nname: Two\n') },
  { code: 'yaml-syntax', at: [4, 1], says: 'a tab indents this line; use spaces.', text: changed('stage: { x: [0, 6], y: [0, 4] }\ninputs:', 'stage:\n\tx: [0, 6]\ninputs:') },
  { code: 'yaml-syntax', at: [2, 7], says: 'there is a second colon on this line; text with a colon in it goes in quotes.', text: changed('name: One lamp', 'name: One: lamp') },
  { code: 'yaml-syntax', at: [3, 20], says: 'a "]" is missing before this place.', text: changed('y: [0, 4] }', 'y: 4] }').replace('x: [0, 6]', 'x: [0, 6') },
  { code: 'yaml-syntax', at: [25, 1], says: 'the file goes on after a line "---" or "..."; a show is one document, so take that line out.', text: `${MINIMAL}---\na: 1\n` },
  { code: 'yaml-syntax', at: [2, 7], says: 'a word that begins with ! is a YAML tag, which a show file does not use; text goes in quotes.', text: changed('One lamp', '!lamp x') },
  { code: 'yaml-syntax', at: [2, 7], says: '"*lamp" repeats something, and nothing above is marked "&lamp".', text: changed('One lamp', '*lamp') },
  { code: 'yaml-syntax', at: [13, 3], says: '"__proto__" can not be used as a key.', text: changed('glow: {', '__proto__: {').replaceAll('[glow]', '[head]') },
  { code: 'yaml-syntax', at: [2, 7], says: 'text can not begin with this character; put it in quotes.', text: changed('One lamp', '@lamp') },
  { code: 'yaml-syntax', at: [1, 1], says: 'the repetitions with & and * stand for too many values; write them out.', text: `a: &a [${'x,'.repeat(20)}]\nb: &b [${'*a,'.repeat(20)}]\nc: &c [${'*b,'.repeat(20)}]\nd: [${'*c,'.repeat(20)}]\n` },

  // Keys and kinds of values.
  { code: 'unknown-key', at: [4, 1], says: '"watchdogs" is not a key of the file. Did you mean "watchdog"? It has "lampwright", "name", "stage", "inputs", "tracking", "performers", "zones", "profiles", "fixtures", "mappings", "watchdog" or "outputs".', text: changed('inputs:', 'watchdogs: {}\ninputs:') },
  { code: 'unknown-key', at: [11, 22], says: '"center" is not a key of zones.stove.circle. Did you mean "centre"? It has "centre" or "radius".', text: changed('centre', 'center') },
  { code: 'unknown-key', at: [16, 5], says: '"zoen" is not a key of mappings[0]. Did you mean "zone"? It has "zone", "performers", "fixtures", "set", "curve", "fade", "follow" or "offset".', text: changed('- zone', '- zoen').replace('  - zoen', '  -\n    zoen') },
  { code: 'unknown-key', at: [19, 5], says: '"curve" is not a key of mappings[1]. It has "follow", "fixtures", "offset", "set" or "fade".', text: changed('- follow: ines\n', '- follow: ines\n    curve: linear\n').replace('mappings:\n  - zone: stove\n', 'mappings:\n  - zone: stove\n').replace('    set: { Dimmer: 100 }\n', '    set: { Dimmer: 100 }\n').replace('  - follow: ines\n    curve', '  - follow: ines\n    curve') },
  { code: 'unknown-key', at: [24, 30], says: '"priority" is not a key of outputs.lamps. It has "protocol", "interface", "universes", "offset", "rate", "to" or "poll".', text: changed('protocol: sacn', 'protocol: artnet, priority: 100') },
  { code: 'missing-key', at: [1, 1], says: 'stage is missing: a block of keys is needed. Where performers can be, in the stage frame: metres, x to stage left, y upstage, z up.', text: changed('stage: { x: [0, 6], y: [0, 4] }\n', '') },
  { code: 'missing-key', at: [5, 3], says: 'inputs.tracking.port is missing: a whole number is needed. UDP port.', text: changed('    port: 9010\n', '') },
  { code: 'missing-key', at: [24, 10], says: 'outputs.lamps.protocol is missing: "sacn" or "artnet" is needed.', text: changed('protocol: sacn, ', '') },
  { code: 'missing-key', at: [16, 5], says: 'mappings[0] has neither "zone" nor "follow"; it needs one of them.', text: changed('- zone: stove\n    fixtures', '- fixtures') },
  { code: 'missing-key', at: [1, 1], says: 'lampwright is missing: 1 is needed. Version of this file format.', text: changed('lampwright: 1\n', '') },
  { code: 'wrong-type', at: [1, 1], says: 'the file should be a block of keys, and is empty.', text: '' },
  { code: 'wrong-type', at: [1, 1], says: 'the file should be a block of keys, and is a list of 1.', text: '- a\n' },
  { code: 'wrong-type', at: [3, 13], says: 'stage.x should be a list of 2 numbers, and has 3.', text: changed('[0, 6]', '[0, 6, 7]') },
  { code: 'wrong-type', at: [3, 17], says: 'stage.x[1] should be a number, and is infinite.', text: changed('[0, 6]', '[0, .inf]') },
  { code: 'wrong-type', at: [6, 11], says: 'inputs.tracking.port should be a whole number, and is 90.5.', text: changed('9010', '90.5') },
  { code: 'wrong-type', at: [9, 21], says: 'performers.ines.trackers should be a list, and is 1. A list stands in [ ], or has a line with - for each entry.', text: changed('trackers: [1]', 'trackers: 1') },
  { code: 'wrong-type', at: [12, 10], says: 'fixtures should be a block of keys, and is empty.', text: changed(PROFILE, 'fixtures:\n#').replace(/#[\s\S]*mappings/, 'mappings') },
  { code: 'bad-value', at: [6, 11], says: 'inputs.tracking.port should be at most 65535, and is 70000.', text: changed('9010', '70000') },
  { code: 'bad-value', at: [24, 22], says: 'outputs.lamps.protocol should be "sacn" or "artnet", and is "dmx".', text: changed('sacn', 'dmx') },
  { code: 'bad-value', at: [24, 55], says: 'outputs.lamps.to[0] should be an IPv4 address such as 10.0.0.5, and is "gateway".', text: changed('to: [127.0.0.1]', 'to: [gateway]') },
  { code: 'bad-value', at: [11, 3], says: '"stove 1" should be a name: a letter, and then letters, digits, - and _.', text: changed('  stove:', '  "stove 1":') },
  { code: 'bad-value', at: [17, 5], says: 'mappings[0] has "zone" and "follow"; it takes one of them.', text: changed('- zone: stove\n', '- zone: stove\n    follow: ines\n') },
  { code: 'bad-value', at: [1, 13], says: 'lampwright should be 1, and is 2.', text: changed('lampwright: 1', 'lampwright: 2') },
  { code: 'bad-value', at: [11, 21], says: 'zones.stove.polygon should have at least 3 entries, and is a list of 2.', text: changed(CIRCLE, 'polygon: [[1, 1], [2, 2]]') },

  // What only makes sense as a whole.
  { code: 'range-reversed', at: [3, 13], says: 'stage.x goes from 6 to 0 metres; the first must be below the second.', text: changed('[0, 6]', '[6, 0]') },
  { code: 'unknown-name', at: [16, 11], says: 'there is no zone "stoves". Did you mean "stove"?', text: changed('zone: stove', 'zone: stoves') },
  { code: 'unknown-name', at: [13, 20], says: 'there is no profile "dimer". Did you mean "dimmer"?', text: changed('profile: dimmer', 'profile: dimer') },
  { code: 'unknown-name', at: [17, 16], says: 'there is no fixture "constructor".', text: changed('[glow]', '[constructor]') },
  { code: 'unknown-name', at: [19, 13], says: 'there is no performer "tobias".', text: changed('follow: ines', 'follow: tobias') },
  { code: 'tracker-shared', at: [10, 24], says: 'tracker 1 is worn by performer "ines" already; each tracker belongs to one performer.', text: changed('trackers: [1] }\n', 'trackers: [1] }\n  tobias: { trackers: ["1"] }\n') },
  { code: 'input-port-taken', at: [8, 18], says: 'input "other" listens on 127.0.0.1:9010, as input "tracking" does; use one input with several routes, or another port.', text: changed('performers:', `  other: { port: 9010, routes: [${ROUTE}] }\nperformers:`) },
  { code: 'route-address', at: [7, 25], says: 'an OSC address begins with /, and this one with "t".', text: changed('"/tracker/{', '"tracker/{') },
  { code: 'route-address', at: [7, 25], says: `"/position" doesn't say where the tracker stands; use {tracker} for that part, or put "tracker" among the arguments.`, text: changed('/tracker/{tracker}/position', '/position') },
  { code: 'route-address', at: [7, 25], says: '{tracker} stands for everything between two slashes, and here it is part of "t{tracker}".', text: changed('/{tracker}/', '/t{tracker}/') },
  { code: 'route-arguments', at: [7, 67], says: 'a position needs at least two of x, y and z that always come.', text: changed('position" }', 'position", arguments: [x] }') },
  { code: 'route-axes', at: [7, 62], says: 'axes use one axis of the feed twice (x, x, z); each of x, y and z goes in once.', text: changed('position" }', 'position", axes: [x, x, z] }') },
  { code: 'zone-shape', at: [11, 3], says: 'zone "stove" has no shape; give it either a circle or a polygon.', text: changed(`{ ${CIRCLE} }`, '{}') },
  { code: 'zone-shape', at: [11, 3], says: 'zone "stove" has two shapes; give it either a circle or a polygon.', text: changed(CIRCLE, `${CIRCLE}, polygon: [[1, 1], [2, 1], [2, 2]]`) },
  { code: 'zone-self-crossing', at: [11, 21], says: 'the edges after corner 1 and after corner 3 of zone "stove" cross or touch; list the corners in order round the edge.', text: changed(CIRCLE, 'polygon: [[1, 1], [2, 2], [2, 1], [1, 2]]') },
  { code: 'zone-outside-stage', at: [11, 20], says: 'zone "stove" reaches outside of the stage, which is x 0 to 6 and y 0 to 4 metres.', text: changed('radius: 0.8', 'radius: 1.2') },
  { code: 'profile-channels', at: [12, 34], says: 'Pan of profile "mine" needs its range in degrees: range: [from, to].', text: withProfile('{ attribute: Pan }') },
  { code: 'profile-channels', at: [12, 58], says: 'profile "mine": Dimmer is already channel 1 of this profile; give an attribute one channel only.', text: withProfile('{ attribute: Dimmer }, { attribute: Dimmer }') },
  { code: 'unknown-attribute', at: [18, 12], says: '"Dimer" is not a GDTF attribute. Did you mean "Dimmer"?', text: changed('Dimmer: 100', 'Dimer: 100') },
  { code: 'unknown-attribute', at: [18, 12], says: '"aim" is not a GDTF attribute.', text: changed('Dimmer: 100', 'aim: 100') },
  { code: 'attribute-missing', at: [18, 12], says: 'fixture "glow" has no Zoom; its profile "dimmer" has "Dimmer".', text: changed('Dimmer: 100', 'Zoom: 20') },
  { code: 'attribute-range', at: [18, 20], says: 'Dimmer of fixture "glow" goes from 0 to 100, and 101 is asked.', text: changed('Dimmer: 100', 'Dimmer: 101') },
  { code: 'patch-past-end', at: [14, 54], says: 'fixture "head" needs 7 slots from 507, up to 513; a universe ends at 512.', text: changed('address: 11', 'address: 507') },
  { code: 'patch-overlap', at: [14, 54], says: 'fixture "head" shares slot 1 of universe 1 with fixture "glow".', text: changed('address: 11', 'address: 1') },
  { code: 'universe-unreachable', at: [13, 38], says: 'fixture "glow" is in universe 3, which no output sends; they send 1.', text: changed('dimmer, universe: 1', 'dimmer, universe: 3') },
  { code: 'universe-range', at: [24, 78], says: 'a range of universes of output "lamps" is reversed or has more than 2048 of them; write "first-last".', text: changed('universes: [1]', 'universes: ["8-1"]') },
  { code: 'universe-range', at: [24, 78], says: 'output "lamps" would send universe 0; sACN has 1 to 63999.', text: changed('universes: [1]', 'universes: [0, 1]') },
  { code: 'universe-sent-twice', at: [25, 78], says: 'output "again" sends universe 1 to 127.0.0.1, as output "lamps" does; two sources on one universe fight.', text: changed(OUTPUT, `${OUTPUT}\n${OUTPUT.replace('lamps', 'again')}`) },
  { code: 'aim-impossible', at: [20, 16], says: `fixture "glow" can't follow: its profile "dimmer" has no Pan and no Tilt.`, text: changed('[head]', '[glow]') },
  { code: 'aim-impossible', at: [14, 61], says: `fixture "head" can't aim at a point: it has no position.`, text: changed('position: [3, 1, 5]', 'base: { aim: [1, 1, 0] }').replace('address: 11, base', 'address: 11, base').replace(/ {2}- follow[\s\S]*80 }\n/, '') },
  { code: 'follow-conflict', at: [22, 12], says: 'Pan of fixture "head" comes from following "ines" and can\'t be set as well.', text: changed('{ Dimmer: 80 }', '{ Pan: 80 }').replace('    fixtures: [head]', '    offset: [0, 0, 0]\n    fixtures: [head]') },
  { code: 'curve-order', at: [18, 29], says: "point 3 of the curve isn't after point 2; the first number must grow from point to point.", text: changed('    set: { Dimmer: 100 }', '    curve: [[0, 0], [0.6, 1], [0.5, 0]]\n    set: { Dimmer: 100 }') },
];

describe('each slip is named, with its place and what would be right', () => {
  test.each(CASES)('$code: $says', ({ code, at: [line, column], says, text }) => {
    expect(problemsOf(text).map(({ excerpt, file, ...rest }) => rest)).toEqual([
      { code, message: says, line, column },
    ]);
  });

  test('there is a case for every code that a text can have', () => {
    const covered = new Set(CASES.map(({ code }) => code));
    // Whether a file can be read is found out by the commands.
    covered.add('file-unreadable');
    expect([...covered].sort()).toEqual(Object.keys(PROBLEM_CODES).sort());
  });

  test('and every code says what it means and what would be right', () => {
    for (const { meaning, right } of Object.values(PROBLEM_CODES)) {
      expect(meaning).toMatch(/^[A-Z].*\.$/);
      expect(right).toMatch(/^([A-Z].*|`.*)\.$|^[A-Z]/);
    }
  });
});

describe('several slips', () => {
  test('are all reported, in the order of the file', () => {
    const text = changed('x: [0, 6]', 'x: 6')
      .replace('9010', '0')
      .replace('profile: dimmer', 'profil: dimmer')
      .replace('protocol: sacn', 'protocol: sACN');
    expect(problemsOf(text).map(({ code, line }) => [code, line])).toEqual([
      ['wrong-type', 3],
      ['bad-value', 6],
      ['unknown-key', 13],
      ['bad-value', 24],
    ]);
  });

  test('of the whole as well', () => {
    const text = changed('zone: stove', 'zone: stave')
      .replace('address: 11', 'address: 1')
      .replace('follow: ines', 'follow: inse')
      .replace('radius: 0.8', 'radius: 5');
    expect(problemsOf(text).map(({ code, line }) => [code, line])).toEqual([
      ['zone-outside-stage', 11],
      ['patch-overlap', 14],
      ['unknown-name', 16],
      ['unknown-name', 19],
    ]);
  });

  test('one that only follows from another is not reported', () => {
    // Outside of a stage that is the wrong way round is every zone; and of universes that can't be
    // read nobody knows which they are.
    expect(problemsOf(changed('[0, 6]', '[6, 0]'))).toHaveLength(1);
    expect(problemsOf(changed('universes: [1]', 'universes: ["8-1"]'))).toHaveLength(1);
  });
});

describe('an excerpt', () => {
  test('shows the line and a mark below the place', () => {
    expect(problemsOf(changed('9010', '0'))[0]?.excerpt).toBe(
      ['  6 |     port: 0', '    |           ^'].join('\n'),
    );
  });

  test('of a very long line shows what is around the place', () => {
    const text = changed(
      'set: { Dimmer: 100 }',
      `set: { ${'Dimmer: 100, '.repeat(1)}Zoom: "${'x'.repeat(5000)}" }`,
    );
    const [line, mark] = (problemsOf(text)[0]?.excerpt ?? '').split('\n');
    expect(line?.length).toBeLessThan(200);
    expect(line?.[(mark?.length ?? 0) - 1]).toBe('"');
  });
});

describe('line ends and byte order marks', () => {
  test('change no place', () => {
    const broken = changed('9010', '0');
    const places = (text: string) => problemsOf(text).map(({ line, column }) => [line, column]);
    expect(places(broken.replaceAll('\n', '\r\n'))).toEqual(places(broken));
    expect(places(`\uFEFF${broken}`)).toEqual(places(broken));
  });
});
