import { describe, expect, test } from 'vitest';
import { tickHzOf } from '../../src/daemon/beats/show-lighting.js';
import { DEFAULT_RATE_HZ } from '../../src/protocols/transmission.js';
import { MAX_SHOW_BYTES, parseShow } from '../../src/show/parse.js';
import { PROBLEM_CODES, type ProblemCode } from '../../src/show/problems/codes.js';
import type { Problem } from '../../src/show/problems/problem.js';
import { MAX_TOKENS } from '../../src/show/reading/read-yaml.js';
import { changed, MINIMAL } from './base.js';
import { SIGNAL_CASES, SIGNALS } from './signal-cases.js';

interface Case {
  readonly code: ProblemCode;
  readonly says: string;
  /** With a ▸, which is taken out, at the place where the eye has to go. */
  readonly text: string;
}

function problemsOf(text: string): readonly Problem[] {
  const result = parseShow(text, 'a.show.yaml');
  return result.ok ? [] : result.problems;
}

const MARK = '▸';
const PROFILE = 'fixtures:\n  glow';
const withProfile = (channels: string) =>
  changed(PROFILE, `profiles: { mine: { channels: [${channels}] } }\n${PROFILE}`);
const TWO_MODES =
  'profiles: { two: { modes: { basic: { channels: [{ attribute: Dimmer }] }, wide: { channels: [{ attribute: Dimmer, bits: 16 }] } } } }';
const OUTPUT = '  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }';
/** The good show with an output of positions. */
function told(keys: string): string {
  return `${MINIMAL}receivers: { sound: { address: 127.0.0.1, port: 9050 } }\npositions:\n  hall: { ${keys} }\n`;
}
/** The good show with an input by PosiStageNet. */
function psn(keys: string): string {
  return changed(`    port: 9010\n    routes: [${ROUTE}]`, `    protocol: psn\n    ${keys}`);
}
const ROUTE = '{ address: "/tracker/{tracker}/position" }';
const CIRCLE = 'circle: { centre: [2, 3], radius: 0.8 }';

/** A head with an iris and a focus, and neither dimmer nor zoom, and what its follow mapping asks. */
const bare = (asks: string) =>
  changed(
    'set: { Dimmer: 80 }',
    `${asks}\n    set: {}`,
    changed(
      'profile: moving-head',
      'profile: mine',
      withProfile(
        '{ attribute: Pan, range: [-270, 270] }, { attribute: Tilt, range: [-135, 135] }, { attribute: Iris }, { attribute: Focus1 }',
      ),
    ),
  );

const desk = (block: string, text = MINIMAL) => `${text}desk: { ${block} }\n`;
const STAGE = 'stage: { protocol: sacn, universe: 301, interface: eth1, ground: 1 }';
const ordered = (orders: string) =>
  `${desk('control: { protocol: sacn, universe: 201, interface: eth1 }')}orders: [${orders}]\n`;
const grounded = (ground: string) =>
  desk(STAGE, changed('profile: moving-head,', `profile: moving-head, ground: ${ground},`));

const keepOut = (block: string) => changed('zones:\n', `keepOut: { ${block} }\nzones:\n`);

const cues = (block: string) =>
  `${changed('- zone: stove', '- name: stove\n    zone: stove')}cues: { ${block} }\n`;

