import type { ProblemCode } from '../../src/show/problems/codes.js';
import { changed } from './base.js';

/** A good show with groups, a zone that moves, and a signal and a condition of most kinds. */
export const SIGNALS = `lampwright: 1
name: Signals
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1], label: Ines Lind }
  tobias: { trackers: [2] }
  gull: { trackers: [3] }
zones:
  stove: { circle: { centre: [2, 6], radius: 1.2 } }
  near-ines: { circle: { around: ines, radius: 1.5 } }
groups:
  company: [ines, tobias, gull]
  cells: [c1, c2, c3]
fixtures:
  c1: { profile: dimmer, universe: 1, address: 1, position: [1, 1, 0] }
  c2: { profile: dimmer, universe: 1, address: 2, position: [2, 1, 0] }
  c3: { profile: dimmer, universe: 1, address: 3, position: [3, 1, 0] }
  cyc: { profile: rgb, universe: 1, address: 11 }
signals:
  to-lantern: { distance: [ines, [5, 4]], range: [6, 1], curve: smooth, attack: 0.2, release: 1 }
  parting: { distance: [ines, tobias] }
  crossing: { along: { of: ines, line: [[0, 2], [10, 2]] }, range: [0, 10] }
  at-stove: { count: { zone: stove, of: company } }
  ripple: { wave: { period: 2, spread: 1 } }
  glow: { product: [to-lantern, ripple] }
  steps: { distance: [company, each], range: [2, 0.5] }
  away: { heading: { of: tobias, towards: 270 } }
  since: { time: two, range: [0, 10] }
  fader: { osc: { address: /sound/level }, range: [0, 1] }
conditions:
  two: { signal: at-stove, on: 2, off: 1 }
  leaving: { signal: away, below: 45, off: 60, for: 1 }
mappings:
  - { zone: stove, performers: [company], fixtures: [cells], set: { Dimmer: 80 } }
  - { zone: near-ines, fixtures: [c1], set: { Dimmer: 70 } }
  - { by: glow, fixtures: [cells], set: { Dimmer: 60 }, mix: highest }
  - { by: steps, when: { all: [two, { not: leaving }] }, fixtures: [cells], set: { Dimmer: 55 } }
  - { by: crossing, fixtures: [cyc], from: { ColorAdd_B: 100 }, set: { ColorAdd_B: 0 } }
  - { when: { in: stove, of: gull, hold: 5 }, fixtures: [cyc], set: { Dimmer: 50 }, priority: 2 }
  - { when: { not: two }, fixtures: [cyc], set: { Dimmer: 20 } }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;

interface Case {
  readonly code: ProblemCode;
  readonly says: string;
  readonly text: string;
}

const other = (from: string, to: string) => changed(from, to, SIGNALS);
const signal = (text: string) => other('signals:\n', `signals:\n  extra: ${text}\n`);
const condition = (text: string) => other('conditions:\n', `conditions:\n  extra: ${text}\n`);
const mapping = (text: string) => other('mappings:\n', `mappings:\n  - ${text}\n`);

const chained = (count: number) =>
  Array.from({ length: count }, (_, i) => `  deep-${i + 1}: { inverse: deep-${i} }\n`).join('');

// biome-ignore format: a table
export const SIGNAL_CASES: readonly Case[] = [
  // Groups.
  { code: 'unknown-name', says: 'there is no performer or fixture "tobais". Did you mean "tobias"?', text: other('[ines, tobias, gull]', '[ines, ▸tobais, gull]') },
  { code: 'group-members', says: 'group "odd" has performers and fixtures: "ines" is a performer and "cyc" a fixture. Make it two groups.', text: other('  cells: [', '  odd: [ines, ▸cyc]\n  cells: [') },
  { code: 'group-members', says: '"c1" is in group "cells" twice.', text: other('[c1, c2, c3]', '[c1, c2, ▸c1]') },
  { code: 'group-members', says: '"cells" is a group, and groups hold performers or fixtures; list them here.', text: other('  cells: [', '  more: [▸cells, c1]\n  cells: [') },
  { code: 'group-name', says: 'group "gull" has the name of a performer; give it a name of its own.', text: other('  cells: [', '  ▸gull: [ines, tobias]\n  cells: [') },
  { code: 'group-name', says: 'a group can\'t be called "any", which has a meaning of its own in a show file; give it another name.', text: other('  cells: [', '  ▸any: [ines, tobias]\n  cells: [') },
  { code: 'group-kind', says: '"cells" is a group of fixtures, but performers are needed here.', text: other('performers: [company]', 'performers: [▸cells]') },
  { code: 'group-kind', says: '"company" is a group of performers, but fixtures are needed here.', text: mapping('{ zone: stove, fixtures: [▸company], set: { Dimmer: 10 } }') },
  { code: 'unknown-name', says: 'there is no fixture "cell". Did you mean "cells"?', text: mapping('{ zone: stove, fixtures: [▸cell], set: { Dimmer: 10 } }') },
  { code: 'unknown-name', says: 'there is no performer "company". "company" is a group, but one performer is needed here.', text: other('along: { of: ines', 'along: { of: ▸company') },

  // A zone that moves.
  { code: 'unknown-name', says: 'there is no performer "inse". Did you mean "ines"?', text: other('around: ines', 'around: ▸inse') },
  { code: 'bad-value', says: 'zones.near-ines.circle has "centre" and "around"; it takes one of them.', text: other('around: ines', 'centre: [2, 2], ▸around: ines').replace('  - { zone: near-ines, fixtures: [c1], set: { Dimmer: 70 } }\n', '') },
  { code: 'missing-key', says: 'zones.near-ines.circle has neither "centre" nor "around"; it needs one of them.', text: other('{ around: ines, radius: 1.5 }', '▸{ radius: 1.5 }') },
  { code: 'zone-of-their-own', says: 'zone "near-ines" moves with "ines", who is always in the middle of it; name somebody else.', text: signal('{ presence: { zone: near-ines, of: ▸ines } }') },
  { code: 'zone-of-their-own', says: 'zone "near-ines" moves with "ines", who is always in the middle of it; name somebody else.', text: mapping('{ zone: near-ines, performers: ▸[ines], fixtures: [c1], set: { Dimmer: 10 } }') },

  // Signals.
  { code: 'unknown-name', says: 'there is no zone "stoev". Did you mean "stove"?', text: signal('{ presence: { zone: ▸stoev } }') },
  { code: 'unknown-name', says: 'there is no performer "Ines Lind". Did you mean "ines"?', text: signal('{ speed: ▸Ines Lind }') },
  { code: 'unknown-name', says: 'there is no performer, group, fixture, zone or point "lantren".', text: signal('{ distance: [ines, ▸lantren] }') },
  { code: 'unknown-name', says: 'there is no performer, group, fixture, zone or point "chiar". Did you mean "chair"?', text: other('signals:\n', 'palettes: { points: { chair: [1, 2, 0.5] } }\nsignals:\n  extra: { distance: [ines, ▸chiar] }\n') },
  { code: 'signal-constant', says: 'neither end of this distance is a performer, so it never changes; name a performer or a group of them.', text: other('signals:\n', 'palettes: { points: { chair: [1, 2, 0.5] } }\nsignals:\n  extra: { distance: ▸[c1, chair] }\n') },
  { code: 'unknown-name', says: 'there is no signal "riple". Did you mean "ripple"?', text: signal('{ product: [to-lantern, ▸riple] }') },
  { code: 'unknown-name', says: 'there is no condition "tow". Did you mean "two"?', text: signal('{ time: ▸tow }') },
  { code: 'unknown-name', says: 'there is no input "traking". Did you mean "tracking"?', text: signal('{ osc: { address: /fader, input: ▸traking } }') },
  { code: 'missing-key', says: 'signals.extra has neither "presence" nor "distance" nor "along" nor "across" nor "height" nor "speed" nor "heading" nor "time" nor "count" nor "osc" nor "slot" nor "wave" nor "product" nor "sum" nor "least" nor "greatest" nor "inverse"; it needs one of them.', text: signal('▸{ range: [0, 1] }') },
  { code: 'bad-value', says: 'signals.extra has "height" and "speed"; it takes one of them.', text: signal('{ height: ines, ▸speed: ines }') },
  { code: 'unknown-key', says: '"speeed" is not a key of signals.extra. Did you mean "speed"? It has "presence", "range", "curve", "attack", "release", "distance", "along", "across", "height", "speed", "heading", "time", "count", "osc", "slot", "gone", "wave", "product", "sum", "least", "greatest" or "inverse".', text: signal('{ ▸speeed: ines }') },
  { code: 'bad-value', says: 'it has both of and every: with `of` one of them is enough, with `every` all must be there. Keep one of the two.', text: signal('{ presence: { zone: stove, of: ines, ▸every: company } }') },
  { code: 'bad-value', says: '"fader 1" is not an OSC address to listen to: parts with a / before each, without spaces and without # * , ? [ ] { }, such as /sound/level.', text: signal('{ osc: { address: ▸fader 1 } }') },
  { code: 'missing-key', says: 'input is missing: the show has "more" and "tracking"; say at which it arrives.', text: other('inputs:\n', 'inputs:\n  more: { port: 9020, routes: [{ address: "/t/{tracker}" }] }\n').replace('osc:', '▸osc:') },
  { code: 'signal-circle', says: 'signal "extra" depends on itself: extra <- more <- extra.', text: signal('{ product: [more, ripple] }\n  more: { inverse: extra }').replace('  extra:', '  ▸extra:') },
  { code: 'signal-circle', says: 'signal "at-stove" depends on itself: at-stove <- two <- at-stove.', text: other('at-stove: { count: { zone: stove, of: company } }', '▸at-stove: { time: two }') },
  { code: 'signal-depth', says: 'signal "deep-100" depends on others, and those on others, more than 100 levels deep; at most 100 are allowed.', text: signal(`{ inverse: deep-100 }\n  deep-0: { wave: { period: 2 } }\n${chained(100)}`).replace('deep-100: {', '▸deep-100: {') },
  { code: 'signal-unit', says: 'signal "extra" puts "parting" (metres) and "away" (degrees) together: all of them must have the same unit, or none. A range removes the unit.', text: signal('{ sum: [parting, ▸away] }') },
  { code: 'signal-unit', says: 'signal "extra" puts "parting" (metres) and "at-stove" (people) together: only one signal of a product may have a unit. A range removes the unit.', text: signal('{ product: [ripple, parting, ▸at-stove] }') },
  { code: 'signal-unit', says: 'signal "parting" is in metres, but the inverse is 1 minus a signal without a unit: give "parting" a range.', text: signal('{ inverse: ▸parting }') },
  { code: 'signal-unit', says: 'signal "extra" is in metres a second, and a curve goes from 0 to 1: give it a range, which says what is 0 and what is 1.', text: signal('{ speed: ines, ▸curve: smooth }') },
  { code: 'signal-unit', says: 'signal "extra" is in metres, and release is the time from 0 to 1: give it a range, which says what is 0 and what is 1.', text: signal('{ height: ines, ▸release: 2 }') },
  { code: 'signal-range', says: 'the range of signal "extra" is from 2 to 2: its two ends must differ.', text: signal('{ speed: ines, range: ▸[2, 2] }') },
  { code: 'signal-range', says: 'points 1 and 2 of the line are the same; a line goes from one point to another.', text: signal('{ along: { of: ines, line: [[1, 1], ▸[1, 1], [2, 2]] } }') },
  { code: 'signal-constant', says: 'neither end of this distance is a performer, so it never changes; name a performer or a group of them.', text: signal('{ distance: ▸[c1, stove] }') },
  { code: 'signal-constant', says: 'both ends are "ines", so it never changes; name somebody or something else.', text: signal('{ distance: [ines, ▸ines] }') },
  { code: 'position-missing', says: 'fixture "cyc" has no position to measure from; give it one, in metres.', text: signal('{ distance: [ines, ▸cyc] }') },
  { code: 'position-missing', says: 'fixture "cyc" has no position to measure from; give it one, in metres.', text: mapping('{ by: steps, fixtures: [▸cyc], set: { Dimmer: 10 } }') },
  { code: 'curve-order', says: "point 2 of the curve is not greater than point 1; the first number must increase from point to point.", text: signal('{ speed: ines, range: [0, 2], curve: [[0.5, 0], ▸[0.5, 1]] }') },

  // Conditions.
  { code: 'unknown-name', says: 'there is no condition "too". Did you mean "two"?', text: condition('{ all: [leaving, ▸too] }') },
  { code: 'unknown-name', says: 'there is no signal "at-stov". Did you mean "at-stove"?', text: condition('{ any: [two, { not: { signal: ▸at-stov, on: 1 } }] }') },
  { code: 'missing-key', says: 'conditions.extra has neither "signal" nor "in" nor "all" nor "any" nor "not"; it needs one of them.', text: condition('▸{ for: 2 }') },
  { code: 'missing-key', says: 'the condition does not say when signal "parting" means yes: give `on` (yes from there upwards) or `below` (yes from there downwards).', text: condition('{ signal: parting, off: 2 }').replace('  extra:', '  ▸extra:') },
  { code: 'bad-value', says: 'it has both on and below: `on` is yes upwards, `below` is yes downwards. Keep one of the two.', text: condition('{ signal: parting, on: 3, ▸below: 2 }') },
  { code: 'threshold-order', says: 'off is 3, above on, which is 2: it would be yes and no at once. Make `off` 2 or less.', text: condition('{ signal: parting, on: 2, off: ▸3 }') },
  { code: 'threshold-order', says: 'off is 1, under below, which is 2: it would be yes and no at once. Make `off` 2 or more.', text: condition('{ signal: parting, below: 2, off: ▸1 }') },
  { code: 'threshold-unreachable', says: 'signal "at-stove" goes from 0 to 3 people, so this can never be yes.', text: condition('{ signal: at-stove, on: ▸4 }') },
  { code: 'threshold-unreachable', says: 'signal "to-lantern" goes from 0 to 1, so this can never be yes.', text: condition('{ signal: to-lantern, on: ▸2 }') },
  { code: 'threshold-unreachable', says: 'signal "parting" goes from 0 metres up, so this can never be no.', text: condition('{ signal: parting, on: ▸0 }') },
  { code: 'threshold-unreachable', says: 'signal "away" goes from 0 to 180 degrees, so this can never be no again once it is yes.', text: condition('{ signal: away, below: 90, off: ▸190 }') },
  { code: 'signal-by-fixture', says: 'signal "glow" differs from fixture to fixture (`spread`), and a condition is the same for all.', text: condition('{ signal: ▸glow, on: 0.5 }') },

  // Mappings.
  { code: 'unknown-name', says: 'there is no signal "glwo". Did you mean "glow"?', text: mapping('{ by: ▸glwo, fixtures: [c1], set: { Dimmer: 10 } }') },
  { code: 'unknown-name', says: 'there is no condition "parting". "parting" is a signal. A condition says when it means yes: { signal: parting, on: ... }.', text: mapping('{ when: ▸parting, fixtures: [c1], set: { Dimmer: 10 } }') },
  { code: 'unknown-name', says: 'there is no signal "two". "two" is a condition: use it with `when`. The time since it became yes is a signal: { time: two }.', text: mapping('{ by: ▸two, fixtures: [c1], set: { Dimmer: 10 } }') },
  { code: 'unknown-name', says: 'there is no condition "to". Did you mean "two"?', text: mapping('{ when: ▸to, fixtures: [c1], set: { Dimmer: 10 } }') },
  { code: 'signal-unit', says: 'signal "parting" is in metres, but a mapping goes from 0 to 1. Give the signal a range, which says what is 0 and what is 1.', text: mapping('{ by: ▸parting, fixtures: [c1], set: { Dimmer: 10 } }') },
  { code: 'attribute-missing', says: 'from has ColorAdd_R but set does not; add the value at full level to set.', text: mapping('{ by: crossing, fixtures: [cyc], from: { ▸ColorAdd_R: 10 }, set: { ColorAdd_B: 10 } }') },
  { code: 'attribute-range', says: 'Dimmer of fixture "cyc" goes from 0 to 100, but the file has 120.', text: mapping('{ by: crossing, fixtures: [cyc], from: { Dimmer: ▸120 }, set: { Dimmer: 10 } }') },
  { code: 'never-acts', says: 'the condition can never be yes: it requires something and its opposite.', text: mapping('{ when: ▸{ all: [two, { not: two }] }, fixtures: [c1], set: { Dimmer: 10 } }') },
  { code: 'never-acts', says: 'signal "extra" is never above 0, so the mapping never acts; check its range.', text: signal('{ count: { zone: stove }, range: [4, 8] }').replace('mappings:\n', 'mappings:\n  - { by: ▸extra, fixtures: [c1], set: { Dimmer: 10 } }\n') },
  { code: 'never-acts', says: 'set is empty, so the mapping does nothing; name the attributes that it drives.', text: mapping('{ when: two, fixtures: [c1], set: ▸{} }') },
  { code: 'bad-value', says: 'mappings[0] has "zone" and "by"; it takes one of them.', text: mapping('{ zone: stove, ▸by: glow, fixtures: [c1], set: { Dimmer: 10 } }') },
];