// biome-ignore format: a table
const CASES: readonly Case[] = [
  // The text.
  { code: 'file-too-large', says: `the file has ${MAX_SHOW_BYTES + 1} characters; the limit is ${MAX_SHOW_BYTES}.`, text: `▸${' '.repeat(MAX_SHOW_BYTES + 1)}` },
  { code: 'file-too-large', says: `the file has more than ${MAX_TOKENS} words and punctuation marks, which is the limit.`, text: `x: [${'1,'.repeat(166_664)}1▸,1,1]` },
  { code: 'yaml-syntax', says: 'lists and blocks are nested too deeply: more than 64 brackets are open here.', text: `x: ${'['.repeat(64)}▸[${']'.repeat(65)}` },
  { code: 'yaml-syntax', says: 'there are too many repetitions with & and *: more than 10000; write them out.', text: `a: &a 1\nb: [${'*a,'.repeat(10_000)}▸*a]` },
  { code: 'yaml-syntax', says: 'this key appears twice in its block; each key may appear once.', text: changed('name: One lamp\n', 'name: One lamp\n▸name: Two\n') },
  { code: 'yaml-syntax', says: 'this key appears twice in its block; each key may appear once.', text: 'performers: { 1: {}, ▸"1": {} }\n' },
  { code: 'yaml-syntax', says: 'a tab indents this line; use spaces.', text: changed('stage: { x: [0, 6], y: [0, 4] }', 'stage:\n▸\tx: [0, 6]') },
  { code: 'yaml-syntax', says: 'a tab indents this line and 2 others; use spaces.', text: changed('stage: { x: [0, 6], y: [0, 4] }', 'stage:\n▸\tx: [0, 6]\n\ty: [0, 4]\n\tz: [0, 4') },
  { code: 'yaml-syntax', says: 'Put text with { or } in quotes: address: "/tracker/{tracker}/position".', text: changed('"/tracker/{tracker}/position"', '/tracker/▸{tracker}/position') },
  { code: 'wrong-type', says: 'inputs.tracking.routes[0].address should be text, and is a block of keys. Put text with { or } in quotes: address: "/tracker/{tracker}/position".', text: changed('"/tracker/{tracker}/position"', '▸{tracker}') },
  { code: 'bad-value', says: 'mappings[0].set.Dimmer is "80%". Write per cent without the sign: 80. It takes a number, or a name: a letter, and then letters, digits, - and _.', text: changed('set: { Dimmer: 100 }', 'set: { Dimmer: ▸80% }') },
  { code: 'attribute-range', says: 'Dimmer of fixture "glow" goes from 0 to 100, but the file has 255. These are per cent, not DMX levels: 255 of 255 is 100.', text: changed('set: { Dimmer: 100 }', 'set: { Dimmer: ▸255 }') },
  { code: 'unknown-attribute', says: '"Intensity" is not a GDTF attribute. GDTF calls it "Dimmer".', text: changed('set: { Dimmer: 100 }', 'set: { ▸Intensity: 80 }') },
  { code: 'unknown-name', says: 'there is no performer "any". A head follows one performer, who is named, or chooses one: follow: { share: any }.', text: changed('follow: ines', 'follow: ▸any') },
  { code: 'bad-value', says: 'mappings[1].follow should be text, or a block of keys, and is a list of 2. Such as { share: [mara, ilja] }.', text: changed('follow: ines', 'follow: ▸[ines, b]') },
  { code: 'unknown-key', says: '"4" is not a key of zones.stove.circle. Decimals are written with a point (1.4): a comma parts one entry from the next. It has "centre" or "radius".', text: changed('radius: 0.8', 'radius: 1,▸4') },
  { code: 'wrong-type', says: 'zones.stove.circle.centre should be a list of 2 numbers, and has 3. Decimals are written with a point (1.4): a comma parts one entry from the next.', text: changed('centre: [2, 3]', 'centre: ▸[2,5, 3]') },
  { code: 'wrong-type', says: 'tracking.sensorLatency should be a number, and is "0,1". Decimals are written with a point: 0.1.', text: `${MINIMAL}tracking:\n  sensorLatency: ▸0,1\n` },
  { code: 'wrong-type', says: 'tracking.sensorLatency should be a number, and is "40 ms". Numbers are written without their unit, in seconds: 0.04.', text: `${MINIMAL}tracking: { sensorLatency: ▸40 ms }\n` },
  { code: 'wrong-type', says: 'tracking.sensorLatency should be a number, and is "1min". Times are written in seconds, without their unit: 60.', text: `${MINIMAL}tracking: { sensorLatency: ▸1min }\n` },
  { code: 'wrong-type', says: 'cues.storm.fade should be a number, and is "1:30". Times are written in seconds: 90.', text: cues('storm: { fade: ▸1:30 }') },
  { code: 'wrong-type', says: 'tracking.noise should be a number, and is "8cm". Numbers are written without their unit, in metres: 0.08.', text: `${MINIMAL}tracking: { noise: ▸8cm }\n` },
  { code: 'yaml-syntax', says: 'there is a second colon on this line; put text with a colon in quotes.', text: changed('name: One lamp', 'name: ▸One: lamp') },
  { code: 'yaml-syntax', says: 'a "]" is missing before this place.', text: changed('x: [0, 6], y: [0, 4] }', 'x: [0, 6, y: [0, 4] ▸}') },
  { code: 'yaml-syntax', says: 'a quote is not closed by the same quote mark.', text: 'name: ▸"One lamp\nstage: {}\n' },
  { code: 'yaml-syntax', says: 'this line is indented by 4 spaces, but the rest of its block by 2.', text: 'stage:\n    ▸x: [0, 6]\n  y: [0, 4]\n' },
  { code: 'yaml-syntax', says: 'the file continues after a line "---" or "..."; a show is one document, so remove that line.', text: `${MINIMAL}▸---\na: 1\n` },
  { code: 'yaml-syntax', says: 'a word that begins with ! is a YAML tag, which a show file does not use; put text in quotes.', text: changed('One lamp', '▸!lamp x') },
  { code: 'yaml-syntax', says: '"*lamp" refers to a part marked "&", but nothing above is marked "&lamp".', text: changed('One lamp', '▸*lamp') },
  { code: 'yaml-syntax', says: '"__proto__" can\'t be used as a key.', text: changed('  glow: {', '  ▸__proto__: {') },
  { code: 'yaml-syntax', says: "in double quotes a backslash has a meaning of its own; write two, or use single quotes ('...').", text: changed('One lamp', '"One ▸\\lamp"') },
  { code: 'yaml-syntax', says: 'this can\'t come here: look for something missing on this line or above it.', text: changed('name: One lamp', 'name: "One" ▸lamp') },
  { code: 'yaml-syntax', says: 'a colon is missing: each line of a block is "key: value".', text: `▸name One lamp\n${MINIMAL}` },
  { code: 'yaml-syntax', says: 'a space is missing after the colon of "spares".', text: `spares:▸[8, 9]\n${MINIMAL}` },
  { code: 'yaml-syntax', says: 'a space is missing after the colon of "stage".', text: changed('stage: {', 'stage:▸{') },
  { code: 'yaml-syntax', says: 'a space is missing after the colon of "port".', text: changed('port: 9010', 'port:▸9010') },
  { code: 'yaml-syntax', says: 'text can\'t begin with this character; put it in quotes.', text: changed('One lamp', '▸@lamp') },
  { code: 'yaml-syntax', says: 'the repetitions with & and * expand to too many values; write them out.', text: `▸a: &a [${'x,'.repeat(20)}]\nb: &b [${'*a,'.repeat(20)}]\nc: &c [${'*b,'.repeat(20)}]\nd: [${'*c,'.repeat(20)}]\n` },

  // Keys and kinds of values.
  { code: 'unknown-key', says: '"watchdogs" is not a key of the file. Did you mean "watchdog"? It has "lampwright", "name", "stage", "inputs", "tracking", "performers", "spares", "anchors", "ranging", "obstacles", "zones", "exits", "keepOut", "groups", "signals", "conditions", "palettes", "profiles", "fixtures", "mappings", "masters", "cues", "receivers", "actions", "positions", "watchdog", "limits", "reload", "operator", "desk", "orders" or "outputs".', text: changed('inputs:', '▸watchdogs: {}\ninputs:') },
  { code: 'unknown-key', says: '"center" is not a key of zones.stove.circle. Did you mean "centre"? It has "centre", "radius" or "around".', text: changed('centre', '▸center') },
  { code: 'unknown-key', says: '"zoen" is not a key of mappings[0]. Did you mean "zone"? It has "zone", "performers", "name", "always", "master", "fixtures", "set", "fade", "curve", "when", "from", "mix", "priority", "follow", "offset", "part", "ahead", "beam", "compensate", "focus" or "by".', text: changed('- zone', '- ▸zoen') },
  { code: 'unknown-key', says: '"offset" is not a key of mappings[0]. It has "zone", "performers", "name", "always", "master", "fixtures", "set", "fade", "curve", "when", "from", "mix" or "priority".', text: changed('- zone: stove\n', '- zone: stove\n    ▸offset: [0, 0, 0]\n') },
  { code: 'unknown-key', says: '"curve" is not a key of mappings[1]. It has "follow", "name", "always", "master", "fixtures", "set", "fade", "offset", "part", "ahead", "beam", "compensate", "focus" or "when".', text: changed('- follow: ines\n', '- follow: ines\n    ▸curve: linear\n') },
  { code: 'unknown-key', says: '"priority" is not a key of outputs.lamps. It has "protocol", "interface", "universes", "offset", "rate", "to", "sync" or "poll".', text: changed('protocol: sacn', 'protocol: artnet, ▸priority: 100') },
  { code: 'unknown-key', says: '"atribute" is not a key of profiles.mine.channels[0]. Did you mean "attribute"? It has "attribute", "bits", "slots", "copies", "range", "unit", "levels", "values", "snap", "default", "highlight", "emitter", "filter" or "hazard".', text: withProfile('{ ▸atribute: Dimmer }') },
  { code: 'missing-key', says: 'stage is missing: a block of keys is needed. Where performers can be, in the stage frame: metres, x to stage left, y upstage, z up.', text: `▸${changed('stage: { x: [0, 6], y: [0, 4] }\n', '')}` },
  { code: 'missing-key', says: 'inputs.tracking.port is missing: a whole number is needed. UDP port.', text: changed('  tracking:\n    port: 9010\n', '  ▸tracking:\n') },
  { code: 'missing-key', says: 'outputs.lamps.protocol is missing: "sacn" or "artnet" is needed.', text: changed('{ protocol: sacn, ', '▸{ ') },
  { code: 'missing-key', says: 'outputs.lamps.interface is missing: text is needed. Address or name of the interface to send from: that of the lighting network.', text: changed('{ protocol: sacn, interface: 127.0.0.1,', '▸{ protocol: sacn,') },
  { code: 'missing-key', says: 'mappings[0] has neither "zone" nor "follow" nor "by" nor "when" nor "name"; it needs one of them.', text: changed('- zone: stove\n    fixtures', '- ▸fixtures') },
  { code: 'missing-key', says: 'mappings[1].set is missing: a block of keys is needed. Attribute values while following: Dimmer, Zoom ...', text: changed('- follow: ines\n    fixtures: [head]\n    set: { Dimmer: 80 }', '- ▸follow: ines\n    fixtures: [head]') },
  { code: 'missing-key', says: 'lampwright is missing: 1 is needed. Version of this file format. Older versions are read too, and `check` says what to change.', text: `▸${changed('lampwright: 1\n', '')}` },
  { code: 'wrong-type', says: 'the file should be a block of keys, and is empty.', text: '▸' },
  { code: 'wrong-type', says: 'the file should be a block of keys, and is empty.', text: '▸# nothing but a comment\n' },
  { code: 'wrong-type', says: 'the file should be a block of keys, and is a list of 1.', text: '▸- a\n' },
  { code: 'wrong-type', says: 'the file should be a block of keys, and is "words".', text: '▸words\n' },
  { code: 'wrong-type', says: 'stage.x should be a list of 2 numbers, and has 3. Decimals are written with a point (1.4): a comma parts one entry from the next.', text: changed('[0, 6]', '▸[0, 6, 7]') },
  { code: 'wrong-type', says: 'stage.x[1] should be a number, and is infinite.', text: changed('[0, 6]', '[0, ▸.inf]') },
  { code: 'wrong-type', says: 'inputs.tracking.port should be a whole number, and is 90.5.', text: changed('9010', '▸90.5') },
  { code: 'wrong-type', says: 'inputs.tracking.port should be a whole number, and is "osc".', text: changed('9010', '▸osc') },
  { code: 'wrong-type', says: 'performers.ines.trackers should be a list, and is 1. A list stands in [ ], or has a line with - for each entry.', text: changed('trackers: [1]', 'trackers: ▸1') },
  { code: 'wrong-type', says: 'fixtures.head.position should be a list of 3 numbers, and has 2.', text: changed('[3, 1, 5]', '▸[3, 1]') },
  { code: 'wrong-type', says: 'zones should be a block of keys, and is empty.', text: changed('  stove: { circle: { centre: [2, 3], radius: 0.8 } }\n', '').replace('zones:\n', 'zones:▸\n') },
  { code: 'bad-value', says: 'inputs.tracking.port should be at most 65535, and is 70000.', text: changed('9010', '▸70000') },
  { code: 'bad-value', says: 'outputs.lamps.protocol should be "sacn" or "artnet", and is "dmx".', text: changed('sacn', '▸dmx') },
  { code: 'bad-value', says: 'outputs.lamps.protocol should be "sacn" or "artnet", and is "sACN". Did you mean "sacn"?', text: changed('sacn', '▸sACN') },
  { code: 'bad-value', says: 'outputs.lamps.to[0] should be an IPv4 address such as 10.0.0.5, and is "gateway".', text: changed('to: [127.0.0.1]', 'to: [▸gateway]') },
  { code: 'bad-value', says: 'outputs.lamps.universes[0] should be a number, or a range of universes such as "1-8", and is "one".', text: changed('universes: [1]', 'universes: [▸one]') },
  { code: 'bad-value', says: '"stove 1" should be a name: a letter, and then letters, digits, - and _.', text: changed('  stove:', '  ▸"stove 1":') },
  { code: 'bad-value', says: 'mappings[0] has "zone" and "follow"; it takes one of them.', text: changed('- zone: stove\n', '- zone: stove\n    ▸follow: ines\n') },
  { code: 'newer-format', says: 'the show has format 2, but this lampwright reads formats up to 1. Install the lampwright it was written for, or a newer one.', text: changed('lampwright: 1', 'lampwright: ▸2') },
  { code: 'bad-value', says: 'zones.stove.polygon should have at least 3 entries, and is a list of 2.', text: changed(CIRCLE, 'polygon: ▸[[1, 1], [2, 2]]') },
  { code: 'bad-value', says: 'zones.stove.circle.radius should be more than 0, and is 0.', text: changed('0.8', '▸0') },
  { code: 'bad-value', says: 'mappings[0].curve should be "linear", "smooth", "square", "root" or "switch", or a list, and is "smoth". Did you mean "smooth"?', text: changed('    fixtures: [glow]', '    curve: ▸smoth\n    fixtures: [glow]') },

  // What only makes sense as a whole.
  { code: 'range-reversed', says: 'stage.x goes from 6 to 0 metres; the first must be below the second.', text: changed('[0, 6]', '▸[6, 0]') },
  { code: 'range-reversed', says: 'zones.stove.height goes from 2 to 2 metres; the first must be below the second.', text: changed(CIRCLE, `${CIRCLE}, height: ▸[2, 2]`) },
  { code: 'unknown-name', says: 'there is no zone "stoves". Did you mean "stove"?', text: changed('zone: stove', 'zone: ▸stoves') },
  { code: 'unknown-name', says: 'there is no profile "dimer". Did you mean "dimmer"?', text: changed('profile: dimmer', 'profile: ▸dimer') },
  { code: 'unknown-name', says: 'there is no fixture "constructor".', text: changed('[glow]', '[▸constructor]') },
  { code: 'unknown-name', says: 'there is no output "lmaps". Did you mean "lamps"?', text: `${MINIMAL}operator: { port: 9011, standby: { ▸lmaps: 10.0.0.12 } }\n` },
  { code: 'unknown-name', says: 'there is no performer "tobias".', text: changed('follow: ines', 'follow: ▸tobias') },
  { code: 'tracker-shared', says: 'tracker 1 is worn by performer "ines" already; each tracker belongs to one performer.', text: changed('trackers: [1] }\n', 'trackers: [1] }\n  tobias: { trackers: [▸"1"] }\n') },
  { code: 'tracker-shared', says: 'tracker 1 is listed twice for performer "ines".', text: changed('trackers: [1]', 'trackers: [1, ▸1]') },
  { code: 'tracker-shared', says: 'tracker 1 is worn by performer "ines" already; nobody wears a spare.', text: changed('zones:', 'spares: [7, ▸1]\nzones:') },
  { code: 'tracker-shared', says: 'tracker 7 is listed twice among the spares.', text: changed('zones:', 'spares: [7, ▸7]\nzones:') },
  { code: 'bad-value', says: 'tracking.noise should be at least 0.001, and is 0.0001.', text: changed('zones:', 'tracking: { noise: ▸0.0001 }\nzones:') },
  { code: 'bad-value', says: 'performers.ines.trackers[0].noise should be at least 0.001, and is 0.', text: changed('trackers: [1]', 'trackers: [{ id: 1, noise: ▸0 }]') },
  { code: 'bad-value', says: 'performers.ines.trackers[0].offset.up should be at most 3, and is 40.', text: changed('trackers: [1]', 'trackers: [{ id: 1, offset: { up: ▸40 } }]') },
  { code: 'unknown-key', says: '"front" is not a key of performers.ines.trackers[0].offset. It has "forward", "left" or "up".', text: changed('trackers: [1]', 'trackers: [{ id: 1, offset: { ▸front: 0.1 } }]') },
  { code: 'unknown-key', says: '"spares" is not a key of performers.ines. "spares" belongs at the top level of the file. It has "label", "trackers", "height" or "wornAt".', text: changed('trackers: [1]', 'trackers: [1], ▸spares: [7]') },
  { code: 'missing-key', says: 'performers.ines.trackers[0].id is missing: a number, or text is needed.', text: changed('trackers: [1]', 'trackers: [▸{ noise: 0.1 }]') },
  { code: 'bad-value', says: 'performers.ines.trackers[0] should be a number, or text, or a block of keys, and is true.', text: changed('trackers: [1]', 'trackers: [▸true]') },
  { code: 'input-port-taken', says: 'input "other" listens on 127.0.0.1:9010, as input "tracking" does; use one input with several routes, or another port.', text: changed('performers:', `  other: { port: ▸9010, routes: [${ROUTE}] }\nperformers:`) },
  { code: 'route-address', says: 'an OSC address begins with /, and this one with "t".', text: changed('"/tracker/{', '▸"tracker/{') },
  { code: 'route-address', says: `"/position" doesn't say which part is the tracker; write {tracker} for that part, or put "tracker" among the arguments.`, text: changed('"/tracker/{tracker}/position"', '▸"/position"') },
  { code: 'route-address', says: '"#" can\'t be in an OSC address (braces only as {tracker}).', text: changed('"/tracker/{tracker}/position"', '▸"/a#b/{tracker}"') },
  { code: 'route-address', says: '"{id}" can\'t be a part of an OSC address; write {tracker} in place of the tracker\'s name.', text: changed('"/tracker/{tracker}/position"', '▸"/pos/{id}"') },
  { code: 'route-address', says: '{tracker} appears twice in the address; once is enough.', text: changed('"/tracker/{tracker}/position"', '▸"/{tracker}/{tracker}"') },
  { code: 'route-address', says: 'an OSC address has no empty parts, and does not end with a slash.', text: changed('"/tracker/{tracker}/position"', '▸"/{tracker}/"') },
  { code: 'route-address', says: '"/tracker/{tracker}/position" is the address of an earlier route.', text: changed(ROUTE, `${ROUTE}, { address: ▸"/tracker/{tracker}/position" }`) },
  { code: 'route-arguments', says: 'a position needs at least two of x, y and z without ?: in this route, or in several routes with one axis each.', text: changed('position" }', 'position", arguments: ▸[x] }') },
  { code: 'route-arguments', says: 'a position needs at least two of x, y and z without ?: in this route, or in several routes with one axis each.', text: changed('position" }', 'position", arguments: [ignore], each: ▸[tracker, x, quality] }').replace('/tracker/{tracker}/', '/all/') },
  { code: 'route-arguments', says: '"quality" can\'t be optional in `each`, because it would not be clear where the next tracker begins; write it without ?.', text: changed('position" }', 'position", each: ▸[tracker, x, y, quality?] }').replace('/tracker/{tracker}/', '/all/') },
  { code: 'route-arguments', says: '"quality" belongs to one tracker, so put it into `each`; only "stamp" and "ignore" may come before it.', text: changed('position" }', 'position", arguments: ▸[quality], each: [tracker, x, y] }').replace('/tracker/{tracker}/', '/all/') },
  { code: 'route-arguments', says: 'it has a unit that differs from the routes with which it makes one position; give them all the same.', text: changed(ROUTE, '{ address: "/{tracker}/x", arguments: [x] }, { address: "/{tracker}/y", arguments: [y], unit: ▸mm }') },
  { code: 'route-arguments', says: 'it has axes that differ from the routes with which it makes one position; give them all the same.', text: changed(ROUTE, '{ address: "/{tracker}/x", arguments: [x] }, { address: "/{tracker}/y", arguments: [y], axes: ▸[y, x, z] }') },
  { code: 'bad-value', says: 'in box, 0 and 1 are the same place (y: 3); give two different ones.', text: changed('position" }', 'position", box: ▸{ y: [3, 3] } }') },
  { code: 'bad-value', says: 'quality has the same worst and best (1, 1); give two different numbers.', text: changed('position" }', 'position", quality: ▸[1, 1] }') },
  { code: 'missing-key', says: 'inputs.tracking.axes is missing: a list of 3 is needed. Which axis of the feed is stage x, y and z, each with its sign. The standard has x to the right, y up and z in depth, but does not say whose right: `[x, z, y]` if x goes to stage left and z upstage. Try it with `lampwright networks` while somebody walks.', text: psn('interface: lo').replace('  tracking:', '  ▸tracking:') },
  { code: 'bad-value', says: 'inputs.tracking.protocol should be "psn", and is "psm". Did you mean "psn"?', text: psn('axes: [x, z, y]').replace('protocol: psn', 'protocol: ▸psm') },
  { code: 'unknown-key', says: '"routes" is not a key of inputs.tracking. It has "protocol", "interface", "group", "port", "allow", "maxDatagram", "axes", "quality", "stamps", "origin", "turn" or "scale".', text: psn('axes: [x, z, y]\n    ▸routes: []') },
  { code: 'route-axes', says: 'axes use one axis of the feed twice (x, x, y); use each of x, y and z once.', text: psn('axes: ▸[x, x, y]') },
  { code: 'bad-value', says: 'quality has the same worst and best (0, 0); give two different numbers.', text: psn('axes: [x, z, y]\n    quality: ▸[0, 0]') },
  { code: 'bad-value', says: 'group 10.0.0.5 is not a multicast group, which is an address from 224.0.0.0 to 239.255.255.255; write `group: none` if the server sends to the address of this machine.', text: psn('axes: [x, z, y]\n    group: ▸10.0.0.5') },
  { code: 'bad-value', says: 'input "tracking" listens on the interface 236.10.10.10, a multicast group, which is not an address of this machine. The group belongs in `group`; `interface` is the address or name of an interface of this machine.', text: psn('axes: [x, z, y]\n    interface: ▸236.10.10.10') },
  { code: 'tracker-number', says: `tracker "belt" can't be heard: PosiStageNet numbers its trackers from 0 to 65535.`, text: psn('axes: [x, z, y]').replace('trackers: [1]', 'trackers: [▸belt]') },
  { code: 'route-arguments', says: '"x" appears twice among the arguments.', text: changed('position" }', 'position", arguments: ▸[x, y, x] }') },
  { code: 'route-arguments', says: '"z" comes after an argument that may be missing; those with ? must be last.', text: changed('position" }', 'position", arguments: ▸[x, y, quality?, z] }') },
  { code: 'route-arguments', says: 'the tracker is named in the address and among the arguments; one of them is enough.', text: changed('position" }', 'position", arguments: ▸[tracker, x, y] }') },
  { code: 'route-arguments', says: 'input "tracking" already takes the time of measurement from its time tags (timeTags: measured), and an input can follow only one clock. Leave "stamp" out, or leave timeTags at "due".', text: changed('position" }]', 'position", arguments: ▸[x, y, stamp] }]\n    timeTags: measured') },
  { code: 'route-axes', says: 'axes use one axis of the feed twice (x, x, z); use each of x, y and z once.', text: changed('position" }', 'position", axes: ▸[x, x, z] }') },
  { code: 'zone-shape', says: 'zone "stove" has no shape; give it either a circle or a polygon.', text: changed(`  stove: { ${CIRCLE} }`, '  ▸stove: {}') },
  { code: 'zone-shape', says: 'zone "stove" has two shapes; give it either a circle or a polygon.', text: changed(`  stove: { ${CIRCLE}`, `  ▸stove: { ${CIRCLE}, polygon: [[1, 1], [2, 1], [2, 2]]`) },
  { code: 'zone-self-crossing', says: 'the edges after corner 1 and after corner 3 of zone "stove" cross or touch; list the corners in order round the edge.', text: changed(CIRCLE, 'polygon: ▸[[1, 1], [2, 2], [2, 1], [1, 2]]') },
  { code: 'anchors-too-many', says: 'the show has 49 anchors; at most 48 can be planned at once.', text: changed('zones:\n', `▸anchors: { ${Array.from({ length: 49 }, (_, i) => `a${i}: { position: [${i}, 0, 3] }`).join(', ')} }\nzones:\n`) },
  { code: 'anchors-same-place', says: 'anchors "left" and "right" have the same position.', text: changed('zones:\n', 'anchors: { left: { position: [0, 0, 3] }, right: { position: ▸[0, 0, 3] } }\nzones:\n') },
  { code: 'obstacle-shape', says: 'obstacle "flat" has no shape; give it either a box or a cylinder.', text: changed('zones:\n', 'obstacles:\n  ▸flat: {}\nzones:\n') },
  { code: 'obstacle-shape', says: 'obstacle "flat" has two shapes; give it either a box or a cylinder.', text: changed('zones:\n', 'obstacles:\n  ▸flat: { box: { x: [0, 1], y: [0, 1], z: [0, 1] }, cylinder: { centre: [0, 0], radius: 1, z: [0, 1] } }\nzones:\n') },
  { code: 'range-reversed', says: 'obstacles.flat.box.y goes from 1 to 0 metres; the first must be below the second.', text: changed('zones:\n', 'obstacles:\n  flat: { box: { x: [0, 1], y: ▸[1, 0], z: [0, 1] } }\nzones:\n') },
  { code: 'range-reversed', says: 'obstacles.post.cylinder.z goes from 2 to 2 metres; the first must be below the second.', text: changed('zones:\n', 'obstacles:\n  post: { cylinder: { centre: [0, 0], radius: 1, z: ▸[2, 2] } }\nzones:\n') },
  { code: 'zone-outside-stage', says: 'zone "stove" reaches outside the stage, which is x 0 to 6 and y 0 to 4 metres.', text: changed(CIRCLE, 'circle: ▸{ centre: [2, 3], radius: 1.2 }') },
  { code: 'zone-outside-stage', says: 'zone "stove" is 5 to 6 metres high, outside the stage, which is z -0.5 to 3 metres: nobody can be in it.', text: changed(CIRCLE, `${CIRCLE}, height: ▸[5, 6]`) },
  { code: 'zone-outside-stage', says: 'zone "stove" is -4 to -0.5 metres high, outside the stage, which is z -0.5 to 3 metres: nobody can be in it.', text: changed(CIRCLE, `${CIRCLE}, height: ▸[-4, -0.5]`) },
  { code: 'follow-rule', says: 'a rule to follow by needs one of nearest, first, order, middle, share.', text: changed('follow: ines', '▸follow: {}') },
  { code: 'follow-rule', says: 'a rule to follow by has nearest and share; keep one of them.', text: changed('follow: ines', '▸follow: { nearest: ines, share: ines }') },
  { code: 'follow-rule', says: 'nearest to what? Add `to`: a fixture, a performer, a point of the palette or [x, y, z].', text: changed('follow: ines', '▸follow: { nearest: ines }') },
  { code: 'follow-rule', says: 'first in which zone? Add `in`: a zone.', text: changed('follow: ines', '▸follow: { first: ines }') },
  { code: 'follow-rule', says: 'share has no `to`.', text: changed('follow: ines', '▸follow: { share: ines, to: glow }') },
  { code: 'follow-rule', says: 'only heads that share can cross over: change is dark or lit here.', text: changed('follow: ines', '▸follow: { first: ines, in: stove, change: cross }') },
  { code: 'follow-rule', says: 'a beam on the middle of several performers has to cover them all: beam: { diameter: 1.8, cover: 5 }.', text: changed('follow: ines', '▸follow: { middle: [ines] }') },
  { code: 'follow-rule', says: 'fixture "glow" has no position, so nothing can be near it.', text: changed('follow: ines', '▸follow: { nearest: ines, to: glow }') },
  { code: 'unknown-name', says: 'there is no zone "stov". Did you mean "stove"?', text: changed('follow: ines', 'follow: { first: ines, in: ▸stov }') },
  { code: 'keep-out-shape', says: 'keep-out "house" has no shape; give it a circle, a polygon, or a point with a radius.', text: keepOut('▸house: {}') },
  { code: 'keep-out-shape', says: 'keep-out "house" has two shapes; give it a circle, a polygon, or a point with a radius.', text: keepOut('▸house: { point: [0, -4, 1], radius: 1, circle: { centre: [0, -4], radius: 1 } }') },
  { code: 'keep-out-shape', says: 'keep-out "house" has a point but no radius; add radius, in metres.', text: keepOut('▸house: { point: [0, -4, 1] }') },
  { code: 'keep-out-shape', says: 'keep-out "house" has a radius but no point; add point: [x, y, z], in metres.', text: keepOut('▸house: { radius: 1 }') },
  { code: 'zone-self-crossing', says: 'the edges after corner 1 and after corner 3 of keep-out "house" cross or touch; list the corners in order round the edge.', text: keepOut('house: { polygon: ▸[[0, -4], [2, -2], [2, -4], [0, -2]] }') },
  { code: 'unknown-name', says: 'there is no fixture "haed". Did you mean "head"?', text: keepOut('house: { point: [0, -4, 1], radius: 1, fixtures: [▸haed] }') },
  { code: 'keep-out-head', says: 'fixture "glow" has no Pan and Tilt: a keep-out is for moving heads.', text: keepOut('house: { point: [0, -4, 1], radius: 1, fixtures: [▸glow] }') },
  { code: 'named-twice', says: '"head" is in this list twice; name each once.', text: keepOut('house: { point: [0, -4, 1], radius: 1, fixtures: [head, ▸head] }') },
  { code: 'keep-out-head', says: 'fixture "head" hangs inside keep-out "house" and could never be lit: give the area a height, or name the fixtures it applies to.', text: keepOut('▸house: { circle: { centre: [3, 1], radius: 1 } }') },
  { code: 'keep-out-head', says: 'fixture "head" hangs inside keep-out "house" and could never be lit: make its radius smaller, or name the fixtures it applies to.', text: keepOut('▸house: { point: [3, 1, 5], radius: 1 }') },
  { code: 'keep-out-head', says: 'fixture "head" hangs inside keep-out "house" and could never be lit: lower its height, or name the fixtures it applies to.', text: keepOut('▸house: { circle: { centre: [3, 1], radius: 1 }, height: [0, 6] }') },
  { code: 'bad-value', says: 'fixtures.head.position[0] should be at most 10000000, and is 1e+308.', text: changed('[3, 1, 5]', '[▸1e308, 1, 5]') },
  { code: 'bad-value', says: 'stage.x[1] should be at most 10000000, and is 1e+308.', text: MINIMAL.replace(/x: \[0, [^\]]*\]/, 'x: [0, ▸1e308]') },
  { code: 'bad-value', says: 'profiles.mine.motion.pan.acceleration should be at least 0.001, and is 5e-324.', text: changed(PROFILE, `profiles: { mine: { motion: { pan: { speed: 200, acceleration: ▸5e-324 } }, channels: [{ attribute: Dimmer }] } }\n${PROFILE}`) },
  { code: 'bad-value', says: 'profiles.mine.channels[0].emitter.luminance should be at least 0.000001, and is 1e-300.', text: withProfile('{ attribute: ColorAdd_R, emitter: { xy: [0.69, 0.308], luminance: ▸1e-300 } }') },
  { code: 'bad-value', says: 'palettes.colours.amber.xy[1] should be at most 0.9, and is 31.', text: changed('inputs:', 'palettes: { colours: { amber: { xy: [0.3, ▸31] } } }\ninputs:') },
  { code: 'keep-out-head', says: 'fixture "head" has no Dimmer to go dark with before its beam touches keep-out "house".', text: changed('  head: {', '  ▸head: {', changed('zones:\n', 'keepOut: { house: { point: [0, -4, 1], radius: 1 } }\nzones:\n', bare('ahead: 0'))) },
  { code: 'keep-out-lit', says: 'fixture "head" shines into keep-out "house" in its safe look, so it would be kept dark: aim it elsewhere, or make it dark there.', text: changed('  head: { profile: moving-head,', '  ▸head: { safe: { aim: [3, -4, 1], Dimmer: 20 }, profile: moving-head,', keepOut('house: { point: [3, -4, 1], radius: 1 }')) },
  { code: 'profile-channels', says: 'Pan of profile "mine" needs a range in degrees: range: [from, to].', text: withProfile('▸{ attribute: Pan }') },
  { code: 'profile-channels', says: 'profile "mine": Dimmer is already channel 1 of this profile; give an attribute one channel only.', text: withProfile('{ attribute: Dimmer }, ▸{ attribute: Dimmer }') },
  { code: 'profile-channels', says: 'profile "mine": Zoom: default 50 is outside of 10 to 40 degrees.', text: withProfile('▸{ attribute: Zoom, range: [10, 40], default: 50 }') },
  { code: 'profile-channels', says: 'profile "mine": Shutter1: default is "opne", which is not one of its named values (open, closed).', text: withProfile('▸{ attribute: Shutter1, values: { open: 255, closed: [0, 9] }, default: opne }') },
  { code: 'profile-channels', says: 'profile "mine": Shutter1: "open" goes from a lower to a higher level, between 0 and 255, and not from 0 to 256.', text: withProfile('▸{ attribute: Shutter1, values: { open: [0, 256] } }') },
  { code: 'profile-channels', says: 'profile "mine": Dimmer: levels go from a lower to a higher one, between 0 and 255, and not from 255 to 8; turn the range round to invert the channel.', text: withProfile('▸{ attribute: Dimmer, levels: [255, 8] }') },
  { code: 'profile-channels', says: 'profile "mine": fixed: slot 1 is already used by Dimmer.', text: changed(PROFILE, `profiles: { mine: { channels: [{ attribute: Dimmer }], fixed: ▸[{ slot: 1, level: 3 }] } }\n${PROFILE}`) },
  { code: 'profile-channels', says: 'CTO of profile "mine" needs a range in kelvin: range: [from, to].', text: withProfile('▸{ attribute: CTO, unit: kelvin }') },
  { code: 'unknown-name', says: 'Dimmer of fixture "glow" has no named values; give it a number.', text: changed('Dimmer: 100', 'Dimmer: ▸full') },
  { code: 'unknown-name', says: 'Dimmer of fixture "glow" has no value "ful". Did you mean "full"? It has "full".', text: changed('Dimmer: 100', 'Dimmer: ▸ful').replace(PROFILE, `profiles: { dimmer: { channels: [{ attribute: Dimmer, values: { full: 255 } }] } }\n${PROFILE}`) },
  { code: 'unknown-name', says: 'profile "dimmer" has no modes; leave mode out.', text: changed('profile: dimmer', 'profile: dimmer, mode: ▸basic') },
  { code: 'unknown-name', says: 'profile "two" has no mode "bassic". Did you mean "basic"? It has "basic" or "wide".', text: changed('profile: dimmer', 'profile: two, mode: ▸bassic').replace(PROFILE, `${TWO_MODES}\n${PROFILE}`) },
  { code: 'missing-key', says: 'fixture "glow" doesn\'t say which mode is set on it: mode is "basic" or "wide" of profile "two".', text: changed('glow: { profile: dimmer', 'glow: ▸{ profile: two').replace(PROFILE, `${TWO_MODES}\n${PROFILE}`) },
  { code: 'bad-value', says: 'profiles.mine has "channels" and "file"; it takes one of them.', text: changed(PROFILE, `profiles: { mine: { channels: [{ attribute: Dimmer }], ▸file: x } }\n${PROFILE}`) },
  { code: 'missing-key', says: 'profiles.mine has neither "channels" nor "modes" nor "file"; it needs one of them.', text: changed(PROFILE, `profiles: { mine: ▸{ label: a } }\n${PROFILE}`) },
  { code: 'file-unreadable', says: 'profile file "my.profile.yaml" can\'t be read: it was not read with the show.', text: changed(PROFILE, `profiles: { mine: { file: ▸my.profile.yaml } }\n${PROFILE}`) },
  { code: 'unknown-attribute', says: '"Dimer" is not a GDTF attribute. Did you mean "Dimmer"?', text: changed('Dimmer: 100', '▸Dimer: 100') },
  { code: 'unknown-attribute', says: '"aim" is not a GDTF attribute.', text: changed('Dimmer: 100', '▸aim: 100') },
  { code: 'unknown-attribute', says: '"dimmer" is not a GDTF attribute. Did you mean "Dimmer"?', text: withProfile('{ attribute: ▸dimmer }') },
  { code: 'attribute-missing', says: 'fixture "glow" has no Zoom; its profile "dimmer" has "Dimmer".', text: changed('Dimmer: 100', '▸Zoom: 20') },
  { code: 'attribute-range', says: 'Dimmer of fixture "glow" goes from 0 to 100, but the file has 101.', text: changed('Dimmer: 100', 'Dimmer: ▸101') },
  { code: 'patch-past-end', says: 'fixture "head" needs 7 slots from 507, up to 513; a universe ends at 512.', text: changed('address: 11', 'address: ▸507') },
  { code: 'patch-overlap', says: 'fixture "head" shares slot 1 of universe 1 with fixture "glow".', text: changed('address: 11', 'address: ▸1') },
  { code: 'missing-key', says: 'fixture "glow" has no universe; write it, or mark the fixture as unpatched: true.', text: changed('{ profile: dimmer, universe: 1,', '▸{ profile: dimmer,') },
  { code: 'fixture-unpatched', says: 'fixture "glow" is unpatched, so nothing would be sent to it: give it a universe and an address and remove unpatched, or leave it out here.', text: changed('dimmer, universe: 1, address: 1 }', 'dimmer, unpatched: true }').replace('[glow]', '[▸glow]') },
  { code: 'placeholder-profile', says: 'fixture "glow" has the profile "placeholder", which doesn\'t say what its slots do; give it its real profile, or mark it as unpatched: true.', text: changed('profile: dimmer', 'profile: ▸placeholder') },
  { code: 'universe-unreachable', says: 'no output sends universe 3, which has fixture "glow"; outputs send 1.', text: changed('dimmer, universe: 1', 'dimmer, universe: ▸3') },
  { code: 'universe-range', says: 'a range of universes of output "lamps" is reversed or has more than 2048 of them; write "first-last".', text: changed('universes: [1]', 'universes: ▸["8-1"]') },
  { code: 'universe-range', says: 'output "lamps" would send universe 0; sACN has 1 to 63999.', text: changed('universes: [1]', 'universes: ▸[0, 1]') },
  { code: 'bad-value', says: 'outputs.lamps.universes[1] should be at most 63999, and is 64000.', text: changed('universes: [1]', 'universes: [1, ▸64000]') },
  { code: 'universe-range', says: 'output "lamps" would send universe 64000; sACN has 1 to 63999.', text: changed('universes: [1]', 'offset: 63999, universes: ▸[1]') },
  { code: 'universe-range', says: 'output "lamps" would send universe 32768; Art-Net has 0 to 32767.', text: changed('sacn', 'artnet').replace('universes: [1]', 'offset: 32767, universes: ▸[1]') },
  { code: 'engine-silent-too-short', says: 'the engine counts as silent after 0.1 s, but the fastest output, "lamps", has a frame every 0.2 s (`outputs.lamps.rate: 5`): the light would never come up, or would keep going out. Write 0.4 or more, or a higher rate.', text: changed(OUTPUT, `${OUTPUT.replace('universes', 'rate: 5, universes')}\nwatchdog: { engineSilent: { after: ▸0.1 } }`) },
  { code: 'universe-range', says: '"control" is universe 40000; Art-Net has 0 to 32767.', text: desk('control: { protocol: artnet, universe: ▸40000, interface: eth1 }') },
  { code: 'desk-heard-twice', says: '"more" and "control" are the same universe on the same interface; one of them is enough, and its slots may be used in many places.', text: desk('control: { protocol: sacn, universe: 201, interface: eth1 }, more: { protocol: sacn, universe: ▸201, interface: eth1 }') },
  { code: 'desk-own-universe', says: '"control" would hear sACN universe 1 on 127.0.0.1, which output "lamps" sends there, so desk and show would be two sources of one universe. Have the desk send another universe, and put ours on top of it with `ground`.', text: desk('control: { protocol: sacn, universe: ▸1, interface: 127.0.0.1 }') },
  { code: 'universe-unreachable', says: 'no output sends universe 2, the ground of which is "stage"; outputs send 1.', text: desk('stage: { protocol: sacn, universe: 301, interface: eth1, ground: ▸2 }') },
  { code: 'ground-twice', says: 'universe 1 would lie on "stage" and on "more"; a universe has one ground.', text: desk('stage: { protocol: sacn, universe: 301, interface: eth1, ground: 1 }, more: { protocol: sacn, universe: 302, interface: eth1, ground: ▸1 }') },
  { code: 'bad-value', says: '"stage" is a ground, whose levels are sent, and "unknown" is not a level. Write gone: hold, or gone: NUMBER.', text: desk('stage: { protocol: sacn, universe: 301, interface: eth1, ground: 1, gone: ▸unknown }') },
  { code: 'ground-missing', says: 'fixture "glow" takes levels from the desk, but its universe 1 has no ground. Write desk: { stage: { protocol: ..., universe: ..., interface: ..., ground: 1 } }.', text: changed('profile: dimmer,', 'profile: dimmer, ▸ground: safe,') },
  { code: 'unknown-name', says: 'fixture "head" has no Zoo. Did you mean "Zoom"? It has "Pan", "Tilt", "Dimmer", "Zoom", "beam" or "target".', text: grounded('[Dimmer, ▸Zoo]') },
  { code: 'bad-value', says: 'Dimmer of fixture "head" is in its ground twice; once is enough.', text: grounded('{ desk: [Dimmer], safe: [▸Dimmer] }') },
  { code: 'bad-value', says: 'Zoom of fixture "head" is in its ground twice (beam is Zoom); once is enough.', text: grounded('{ desk: [Zoom], safe: [▸beam] }') },
  { code: 'unknown-name', says: 'fixture "head" has no colour. It has "Pan", "Tilt", "Dimmer", "Zoom", "beam" or "target".', text: grounded('[▸colour]') },
  { code: 'bad-value', says: 'the ground of fixture "head" names no attribute; the fixture has "Pan", "Tilt", "Dimmer" or "Zoom". Without a ground the show controls all of them.', text: desk(STAGE, changed('profile: moving-head,', 'profile: moving-head, ground: ▸{},')) },
  { code: 'bad-value', says: 'fixture "glow" has no slot of its own for Dimmer: its emitters are its intensity, and its colour. Write [Dimmer, colour] for both, or scale for an intensity that scales the desk\'s.', text: desk(STAGE, withProfile('{ attribute: ColorAdd_R }, { attribute: ColorAdd_G }, { attribute: ColorAdd_B }').replace('profile: dimmer,', 'profile: mine, ground: [▸Dimmer],')) },
  { code: 'bad-value', says: 'slot 4 of "control" is given as coarse and as fine. The second slot is the fine one; leave it out for 8 bits.', text: `${desk('control: { protocol: sacn, universe: 201, interface: eth1 }')}signals: { sea: { slot: [control, 4, ▸4] } }\n` },
  { code: 'desk-heard-twice', says: '"b" and "a" are the same universe on the same interface; one of them is enough, and its slots may be used in many places.', text: desk('a: { protocol: sacn, universe: 201, interface: lo }, b: { protocol: sacn, universe: ▸201, interface: 127.0.0.1 }') },
  { code: 'bad-value', says: 'only an intensity can scale the desk\'s, and fixture "head" has others here: scale takes Dimmer.', text: grounded('{ scale: [▸Pan] }') },
  { code: 'slot-orders-twice', says: 'slot 1 of "control" already gives an order in entry 1; give each order a slot of its own.', text: ordered('{ slot: [control, 1], stop: everybody }, { slot: [control, ▸1], resume: everybody }') },
  { code: 'unknown-name', says: 'there is no universe of the desk "contrl". Did you mean "control"?', text: ordered('{ slot: [▸contrl, 1], stop: everybody }') },
  { code: 'unknown-name', says: 'there is no performer "inez". Did you mean "ines"?', text: ordered('{ slot: [control, 1], stop: [▸inez] }') },
  { code: 'enable-of-nothing', says: 'slot 5 of "control" would enable outputs of class "laser", but the show has no output that needs an enable. Write hazard: laser at the fixture that is meant, or leave the order out.', text: ordered('{ slot: [control, 5], enable: ▸laser }') },
  { code: 'enable-of-nothing', says: 'slot 5 of "control" would enable outputs of class "laser", but the show has only atmospheric. Write hazard: laser at the fixture that is meant, or leave the order out.', text: ordered('{ slot: [control, 4], enable: atmospheric }, { slot: [control, 5], enable: ▸laser }').replace('profile: dimmer,', 'profile: dimmer, hazard: atmospheric,') },
  { code: 'unknown-name', says: 'a slot brings cues on, but the show has no cues.', text: ordered('{ slot: [control, 1], cue: ▸next }') },
  { code: 'unknown-name', says: 'there is no cue "storm".', text: ordered('{ slot: [control, 1], cue: ▸storm }') },
  { code: 'unknown-name', says: 'there is no universe of the desk "contrl". Did you mean "control"?', text: `${ordered('')}signals: { sea: { slot: [▸contrl, 4] } }\n` },
  { code: 'unknown-name', says: 'there is no signal "fader".', text: changed('- zone: stove', '- master: ▸fader\n    zone: stove') },
  { code: 'signal-unit', says: 'signal "high" is in metres, but a master goes from 0 to 1. Give the signal a range, which says what is 0 and what is 1.', text: `${changed('- zone: stove', '- master: ▸high\n    zone: stove')}signals: { high: { height: ines } }\n` },
  { code: 'signal-unit', says: 'signal "each" differs from fixture to fixture, but a master is one number for the whole mapping. Use the signal with by.', text: `${changed('- zone: stove', '- master: ▸each\n    zone: stove')}signals: { each: { distance: [ines, each], range: [0, 1] } }\n` },
  { code: 'unknown-name', says: 'there is no signal "fader".', text: `${MINIMAL}masters: [{ fixtures: [glow], by: ▸fader }]\n` },
  { code: 'unknown-name', says: 'there is no fixture "glob". Did you mean "glow"?', text: `${MINIMAL}signals: { half: { wave: { period: 1 } } }\nmasters: [{ fixtures: [▸glob], by: half }]\n` },
  { code: 'bad-value', says: 'output "lamps" has addressPriority, in which 0 means "not ours": its priority must be at least 1.', text: changed('to: [127.0.0.1], universes', 'to: [127.0.0.1], priority: 0, addressPriority: ▸true, universes') },
  { code: 'ground-hazard', says: 'Dimmer of fixture "glow" is hazardous: it is on only while its enable is held, and never takes the level of the desk. Leave it out.', text: `${desk(STAGE, changed('profile: dimmer,', 'profile: dimmer, hazard: strobe, ground: [▸Dimmer],'))}operator: { port: 9020 }\n` },
  { code: 'universe-sent-twice', says: 'output "again" sends sACN universe 1, as output "lamps" does: receivers would see two streams of one source. Use one output and list all its receivers in `to`.', text: changed(OUTPUT, `${OUTPUT}\n${OUTPUT.replace('lamps', 'again').replace('[1]', '▸[1]')}`) },
  { code: 'bad-value', says: 'output "lamps" sends to 255.255.255.255, everybody (broadcast); sACN goes to `multicast`, or to the addresses of the receivers.', text: changed('to: [127.0.0.1]', 'to: [▸255.255.255.255]') },
  { code: 'bad-value', says: 'output "lamps" sends to 239.255.0.1, a multicast group; sACN goes to `multicast`, or to the addresses of the receivers.', text: changed('to: [127.0.0.1]', 'to: [multicast, ▸239.255.0.1]') },
  { code: 'bad-value', says: 'output "lamps" sends to 239.255.0.1, a multicast group; Art-Net levels go to the addresses of nodes only (Art-Net 4); list them, or let `poll` find them.', text: changed('sacn', 'artnet').replace('to: [127.0.0.1]', 'to: [127.0.0.1, ▸239.255.0.1]') },
  { code: 'bad-value', says: 'output "lamps" sends to 240.0.0.1, no address of a host; Art-Net levels go to the addresses of nodes only (Art-Net 4); list them, or let `poll` find them.', text: changed('sacn', 'artnet').replace('to: [127.0.0.1]', 'to: [▸240.0.0.1]') },
  { code: 'bad-value', says: 'input "tracking" listens on 239.1.1.1, a multicast group, which is not an address of this machine. Set `listen` to the address of this machine on the tracking network, and have the tracking system send there.', text: changed('port: 9010', 'listen: ▸239.1.1.1\n    port: 9010') },
  { code: 'bad-value', says: 'input "tracking" listens on 255.255.255.255, which is not the address of an interface. Set `listen` to the address of this machine on the tracking network, and have the tracking system send there.', text: changed('port: 9010', 'listen: ▸255.255.255.255\n    port: 9010') },
  { code: 'bad-value', says: 'the operator input listens on 239.1.1.1, a multicast group, which is not an address of this machine. Set `listen` to the address of this machine on the network of the desk, and have the desk send there.', text: `${MINIMAL}operator: { port: 9011, listen: ▸239.1.1.1 }\n` },
  { code: 'aim-impossible', says: `fixture "glow" can't follow: its profile "dimmer" has no Pan and no Tilt.`, text: changed('[head]', '[▸glow]') },
  { code: 'aim-impossible', says: `fixture "head" can't follow: it has no position; give it where it hangs, in metres of the stage frame: position: [x, y, z].`, text: changed(', position: [3, 1, 5]', '').replace('  head: {', '  ▸head: {') },
  { code: 'aim-impossible', says: `fixture "glow" can't aim at a point: its profile "dimmer" has no Pan and no Tilt.`, text: changed('dimmer, universe: 1, address: 1', 'dimmer, universe: 1, address: 1, safe: { ▸aim: [1, 1, 0] }') },
  { code: 'aim-impossible', says: 'fixture "head" is given an aim and a Pan or Tilt in the same look; keep one of them.', text: changed('[3, 1, 5]', '[3, 1, 5], base: { ▸aim: [1, 1, 0], Pan: 3 }') },
  { code: 'follow-conflict', says: `Pan of fixture "head" comes from following "ines" and can't be set as well.`, text: changed('{ Dimmer: 80 }', '{ ▸Pan: 80 }') },
  { code: 'follow-conflict', says: 'fixture "head" follows "ines" already; a head can follow only one performer.', text: changed('outputs:', '  - { follow: ines, fixtures: [▸head], set: {} }\noutputs:') },
  { code: 'follow-conflict', says: `Zoom of fixture "head" comes from following "ines" and can't be set as well.`, text: changed('set: { Dimmer: 80 }', 'beam: { diameter: 2 }\n    set: { Dimmer: 80, ▸Zoom: 20 }') },
  { code: 'optics-impossible', says: 'fixture "head" has no Iris to hold the size of its beam with.', text: changed('set: { Dimmer: 80 }', '▸beam: { diameter: 2, by: iris }\n    set: { Dimmer: 80 }') },
  { code: 'optics-impossible', says: 'fixture "head" has no Focus1 to focus with.', text: changed('set: { Dimmer: 80 }', '▸focus: [[5, 40]]\n    set: { Dimmer: 80 }') },
  { code: 'optics-impossible', says: 'fixture "head" has no Zoom to hold the size of its beam with. It has an Iris: by: iris.', text: bare('▸beam: { diameter: 2 }') },
  { code: 'optics-impossible', says: 'the beam width of fixture "head" with the iris open is not known; its profile "mine" needs optics: { beamAngle: degrees }.', text: bare('▸beam: { diameter: 2, by: iris }') },
  { code: 'optics-impossible', says: 'fixture "head" has no Dimmer to hold its illuminance with.', text: bare('▸compensate: { reference: 6 }') },
  { code: 'attribute-range', says: 'Focus1 of fixture "head" goes from 0 to 100, but the file has 140.', text: bare('focus: [[4, 20], [8, ▸140]]') },
  { code: 'curve-order', says: "point 2 of the focus is not greater than point 1; the first number must increase from point to point.", text: bare('focus: [[8, 20], ▸[4, 40]]') },
  { code: 'hazard-refused', says: 'fixture "glow" is of class "pyrotechnics", which lampwright never drives: a charge can not be taken back; ANSI E1.11 (DMX512-A) is not for the control of hazardous effects. That is for the venue\'s safety staff and a licensed pyrotechnician, on their own firing system.', text: changed('glow: { profile: dimmer', 'glow: { hazard: ▸pyrotechnics, profile: dimmer') },
  { code: 'hazard-refused', says: 'profile "chain-hoist" is called "hoist", and "rigging" is never driven by lampwright: hoists and winches carry loads over people; ANSI E1.11 (DMX512-A) is not for the control of hazardous effects. That is for the venue\'s safety staff and licensed riggers (ANSI E1.6-1), on their own controls. If it is a lamp, give it another name.', text: changed(PROFILE, `profiles: { ▸chain-hoist: { channels: [{ attribute: Dimmer }] } }\n${PROFILE}`) },
  { code: 'hazard-refused', says: 'fixture "head" is called "flame", and "flame" is never driven by lampwright: flame burns people and buildings; ANSI E1.11 (DMX512-A) is not for the control of hazardous effects. That is for the venue\'s safety staff, the fire officer and a licensed operator, on their own controls. If it is a lamp, say so with hazard: ordinary.', text: changed('  head: {', '  ▸head: { label: stove flame,') },
  { code: 'hazard-refused', says: 'Dimmer of profile "mine" is of class "flame", which lampwright never drives: flame burns people and buildings; ANSI E1.11 (DMX512-A) is not for the control of hazardous effects. That is for the venue\'s safety staff, the fire officer and a licensed operator, on their own controls.', text: withProfile('{ attribute: Dimmer, hazard: ▸flame }') },
  // Cues.
  { code: 'unknown-name', says: 'there is no mapping "strove". Did you mean "stove"?', text: cues('storm: { mappings: [▸strove] }') },
  { code: 'unknown-name', says: 'there is no mapping "stov". Did you mean "stove"?', text: cues('storm: { mappings: [▸stov: 60] }') },
  { code: 'unknown-name', says: 'there is no mapping "stoev". No mapping has a name yet: give it one with `name`.', text: `${MINIMAL}cues: { storm: { mappings: [▸stoev] } }\n` },
  { code: 'unknown-name', says: 'there is no mapping "stove". Mapping 1 (zone: stove) has no name: give it one with `name`.', text: `${MINIMAL}cues: { storm: { mappings: [▸stove] } }\n` },
  { code: 'unknown-name', says: 'there is no mapping "head". Mapping 2 (fixtures: head) has no name: give it one with `name`.', text: `${MINIMAL.replace('- zone', '- name: heat\n    zone')}cues: { storm: { mappings: [▸head] } }\n` },
  { code: 'unknown-name', says: 'there is no performer "head". "head" is a fixture.', text: cues('storm: { off: [▸head] }') },
  { code: 'unknown-name', says: 'there is no fixture "ines". "ines" is a performer.', text: changed('[glow]', '[▸ines]') },
  { code: 'unknown-name', says: 'there is no zone "glow". "glow" is a fixture.', text: changed('zone: stove', 'zone: ▸glow') },
  { code: 'unknown-name', says: 'there is no fixture "glov". Did you mean "glow"?', text: cues('storm: { base: { ▸glov: { Dimmer: 10 } } }') },
  { code: 'bad-value', says: 'mappings[0].curve should be "linear", "smooth", "square", "root" or "switch", or a list, and is "smoot". Did you mean "smooth"?', text: cues('').replace('- name: stove', '- name: stove\n    curve: ▸smoot') },
  { code: 'unknown-name', says: 'there is no performer "inez". Did you mean "ines"?', text: cues('storm: { off: [▸inez] }') },
  { code: 'name-shared', says: 'cue "storm" sends performer "ines" off stage and on stage as well.', text: cues('storm: { off: [ines], ▸on: [ines] }') },
  { code: 'bad-value', says: 'cues.storm.mappings[0].stove should be at most 100, and is 160.', text: cues('storm: { mappings: [stove: ▸160] }') },
  { code: 'attribute-range', says: 'Dimmer of fixture "glow" goes from 0 to 100, but the file has 120.', text: cues('storm: { base: { glow: { Dimmer: ▸120 } } }') },
  { code: 'attribute-missing', says: 'fixture "glow" has no Zoom; its profile "dimmer" has "Dimmer".', text: cues('storm: { safe: { glow: { ▸Zoom: 20 } } }') },
  { code: 'aim-impossible', says: 'fixture "glow" can\'t aim at a point: its profile "dimmer" has no Pan and Tilt.', text: cues('storm: { base: { glow: { ▸aim: [1, 1, 0] } } }') },
  { code: 'aim-impossible', says: 'fixture "head" is given an aim and a Pan or Tilt in the same look; keep one of them.', text: cues('storm: { base: { head: { ▸aim: [1, 1, 0], Pan: 0 } } }') },
  { code: 'name-shared', says: 'mapping 1 is called "stove" already, so a cue could not tell them apart.', text: cues('storm: {}').replace('- follow: ines', '- name: ▸stove\n    follow: ines') },
  { code: 'name-shared', says: 'mapping "stove" appears twice in cue "storm".', text: cues('storm: { mappings: [stove, ▸stove] }') },
  { code: 'action-trigger', says: 'it has neither a condition nor a cue; give it one of the two.', text: changed('inputs:', 'receivers: { sound: { address: 127.0.0.1, port: 9050 } }\nactions:\n  - ▸{ send: sound, address: /a }\ninputs:') },
  { code: 'bad-value', says: 'receiver "sound" is at 255.255.255.255, everybody (broadcast); write the address of a host, or a multicast group.', text: changed('inputs:', 'receivers: { sound: { address: ▸255.255.255.255, port: 9050 } }\ninputs:') },
  { code: 'unknown-name', says: 'there is no receiver "sond". Did you mean "sound"?', text: told('to: ▸sond, protocol: psn, axes: [x, z, y]') },
  { code: 'unknown-name', says: 'there is no performer "innes". Did you mean "ines"?', text: told('to: sound, protocol: psn, axes: [x, z, y], performers: [▸innes]') },
  { code: 'unknown-name', says: 'there is no performer "innes". Did you mean "ines"?', text: told('to: sound, protocol: psn, axes: [x, z, y], ids: { ▸innes: 3 }') },
  { code: 'missing-key', says: 'positions.hall.axes is missing: a list of 3 is needed. Which stage axis is sent as x, y and z: `[x, z, y]` for x to stage left, y up and z upstage.', text: told('to: sound, protocol: psn').replace('hall: {', 'hall: ▸{') },
  { code: 'bad-value', says: 'positions.hall.rate should be at most 60, and is 100.', text: told('to: sound, protocol: psn, axes: [x, z, y], rate: ▸100') },
  { code: 'route-axes', says: 'axes use one axis of the stage twice (x, x, y); send each of x, y and z once.', text: told('to: sound, protocol: psn, axes: ▸[x, x, y]') },
  { code: 'positions-address', says: '"/a b" is not an OSC address: parts with a / before each, without spaces and without # * , ? [ ] { }, but for {performer} and {id}.', text: told('to: sound, protocol: osc, address: ▸"/a b", arguments: [id, state]') },
  { code: 'positions-address', says: 'nothing in it says whose position it is; put {performer} or {id} into the address, or "performer", "label" or "id" among the arguments.', text: told('to: sound, protocol: osc, address: ▸/a') },
  { code: 'positions-trust', says: 'the receiver could not tell who is lost: put "confidence", "tracked" or "state" among the arguments.', text: told('to: sound, protocol: osc, address: "/{performer}", arguments: ▸[x, y]') },
  { code: 'positions-loop', says: 'receiver "sound" is where input "tracking" of this show listens, so the show would track its own positions. Give it another address or port.', text: told('to: ▸sound, protocol: psn, axes: [x, z, y]').replace('port: 9050', 'port: 9010') },
  { code: 'unknown-name', says: 'there is no receiver "sond". Did you mean "sound"?', text: changed('inputs:', 'conditions: { c: { signal: s, on: 1 } }\nsignals: { s: { wave: { shape: sine, period: 1 } } }\nreceivers: { sound: { address: 127.0.0.1, port: 9050 } }\nactions:\n  - { condition: c, send: ▸sond, address: /a }\ninputs:') },
  { code: 'cells', says: 'fixture "glow" has no cells: profile "dimmer" has only one.', text: changed('dimmer, universe: 1, address: 1', 'dimmer, universe: 1, address: 1, ▸cells: {}') },
  { code: 'colour-said', says: 'colour "amber" has no definition; give it one of xy, kelvin, daylight and srgb.', text: changed('inputs:', 'palettes: { colours: { ▸amber: {} } }\ninputs:') },
  { code: 'colour-impossible', says: 'colour "amber" can\'t be mixed on fixture "glow": profile "dimmer" has no emitters, filters or wheel of colours.', text: changed('inputs:', 'palettes: { colours: { amber: { kelvin: 2200 } } }\ninputs:').replace('set: { Dimmer: 100 }', 'set: { colour: ▸amber }') },
  { code: 'beam-impossible', says: 'fixture "glow" can\'t have beam "tight": profile "dimmer" has no Zoom or Iris.', text: changed('inputs:', 'palettes: { beams: { tight: 8 } }\ninputs:').replace('set: { Dimmer: 100 }', 'set: { beam: ▸tight }') },
  { code: 'cue-name', says: 'a cue can\'t be called "next": that word is the order to go to another cue.', text: cues('▸next: {}') },
  { code: 'cue-name', says: 'a cue can\'t be labelled "Back": that word is the order to go to another cue.', text: cues('storm: { label: ▸Back }') },
  { code: 'cue-name', says: 'cue "dusk" is labelled "Storm", as cue "storm" is called, so nobody could tell which of them is on.', text: cues('storm: {}, dusk: { label: ▸Storm }') },
  { code: 'hazard-cue', says: 'Dimmer of fixture "glow" is of class "strobe", and cue "storm" can\'t set it: only a mapping can take it off its safe value, while its enable is held.', text: `${cues('storm: { base: { glow: { ▸Dimmer: 20 } } }').replace('glow: { profile', 'glow: { hazard: strobe, profile')}operator: { port: 9011 }\n` },
  { code: 'hazard-cue', says: 'Shutter1 of fixture "wild" is of class "strobe", and cue "storm" can\'t set it: only a mapping can take it off its safe value, while its enable is held.', text: `${changed(PROFILE, `profiles: { scan: { channels: [{ attribute: Dimmer }, { attribute: Shutter1, values: { open: [0, 9], strobe: [10, 19] }, default: open }] } }\nfixtures:\n  wild: { profile: scan, universe: 1, address: 100 }\n  glow`)}cues: { storm: { base: { wild: { ▸Shutter1: strobe } } } }\n` },
  { code: 'follow-conflict', says: 'fixture "head" follows "ines" already; a head can follow only one performer in a cue.', text: `${changed('set: { Dimmer: 80 }\n', 'set: { Dimmer: 80 }\n    always: true\n  - follow: ines\n    always: true\n    fixtures: [▸head]\n    set: {}\n')}cues: { storm: {} }\n` },
  { code: 'hazard-safe', says: 'Dimmer of fixture "glow" is hazardous and is set to 20 in the safe look; 0 is off.', text: `${changed('  glow: {', '  glow: { hazard: strobe, ▸safe: { Dimmer: 20 },')}operator: { port: 9011 }\n` },
  { code: 'hazard-safe', says: 'Haze1 of fixture "hazer" is hazardous, and its safe look, where it must be off, has its base value, 20: add safe: { Haze1: 0 }.', text: changed(PROFILE, `profiles: { mist: { channels: [{ attribute: Haze1 }] } }\nfixtures:\n  ▸hazer: { profile: mist, universe: 1, address: 100, base: { Haze1: 20 } }\n  glow`) },
  { code: 'hazard-safe', says: 'Dimmer of fixture "hazer" is hazardous and is set to 20 in the safe look; 0 is off. It counts as part of a machine for fog or haze; if it is only light, write hazard: ordinary at its channel in the profile.', text: changed(PROFILE, `profiles: { mist: { channels: [{ attribute: Fog1 }, { attribute: Dimmer }] } }\nfixtures:\n  hazer: { profile: mist, universe: 1, address: 100, ▸safe: { Dimmer: 20 } }\n  glow`).concat('operator: { port: 9011 }\n') },
  { code: 'hazard-safe', says: 'fixture "beam" is hazardous and has no Dimmer, Fog1 or Haze1, so only you know what "off" is for it: write it in safe.', text: changed(PROFILE, `profiles: { rgb-laser: { hazard: laser, channels: [{ attribute: Effects1 }] } }\nfixtures:\n  ▸beam: { profile: rgb-laser, universe: 1, address: 100 }\n  glow`) },
  { code: 'hazard-enable', says: 'Dimmer of fixture "glow" is of class "strobe" and needs an enable, but nobody can give it: the show has no operator input, and no slot of the desk enables it. Add an operator block with the port and the addresses of those who may enable it, or an entry under orders.', text: changed('  glow: {', '  ▸glow: { hazard: strobe,') },
  { code: 'hazard-enable', says: 'Haze1 of fixture "hazer" is of class "atmospheric" and needs an enable, but nobody can give it: the show has no operator input, and no slot of the desk enables it. Add an operator block with the port and the addresses of those who may enable it, or an entry under orders.', text: changed(PROFILE, `profiles: { mist: { channels: [{ attribute: Haze1 }] } }\nfixtures:\n  ▸hazer: { profile: mist, universe: 1, address: 100, base: { Haze1: 20 }, safe: { Haze1: 0 } }\n  glow`) },
  { code: 'hazard-safe', says: 'Shutter1 of fixture "wild" strobes in the safe look; in the safe look light must be steady, or off.', text: changed(PROFILE, `profiles: { scan: { channels: [{ attribute: Dimmer }, { attribute: Shutter1, values: { open: [0, 9], strobe: [10, 19] }, default: open }] } }\nfixtures:\n  ▸wild: { profile: scan, universe: 1, address: 100, safe: { Shutter1: strobe } }\n  glow`) },
  { code: 'hazard-enable', says: 'Shutter1 of fixture "wild" is asked to strobe, which needs an enable, but nobody can give it: the show has no operator input, and no slot of the desk enables it. Add an operator block with the port and the addresses of those who may enable it, or an entry under orders.', text: changed(PROFILE, `profiles: { scan: { channels: [{ attribute: Dimmer }, { attribute: Shutter1, values: { open: [0, 9], strobe: [10, 19] }, default: open }] } }\nfixtures:\n  ▸wild: { profile: scan, universe: 1, address: 100, base: { Shutter1: 14 }, safe: { Shutter1: open } }\n  glow`).replace('Shutter1: 14', 'Shutter1: strobe') },
  { code: 'hazard-fade', says: 'fixture "glow" is of class "strobe", which must go off at once; remove its fade.', text: `${changed('  glow: {', '  glow: { hazard: strobe, ▸fade: 1,')}operator: { port: 9011 }\n` },
  { code: 'input-port-taken', says: 'the operator input listens on 127.0.0.1:9010, as input "tracking" does; give orders and positions different ports.', text: `${MINIMAL}operator: { port: ▸9010 }\n` },
  { code: 'curve-order', says: "point 3 of the curve is not greater than point 2; the first number must increase from point to point.", text: changed('    fixtures: [glow]', '    curve: [[0, 0], [0.6, 1], ▸[0.5, 0]]\n    fixtures: [glow]') },
];

describe('each slip is named, with its place and what would be right', () => {
  test('a good show of signals has none', () => {
    expect(problemsOf(SIGNALS)).toEqual([]);
  });

  test.each([...CASES, ...SIGNAL_CASES])('$code: $says', ({ code, says, text: marked }) => {
    const [before = '', after] = marked.split(MARK);
    const lines = before.split('\n');
    expect(after).toBeDefined();
    expect(problemsOf(marked.replace(MARK, ''))).toMatchObject([
      {
        code,
        message: says,
        file: 'a.show.yaml',
        line: lines.length,
        column: (lines.at(-1)?.length ?? 0) + 1,
      },
    ]);
  });

  test('there is a case for every code that a text can have', () => {
    // What bytes and processes can have is in tests/commands/show-file.test.ts, tests/system/reader.test.ts and start-anyway.test.ts.
    const covered = new Set([
      ...[...CASES, ...SIGNAL_CASES].map(({ code }) => code),
      'not-utf8',
      'reading-failed',
      'no-descriptor-free',
      'file-unavailable',
    ]);
    expect([...covered].sort()).toEqual(Object.keys(PROBLEM_CODES).sort());
  });

  test('and every code says what it means and what would be right', () => {
    for (const text of Object.values(PROBLEM_CODES).flatMap(({ meaning, right }) => [
      meaning,
      right,
    ])) {
      expect(text).toMatch(/^.{10,}\.$/);
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
      ['bad-value', 23],
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

  test('one cause is one error: a head without a place, asked to aim and to follow', () => {
    const text = changed(
      ', position: [3, 1, 5]',
      ', base: { aim: [1, 1, 0] }, safe: { aim: [1, 1, 0] }',
    );
    const found = problemsOf(text);
    expect(found.map(({ code, line }) => [code, line])).toEqual([['aim-impossible', 14]]);
    expect(found[0]?.message).toContain('That is asked of it in 3 places.');
  });

  test('one cause is one error: a lamp that is no head, with optics to hold', () => {
    const text = changed('[head]', '[glow]').replace(
      'set: { Dimmer: 80 }',
      'beam: { diameter: 2 }\n    set: {}',
    );
    expect(problemsOf(text).map(({ code }) => code)).toEqual(['aim-impossible']);
  });

  test('one cause is one error: a universe that nothing sends, with several fixtures', () => {
    const found = problemsOf(changed('universes: [1]', 'universes: [4]'));
    expect(found.map(({ message }) => message)).toEqual([
      'no output sends universe 1, which has fixtures "glow" and "head"; outputs send 4.',
    ]);
  });

  test('one cause is one error: no outputs', () => {
    const text = MINIMAL.slice(0, MINIMAL.indexOf('outputs:')).replace(
      'head, universe: 1',
      'head, universe: 2',
    );
    expect(problemsOf(text).map(({ message }) => message)).toEqual([
      'the show has no outputs, but fixtures in universes 1 and 2: add an output that sends them.',
    ]);
  });

  test('a show in which nothing is patched yet needs no outputs', () => {
    const text = MINIMAL.slice(0, MINIMAL.indexOf('mappings:')).replaceAll(
      /universe: 1, address: \d+/g,
      'unpatched: true',
    );
    const result = parseShow(text, 'a.show.yaml');
    expect(result.ok && result.show.outputs).toEqual([]);
    expect(result.ok && tickHzOf(result.show)).toBe(DEFAULT_RATE_HZ);
  });

  test.each([
    [
      'the first line of its block',
      changed('  ines: {', '   ines: {').replace(
        'zones:',
        '  tobias: { trackers: [2] }\n  gull: { trackers: [3] }\nzones:',
      ),
      ['9:4 this line is indented by 3 spaces, but the rest of its block by 2.'],
    ],
    [
      'a line too little',
      changed('  head: {', ' head: {').replace(
        'mappings:',
        '  hat: { profile: dimmer, universe: 1, address: 2 }\nmappings:',
      ),
      ['14:2 this line is indented by 1 space, but the rest of its block by 2.'],
    ],
    [
      'a line below a value',
      changed('    fixtures: [glow]', '      fixtures: [glow]'),
      [
        '17:7 this line is indented by 6 spaces, but the key above it, which already has its value, by 4: give both the same.',
      ],
    ],
    [
      'a whole block below a value',
      changed('stage: {', ' stage: {'),
      [
        '3:2 this line is indented by 1 space, but the key above it, which already has its value, by 0: give both the same.',
      ],
    ],
  ])('a line that stands out is said once, where it is: %s', (_, text, expected) => {
    const found = problemsOf(text).map(one => `${one.line}:${one.column} ${one.message}`);
    expect(found).toEqual(expected);
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
    const text = changed('set: { Dimmer: 100 }', `set: { Dimmer: "${'x'.repeat(5000)}" }`);
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
