import { describe, expect, test } from 'vitest';
import { parseShow, saidIn } from '../../../src/show/parse.js';
import { WARNING_CODES } from '../../../src/show/problems/warning-codes.js';
import { type MachineAddresses, warningsOf } from '../../../src/show/warnings/warnings.js';
import { changed, configShow, MINIMAL } from '../base.js';
import { showOf } from '../show-of.js';

/** Two networks, of the ranges that RFC 5737 keeps for examples. */
const MACHINE: MachineAddresses = {
  interfaceOf: wanted => {
    if (wanted.startsWith('127.')) return 'lo';
    if (wanted === '192.0.2.5' || wanted === 'light') return 'light';
    return wanted === '198.51.100.5' ? 'track' : undefined;
  },
  // A /20 and a /25: no mask ends at a dot.
  broadcastOf: wanted => {
    if (wanted === '192.0.2.5' || wanted === 'light') return '192.0.15.255';
    return wanted === '198.51.100.5' ? '198.51.100.127' : undefined;
  },
  there: 'light (192.0.2.5), track (198.51.100.5)',
};

const SAFE = changed('address: 1 }', 'address: 1, safe: { Dimmer: 20 } }');

/** Without `safe-dark`, which is of the whole show, and has tests of its own. */
function warned(text: string, machine?: MachineAddresses) {
  return allWarned(text, machine).filter(warning => !warning.startsWith('safe-dark'));
}

function allWarned(text: string, machine?: MachineAddresses) {
  const parsed = parseShow(text, 'a.show.yaml');
  if (!parsed.ok) throw new Error(parsed.problems.map(({ message }) => message).join('\n'));
  return warningsOf(parsed.show, saidIn(text), machine).map(
    ({ code, path }) => `${code} at ${path.join('.')}`,
  );
}

const allowing = (listen: string, allow: string) =>
  changed('    port: 9010', `    listen: ${listen}\n    allow: [${allow}]\n    port: 9010`, SAFE);
const PAIR = 'listen: 0.0.0.0, main: 192.0.2.1, standby: 192.0.2.2';
const operated = (operator: string, allow?: string) =>
  `${SAFE}operator: { ${operator}, port: 9011${allow === undefined ? '' : `, allow: [${allow}]`} }\n`;

/** A part of the room into which no beam goes. */
const keepOut = (block: string) => changed('zones:', `keepOut: { ${block} }\nzones:`, SAFE);

const on = (listen: string, send: string) =>
  changed(
    'interface: 127.0.0.1',
    `interface: ${send}`,
    changed(
      'port: 9010',
      `listen: ${listen}, port: 9010`,
      SAFE.replace(
        '  tracking:\n    port: 9010\n    routes: [{ address: "/tracker/{tracker}/position" }]',
        '  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }',
      ),
    ),
  );
/** Sends to two addresses, from the first or from an interface that the machine at hand has. */
const to = (second: string, first: string) =>
  changed(
    'interface: 127.0.0.1, to: [127.0.0.1]',
    `interface: ${first === 'multicast' ? '127.0.0.1' : first}, to: [${first}, ${second}]`,
    SAFE,
  );
const rgb = (base: string, set: string) =>
  changed(
    '  glow: { profile: dimmer, universe: 1, address: 1 }',
    `  glow: { profile: rgb, universe: 1, address: 1, base: { ${base} }, safe: { Dimmer: 0 } }`,
    changed('set: { Dimmer: 100 }', `set: { ${set} }`),
  );
/** A lamp of three colours in the safe look, and what a mapping makes of them. */
const lit = (look: string, set: string) =>
  changed(
    '  glow: { profile: dimmer, universe: 1, address: 1 }',
    `  glow: { profile: rgb, universe: 1, address: 1, ${look} }`,
    changed('set: { Dimmer: 100 }', `set: { Dimmer: 70, ${set} }`),
  );
const exit = (area: string) => changed('zones:\n', `exits: { door: { ${area} } }\nzones:\n`, SAFE);
const coloured = (colour: string) =>
  changed(
    'inputs:',
    `palettes: { colours: { c: { ${colour} } } }\ninputs:`,
    rgb('Dimmer: 0', 'Dimmer: 50, colour: c'),
  );
const STAGE = 'desk: { stage: { protocol: sacn, universe: 301, interface: eth1, ground: 1 } }\n';
const BLACK = 'ColorAdd_R: 0, ColorAdd_G: 0, ColorAdd_B: 0';

/** A lamp with a wheel that is lit in two cues. */
const wheelIn = (second: string) =>
  changed(
    'glow: { profile: dimmer',
    'glow: { profile: wheel',
    cues(
      'address: 1, safe: { Color1: blue, Dimmer: 20 } }',
      `one: { mappings: [stove, follow], base: { glow: { Color1: blue, Dimmer: 40 } } }, two: { mappings: [stove, follow], base: { glow: { Color1: ${second}, Dimmer: 40 } } }`,
    ).replace(
      'fixtures:\n',
      'profiles: { wheel: { channels: [{ attribute: Dimmer }, { attribute: Color1, values: { amber: [0, 9], blue: [10, 19] } }] } }\nfixtures:\n',
    ),
  );
/** The same lit by mappings, one for each colour, and one that lights nothing. */
const wheelBy = (one: string, two: string) => {
  const by = (name: string, place: string, level: number) =>
    `  - { name: ${name}, zone: stove, fixtures: [glow], set: { Color1: ${place}, Dimmer: ${level} } }\n`;
  return wheelIn('blue')
    .replace(
      /cues: \{ one: .*/,
      `cues: { one: { mappings: [follow, ${one}] }, two: { mappings: [follow, ${two}] }, three: { mappings: [follow] }, four: { mappings: [follow, dim, warm, cold, stove] } }`,
    )
    .replace(
      '\nmappings:\n',
      `\nmappings:\n${by('warm', 'amber', 40)}${by('cold', 'blue', 60)}${by('dim', 'blue', 0)}`,
    );
};
/** The two mappings by name, and cues. */
const cues = (glow: string, block: string) =>
  `${changed('- zone: stove', '- name: stove\n    zone: stove', changed('- follow: ines', '- name: follow\n    follow: ines', changed('address: 1 }', glow)))}cues: { ${block} }\n`;

/** The second of two cues comes on by a number. */
const firedBy = (timeout: string) =>
  `${cues('address: 1, safe: { Dimmer: 20 } }', 'one: { mappings: [stove, follow] }, two: { mappings: [stove], fire: gale }')}signals: { wind: { osc: { address: /sound/wind${timeout} }, range: [0, 1] } }
conditions: { gale: { signal: wind, on: 0.8, off: 0.5 } }
`;
/** In the second of two cues nothing but a mapping that scales acts on the lamp. */
const hushed = (glow: string, two: string) =>
  cues(glow, `one: { mappings: [stove, follow, hush] }, two: { mappings: [${two}] }`).replace(
    'mappings:\n',
    'mappings:\n  - { name: hush, when: { in: stove }, fixtures: [glow], set: { Dimmer: 30 }, mix: scale }\n',
  );

// biome-ignore format: a table
const CASES: readonly (readonly [what: string, text: string, warnings: readonly string[], machine?: MachineAddresses])[] = [
  ['nothing', SAFE, []],
  ['a head at the other end of town', changed('[3, 1, 5]', '[3, 1500, 5]', SAFE), ['position-far at fixtures.head.position']],
  ['a head in centimetres', changed('[3, 1, 5]', '[300, 100, 500]', SAFE), ['position-far at fixtures.head.position']],
  ['a head under the ground', changed('[3, 1, 5]', '[3, 1, -21]', SAFE), ['position-far at fixtures.head.position']],
  ['a head in the highest grid of a long hall', changed('[3, 1, 5]', '[100, 1, 60]', SAFE), []],
  ['a feather wider than the stage', changed('radius: 0.8 }', 'radius: 0.8 }, feather: 6.1', SAFE), ['larger-than-stage at zones.stove.feather']],
  ['a feather as wide as the stage', changed('radius: 0.8 }', 'radius: 0.8 }, feather: 6', SAFE), []],
  ['a head that shines into the house as it stands', changed('[3, 1, 5]', '[3, 1, 5], base: { aim: [3, -4, 1], Dimmer: 20 }, safe: { Dimmer: 0 }', keepOut('house: { point: [3, -4, 1], radius: 1 }')), ['keep-out-base at fixtures.head']],
  ['a head that follows where it can light nobody', keepOut('house: { circle: { centre: [2, 3], radius: 1 }, height: [0, 2.2] }'), ['keep-out-unlit at mappings.1']],
  ['heads that share, of which one can light what the other can not', changed('follow: ines\n    fixtures: [head]', 'follow: { share: company }\n    fixtures: [head, other]', changed('  head:', '  other: { profile: moving-head, universe: 1, address: 31, position: [3.5, 1, 5] }\n  head:', changed('zones:', 'groups: { company: [ines] }\nzones:', keepOut('house: { circle: { centre: [2, 3], radius: 1 }, height: [0, 2.2], fixtures: [head] }')))), []],
  ['heads that share, and none can', changed('follow: ines\n    fixtures: [head]', 'follow: { share: company }\n    fixtures: [head, other]', changed('  head:', '  other: { profile: moving-head, universe: 1, address: 31, position: [3.5, 1, 5] }\n  head:', changed('zones:', 'groups: { company: [ines] }\nzones:', keepOut('house: { circle: { centre: [2, 3], radius: 1 }, height: [0, 2.2] }')))), ['keep-out-unlit at mappings.1']],
  ['a cue and a mapping that aim a head into the house', `${changed('  - follow: ines\n', '  - name: into-it\n    when: { in: stove }\n    fixtures: [other]\n    set: { target: row, Dimmer: 40 }\n  - name: f\n    follow: ines\n', changed('- zone: stove', '- name: z\n    zone: stove', changed('  head:', '  other: { profile: moving-head, universe: 1, address: 31, position: [3.5, 1, 5] }\n  head:', changed('inputs:', 'palettes: { points: { row: [3, -4, 1] } }\ninputs:', keepOut('house: { point: [3, -4, 1], radius: 1 }')))))}cues: { one: { mappings: [z, f, into-it] }, two: { mappings: [z, f], base: { other: { target: row, Dimmer: 20 } } } }\n`, ['keep-out-base at cues.two', 'keep-out-base at mappings.1']],
  ['a beam of which nobody knows how wide it is', changed('profile: moving-head', 'profile: mine', changed('fixtures:\n', 'profiles: { mine: { channels: [{ attribute: Pan, range: [-270, 270] }, { attribute: Tilt, range: [-135, 135] }, { attribute: Dimmer }] } }\nfixtures:\n', keepOut('house: { point: [3, -4, 1], radius: 1 }'))), ['keep-out-beam at fixtures.head']],
  ['a bar whose body follows, with cells that go dark for themselves', changed('profile: moving-head, universe: 1, address: 11', 'profile: bar, universe: 1, address: 11, cells: {}, base: { Dimmer: 20 }', changed('fixtures:\n', `profiles: { bar: { channels: [{ attribute: Pan, range: [-270, 270] }, { attribute: Tilt, range: [-135, 135] }, ${['R', 'G', 'B'].map((one, i) => `{ attribute: ColorAdd_${one}, slots: [${3 + i}], copies: [[${6 + i}]] }`).join(', ')}] } }\nfixtures:\n`, SAFE)).replace('fixtures: [head]', 'fixtures: [head-body]').replace('set: { Dimmer: 80 }', 'set: {}'), ['follow-lit at mappings.1', 'fixture-unused at fixtures.head']],
  ['a lamp of three cells, of which two have a blue', changed('  glow: { profile: dimmer, universe: 1, address: 1', '  glow: { profile: mine, base: { ColorAdd_B: 100 }, universe: 1, address: 101', changed('fixtures:\n', 'profiles: { mine: { channels: [{ attribute: Dimmer, copies: [[3], [5]] }, { attribute: ColorAdd_B, slots: [2], copies: [[4]] }] } }\nfixtures:\n', SAFE)), ['copies-uneven at fixtures.glow']],
  ['a highlight that leaves the shutter closed', changed('  glow: { profile: dimmer, universe: 1, address: 1', '  glow: { profile: mine, universe: 1, address: 1', changed('fixtures:\n', 'profiles: { mine: { channels: [{ attribute: Dimmer }, { attribute: Shutter1, values: { closed: [0, 9], open: [10, 19] }, default: open, highlight: closed }] } }\nfixtures:\n', SAFE)), ['highlight-shut at fixtures.glow']],
  ['a shutter that is closed in base, and no highlight', changed('  glow: { profile: dimmer, universe: 1, address: 1', '  glow: { profile: mine, universe: 1, address: 1', changed('fixtures:\n', 'profiles: { mine: { channels: [{ attribute: Dimmer }, { attribute: Shutter1, values: { shutter-closed: [0, 9], open: [10, 19] } }] } }\nfixtures:\n', SAFE)), ['highlight-shut at fixtures.glow', 'never-lit at fixtures.glow']],
  ['an iris that nothing opens', changed('  glow: { profile: dimmer, universe: 1, address: 1', '  glow: { profile: mine, universe: 1, address: 1', changed('fixtures:\n', 'profiles: { mine: { channels: [{ attribute: Dimmer }, { attribute: Iris }] } }\nfixtures:\n', SAFE)), ['never-lit at fixtures.glow']],
  ['an iris that is open', changed('  glow: { profile: dimmer, universe: 1, address: 1', '  glow: { profile: mine, universe: 1, address: 1', changed('fixtures:\n', 'profiles: { mine: { channels: [{ attribute: Dimmer }, { attribute: Iris, default: 100 }] } }\nfixtures:\n', SAFE)), []],
  ['a head that follows in a cue in the dark', cues('address: 1, safe: { Dimmer: 20 } }', 'one: { mappings: [stove, follow] }, two: { mappings: [stove, mark] }').replace('mappings:\n', 'mappings:\n  - { name: mark, follow: ines, fixtures: [head], set: { Zoom: 20 } }\n'), ['follow-dark at mappings.0']],
  ['one that the base lights there', cues('address: 1, safe: { Dimmer: 20 } }', 'one: { mappings: [stove, follow] }, two: { mappings: [stove, mark], base: { head: { Dimmer: 30 } } }').replace('mappings:\n', 'mappings:\n  - { name: mark, follow: ines, fixtures: [head], set: { Zoom: 20 } }\n'), []],
  ['a shutter that is closed in base, with a highlight', changed('  glow: { profile: dimmer, universe: 1, address: 1', '  glow: { profile: mine, universe: 1, address: 1', changed('fixtures:\n', 'profiles: { mine: { channels: [{ attribute: Dimmer }, { attribute: Shutter1, values: { closed: [0, 9], open: [10, 19] }, highlight: open }] } }\nfixtures:\n', SAFE)), ['never-lit at fixtures.glow']],
  ['a shutter that is closed in base, and that a mapping opens', changed('  glow: { profile: dimmer, universe: 1, address: 1', '  glow: { profile: mine, universe: 1, address: 1', changed('fixtures:\n', 'profiles: { mine: { channels: [{ attribute: Dimmer }, { attribute: Shutter1, values: { closed: [0, 9], open: [10, 19] }, highlight: open }] } }\nfixtures:\n', SAFE)).replace('set: { Dimmer: 100 }', 'set: { Dimmer: 100, Shutter1: open }'), []],
  ['a shutter that is open in base, and no highlight', changed('  glow: { profile: dimmer, universe: 1, address: 1', '  glow: { profile: mine, base: { Shutter1: open }, universe: 1, address: 1', changed('fixtures:\n', 'profiles: { mine: { channels: [{ attribute: Dimmer }, { attribute: Shutter1, values: { closed: [0, 9], open: [10, 19] } }] } }\nfixtures:\n', SAFE)), []],
  ['a beam wider than the stage', changed('set: { Dimmer: 80 }', 'beam: { diameter: 7 }\n    set: { Dimmer: 80 }', SAFE), ['larger-than-stage at mappings.1.beam']],
  ['a beam for which its zoom is too narrow', changed('set: { Dimmer: 80 }', 'beam: { diameter: 5 }\n    set: { Dimmer: 80 }', changed('profile: moving-head', 'profile: mine', changed('fixtures:\n', 'profiles: { mine: { channels: [{ attribute: Pan, range: [-270, 270] }, { attribute: Tilt, range: [-135, 135] }, { attribute: Dimmer }, { attribute: Zoom, range: [4, 12] }] } }\nfixtures:\n', SAFE))), ['beam-room at mappings.1.beam']],
  ['a choice of one', changed('follow: ines', 'follow: { nearest: [ines], to: [1, 1, 0] }', SAFE), ['choice-of-one at mappings.1.follow.nearest']],
  ['a reference in centimetres', changed('set: { Dimmer: 80 }', 'compensate: { reference: 800 }\n    set: { Dimmer: 80 }', SAFE), ['reference-far at mappings.1.compensate.reference']],
  ['an offset in centimetres', changed('set: { Dimmer: 80 }', 'offset: [0, 0, 120]\n    set: { Dimmer: 80 }', SAFE), ['offset-far at mappings.1.offset']],
  ['two heads at one place', changed('fixtures: [head]', 'fixtures: [head, other]', changed('  head:', '  other: { profile: moving-head, universe: 1, address: 31, position: [3, 1, 5] }\n  head:', SAFE)), ['position-twice at fixtures.head.position']],
  ['a head with a slip in its range', changed('profile: moving-head', 'profile: mine', changed('fixtures:\n', 'profiles: { mine: { optics: { fieldAngle: 10 }, channels: [{ attribute: Pan, range: [-270000000, 270000000] }, { attribute: Tilt, range: [-135, 135] }, { attribute: Dimmer }] } }\nfixtures:\n', keepOut('house: { point: [3, -4, 1], radius: 1 }'))), []],
  ['a keep-out of no head', changed('  - follow: ines\n    fixtures: [head]\n    set: { Dimmer: 80 }\n', '', changed('  head: { profile: moving-head, universe: 1, address: 11, position: [3, 1, 5] }\n', '', keepOut('house: { point: [3, -4, 1], radius: 1 }'))), ['keep-out-idle at keepOut.house']],
  ['a point at which nothing aims', changed('inputs:', 'palettes: { points: { row: [3, 4, 1] } }\ninputs:', SAFE), ['palette-unused at palettes.points.row']],
  ['a tracker above the head', changed('ines: { trackers: [1] }', 'ines: { trackers: [1], height: 1.6, wornAt: 1.9 }'), ['worn-too-high at performers.ines.wornAt']],
  ['milliseconds where the watchdog has seconds', `${SAFE}watchdog: { trackerSilent: { after: 500, fade: 2000 }, rearm: 1000 }\n`, ['time-long at watchdog.trackerSilent.after', 'time-long at watchdog.trackerSilent.fade', 'time-long at watchdog.rearm']],
  ['the longest times of a watchdog', `${SAFE}watchdog: { trackerSilent: { after: 30, fade: 60 }, rearm: 60 }\n`, []],
  ['centimetres in the noise', `${SAFE}tracking: { noise: 8 }\n`, ['noise-large at tracking.noise']],
  ['milliseconds in the fade of a mapping', changed('set: { Dimmer: 100 }', 'set: { Dimmer: 100 }\n    fade: { in: 120, out: 2000 }', SAFE), ['time-long at mappings.0.fade.out']],
  ['a share for per cent in a mapping', changed('set: { Dimmer: 100 }', 'set: { Dimmer: 0.75 }', SAFE), ['share-for-per-cent at mappings.0.set.Dimmer']],
  ['a share for per cent in base and safe', changed('address: 1 }', 'address: 1, base: { Dimmer: 0.1 }, safe: { Dimmer: 1 } }'), ['share-for-per-cent at fixtures.glow.base.Dimmer', 'share-for-per-cent at fixtures.glow.safe.Dimmer']],
  ['a share for per cent in a mapping that scales', SAFE.replace('mappings:\n', 'mappings:\n  - { when: { in: stove }, fixtures: [glow], set: { Dimmer: 0.3 }, mix: scale }\n'), ['share-for-per-cent at mappings.0.set.Dimmer']],
  ['a share for per cent in a cue', cues('address: 1, safe: { Dimmer: 20 } }', 'one: { mappings: [{ stove: 0.6 }, follow] }, two: { mappings: [stove, { follow: 60 }], base: { glow: { Dimmer: 0.5 } }, safe: { glow: { Dimmer: 0.25 } } }'), ['share-for-per-cent at cues.one.mappings', 'share-for-per-cent at cues.two.base.Dimmer', 'share-for-per-cent at cues.two.safe.Dimmer']],
  ['milliseconds in the fades of a cue and a fixture', cues('address: 1, safe: { Dimmer: 20 }, fade: 1500 }', 'one: { mappings: [stove, follow], fade: 3000 }, two: { mappings: [stove, follow], fade: 600 }'), ['time-long at cues.one.fade', 'time-long at fixtures.glow.fade']],
  ['an exit on a place that drives light', exit('circle: { centre: [2.8, 3], radius: 0.5 }'), ['exit-on-stage at exits.door']],
  ['an exit below a place that drives light', exit('circle: { centre: [2.8, 3], radius: 0.5 }, height: [-3, -1]').replace('radius: 0.8 }', 'radius: 0.8 }, height: [0, 3]'), []],
  ['an exit that touches it', exit('circle: { centre: [3.2, 3], radius: 0.5 }'), []],
  ['an exit that is half of the stage', exit('polygon: [[3, 0], [6, 0], [6, 4], [3, 4]]'), ['exit-on-stage at exits.door']],
  ['two wings', exit('polygon: [[-2, 0], [1, 0], [1, 4], [-2, 4]]'), []],
  ['a coloured light, white in the safe look', lit('safe: { Dimmer: 20 }', 'ColorAdd_R: 90, ColorAdd_G: 20'), ['safe-colour at fixtures.glow']],
  ['one that says its colour', lit('safe: { Dimmer: 20, ColorAdd_B: 0 }', 'ColorAdd_R: 90, ColorAdd_G: 20'), []],
  ['one whose base says its colour', lit('base: { ColorAdd_B: 60 }, safe: { Dimmer: 20 }', 'ColorAdd_R: 90'), []],
  ['one that is dark in the safe look', lit('safe: { Dimmer: 0 }', 'ColorAdd_R: 90, ColorAdd_G: 20'), []],
  ['one that is white always', lit('safe: { Dimmer: 20 }', 'ColorAdd_R: 100'), []],
  ['full in the safe look by its base', changed('address: 1 }', 'address: 1, base: { Dimmer: 100 } }'), ['safe-full at fixtures.glow']],
  ['full in the safe look as it says', changed('address: 1 }', 'address: 1, base: { Dimmer: 100 }, safe: { Dimmer: 100 } }'), []],
  ['somebody and a place that nothing uses', changed('  ines: { trackers: [1] }', '  ines: { trackers: [1] }\n  gull: { trackers: [2] }', changed('  - follow', '  - zone: door\n    performers: [ines]\n    fixtures: [glow]\n    set: { Dimmer: 5 }\n  - follow', changed('zones:\n', 'zones:\n  door: { circle: { centre: [1, 1], radius: 0.5 } }\n  attic: { circle: { centre: [1, 1], radius: 0.5 } }\n', changed('zone: stove\n', 'zone: stove\n    performers: [ines]\n', SAFE)))), ['performer-unused at performers.gull', 'zone-unused at zones.attic']],
  ['lit in nobody\'s zone', changed('  head:', '  desk: { profile: dimmer, universe: 1, address: 2, base: { Dimmer: 30 } }\n  head:', SAFE), ['fixture-unused at fixtures.desk']],
  ['never lit', changed('  head:', '  desk: { profile: dimmer, universe: 1, address: 2 }\n  head:', SAFE), ['never-lit at fixtures.desk']],
  ['lit by the desk', `${changed('  head:', '  desk: { profile: dimmer, universe: 1, address: 2, ground: [Dimmer] }\n  head:', SAFE)}${STAGE}`, []],
  ['a share of the desk\'s, in nobody\'s zone', `${changed('  head:', '  desk: { profile: dimmer, universe: 1, address: 2, base: { Dimmer: 30 }, ground: scale }\n  head:', SAFE)}${STAGE}`, []],
  ['bright, and of no colour', rgb(BLACK, 'Dimmer: 100'), ['never-lit at fixtures.glow']],
  ['a colour out of reach, on emitters that nobody stated', coloured('xy: [0.1, 0.75]'), ['colour-off at palettes.colours.c', 'colour-assumed at fixtures.glow.profile']],
  ['a colour that is too bright', coloured('xy: [0.17, 0.1], luminance: 90'), ['colour-dim at palettes.colours.c.luminance', 'colour-assumed at fixtures.glow.profile']],
  ['a colour of which there is next to nothing', coloured('xy: [0.33, 0.33], luminance: 0.5'), ['colour-steps at palettes.colours.c', 'colour-assumed at fixtures.glow.profile']],
  ['a beam that is narrower than its Zoom goes', changed('inputs:', 'palettes: { beams: { pin: 3 } }\ninputs:', changed('set: { Dimmer: 80 }', 'set: { Dimmer: 80, beam: pin }', SAFE)), ['beam-off at palettes.beams.pin']],
  ['a target that is out of reach', changed('inputs:', 'palettes: { points: { sky: [3, 1, 9] } }\ninputs:', changed('[3, 1, 5]', '[3, 1, 5], safe: { target: sky }', SAFE)), ['target-off at palettes.points.sky']],
  ['a target where the head itself hangs', changed('inputs:', 'palettes: { points: { own: [3, 1, 5.1] } }\ninputs:', changed('[3, 1, 5]', '[3, 1, 5], safe: { target: own }', SAFE)), ['target-off at palettes.points.own']],
  ['black until somebody comes', rgb(BLACK, 'Dimmer: 100, ColorAdd_G: 50'), []],
  ['a lamp that is forgotten in a cue', cues('address: 1, base: { Dimmer: 20 }, safe: { Dimmer: 20 } }', 'one: { mappings: [stove, follow] }, two: {}'), ['cue-lit at cues.two']],
  ['a wheel that changes in the light', wheelIn('amber'), ['cue-wheel at cues.two.base']],
  ['a wheel that stays', wheelIn('blue'), []],
  ['a wheel that mappings have elsewhere', wheelBy('warm', 'cold'), ['cue-wheel at cues.two.mappings']],
  ['one that may be where it was', wheelBy('warm', 'warm, cold'), []],
  ['one whose lamp is dark in the next cue', wheelBy('warm', 'dim'), []],
  ['a condition that brings on two cues', `${cues('address: 1, safe: { Dimmer: 20 } }', 'one: { mappings: [stove, follow] }, two: { mappings: [stove], fire: leaves }, three: { mappings: [stove], fire: leaves }')}conditions: { leaves: { in: stove, of: ines } }\n`, ['cue-fire at cues.three.fire']],
  ['a route without a stamp beside one that has it', changed('routes: [{ address: "/tracker/{tracker}/position" }]', 'routes: [{ address: "/tracker/{tracker}/position" }, { address: "/stamped/{tracker}", arguments: [x, y, z, stamp] }]', SAFE), ['stamp-missing at inputs.tracking.routes.0']],
  ['routes that all have a stamp', changed('routes: [{ address: "/tracker/{tracker}/position" }]', 'routes: [{ address: "/tracker/{tracker}/position", arguments: [x, y, z, stamp] }, { address: "/stamped/{tracker}", arguments: [x, y, z, stamp] }]', SAFE), []],
  ['an input of a network that takes this machine only', allowing('0.0.0.0', '127.0.0.1'), ['sender-shut-out at inputs.tracking.allow']],
  ['one that takes a machine of it', allowing('0.0.0.0', '127.0.0.1, 192.0.2.7'), []],
  ['one of this machine', allowing('127.0.0.1', '127.0.0.1'), []],
  ['an operator of a network who takes this machine only', operated('listen: 0.0.0.0'), ['sender-shut-out at operator.allow']],
  ['a pair whose addresses are both allowed', operated(PAIR, '192.0.2.1, 192.0.2.2'), []],
  ['one allowed by a range', operated(PAIR, '192.0.2.0/30'), []],
  ['one whose range ends before', operated(PAIR, '192.0.2.0/31'), ['sender-shut-out at operator.allow']],
  ['one with all addresses allowed', operated(PAIR, '0.0.0.0/0'), []],
  ['one without the standby', operated(PAIR, '192.0.2.1, 192.0.2.7'), ['sender-shut-out at operator.allow']],
  ['one with neither', operated(PAIR, '192.0.2.7'), ['sender-shut-out at operator.allow', 'sender-shut-out at operator.allow']],
  ['one of which only the standby is named, and nobody else allowed', operated('listen: 0.0.0.0, standby: 192.0.2.2', '127.0.0.1, 192.0.2.2'), ['sender-shut-out at operator.allow']],
  ['one of which only the standby is named, and another allowed', operated('listen: 0.0.0.0, standby: 192.0.2.2', '192.0.2.1'), []],
  ['one with a standby for each output, that lacks one of them', operated('listen: 0.0.0.0, standby: { lamps: 192.0.2.2, more: 192.0.2.4 }, main: { lamps: 192.0.2.1 }', '192.0.2.0/30').replace('outputs:\n', 'outputs:\n  more: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [7] }\n'), ['sender-shut-out at operator.allow']],
  ['one that listens to this machine only', operated(PAIR.replace('0.0.0.0', '127.0.0.1'), '192.0.2.0/24'), ['sender-shut-out at operator.listen']],
  ['a cue that a number by OSC brings on', firedBy(''), ['cue-fire-number at cues.two.fire']],
  ['one whose last number stays', firedBy(', timeout: never'), []],
  ['a mapping that scales a dark lamp', hushed('address: 1, safe: { Dimmer: 20 } }', 'follow, hush'), ['scale-alone at mappings.0']],
  ['one that scales what is lit', hushed('address: 1, safe: { Dimmer: 20 } }', 'stove, follow, hush'), []],
  ['one that scales what the base lights', hushed('address: 1, base: { Dimmer: 10 }, safe: { Dimmer: 20 } }', 'follow, hush'), []],
  ['one that scales what is dark in the safe look too', hushed('address: 1, safe: { Dimmer: 0 } }', 'follow, hush'), []],
  ['a lamp that is meant to stay', cues('address: 1, base: { Dimmer: 20 }, safe: { Dimmer: 20 } }', 'one: { mappings: [stove, follow] }, two: { base: { glow: { Dimmer: 20 } } }'), []],
  ['a mapping that no cue names', cues('address: 1, safe: { Dimmer: 20 } }', 'one: { mappings: [stove] }'), ['mapping-unused at mappings.1']],
  ['lit by a cue alone', `${changed('  head:', '  desk: { profile: dimmer, universe: 1, address: 2 }\n  head:', cues('address: 1, safe: { Dimmer: 20 } }', ''))}`.replace('cues: {  }', 'cues: { one: { mappings: [stove, follow], base: { desk: { Dimmer: 30 } } }, two: { mappings: [stove, follow] } }'), []],
  ['a signal and a condition that nothing uses', `${SAFE}signals: { pace: { speed: ines }, walk: { speed: ines } }\nconditions: { runs: { signal: pace, on: 2 }, waits: { in: stove } }\n`.replace('fixtures: [glow]\n    set', 'when: waits\n    fixtures: [glow]\n    set'), ['signal-unused at signals.pace', 'signal-unused at signals.walk', 'condition-unused at conditions.runs']],
  ['a universe of the desk on which nothing rests', `${SAFE}desk: { control: { protocol: sacn, universe: 201, interface: eth1 }, more: { protocol: sacn, universe: 202, interface: eth1 } }\norders: [{ slot: [more, 1], stop: everybody }]\n`, ['desk-unused at desk.control']],
  ['a signal for each fixture that nothing uses', SAFE.replace('mappings:\n', 'signals: { ripple: { wave: { period: 2, spread: 1 } }, near: { distance: [ines, each], range: [4, 1] }, both: { product: [ripple, near] } }\nmappings:\n  - { by: near, fixtures: [head], set: { Zoom: 20 } }\n'), ['signal-unused at signals.ripple', 'signal-unused at signals.both']],
  ['a number by OSC where positions come in', `${SAFE}signals: { level: { osc: { address: /tracker/7/position }, range: [0, 1] } }\nconditions: { up: { signal: level, on: 0.5 } }\n`.replace('fixtures: [glow]\n    set', 'when: up\n    fixtures: [glow]\n    set'), ['signal-on-route at signals.level.osc.address']],
  ['people and places that only signals and cues ask about', `${changed('performers:\n', 'performers:\n  gull: { trackers: [2] }\n', changed('zones:\n', 'zones:\n  door: { circle: { centre: [1, 1], radius: 0.5 } }\n', changed('zone: stove\n', 'name: stove\n    zone: stove\n    performers: [ines]\n', SAFE)))}conditions: { leaves: { in: door, of: gull } }\ncues: { one: { mappings: [stove] }, two: { mappings: [stove], fire: leaves } }\n`.replace('- follow', '- always: true\n    follow'), []],
  ['no such interface', on('198.51.100.5', '192.0.2.9'), ['address-missing at outputs.lamps.interface'], MACHINE],
  ['no such address to listen on', on('203.0.113.1', 'light'), ['address-missing at inputs.tracking.listen'], MACHINE],
  ['two networks', on('198.51.100.5', '192.0.2.5'), [], MACHINE],
  ['what looks like a broadcast address', to('10.1.2.255', '10.1.2.3'), ['broadcast-address at outputs.lamps.to.1']],
  ['what looks like one beside the group', to('10.1.2.255', 'multicast'), ['broadcast-address at outputs.lamps.to.1']],
  ['a host of a wide network', to('192.0.2.255', '192.0.2.5'), [], MACHINE],
  ['the broadcast address of a wide network', to('192.0.15.255', '192.0.2.5'), ['broadcast-address at outputs.lamps.to.1'], MACHINE],
  ['the broadcast address of a narrow network', to('198.51.100.127', '198.51.100.5'), ['broadcast-address at outputs.lamps.to.1'], MACHINE],
  ['one network', on('192.0.2.5', 'light'), ['one-network at inputs.tracking.listen'], MACHINE],
  ['all interfaces, or none but this machine', on('0.0.0.0', '127.0.0.1'), [], MACHINE],
];

describe('of a show that is right', () => {
  const cases = CASES.map(([what, text, warnings, machine]) => ({ what, text, warnings, machine }));
  test.each(cases)('$what', ({ text, warnings, machine }) => {
    expect(warned(text, machine)).toEqual(warnings);
  });

  test('there is a case for every code, and each says what would be right', () => {
    // An older format is in format.test.ts.
    const covered = new Set([
      ...CASES.flatMap(([, , warnings]) => warnings.map(one => one.split(' ')[0])),
      'older-format',
      // Below.
      'safe-dark',
    ]);
    expect([...covered].sort()).toEqual(Object.keys(WARNING_CODES).sort());
    for (const { meaning, right } of Object.values(WARNING_CODES))
      expect(meaning + right).toMatch(/\.$/);
  });

  test('what was probably meant is said', () => {
    const words = (text: string) => {
      const parsed = parseShow(text, 'a.show.yaml');
      if (!parsed.ok) throw new Error(parsed.problems.map(({ message }) => message).join('\n'));
      return warningsOf(parsed.show, () => true, undefined).map(({ message }) => message);
    };
    expect(words(changed('set: { Dimmer: 100 }', 'set: { Dimmer: 0.75 }', SAFE))).toEqual([
      'Dimmer of glow is 0.75 %. Did you mean 75?',
    ]);
    // Two circles of radius r at a distance of r share 2 pi / 3 - sqrt(3) / 2 of r squared: 39.1 % of one.
    expect(words(exit('circle: { centre: [2.8, 3], radius: 0.8 }'))).toEqual([
      'exit "door" covers 39 % of zone "stove", which drives light: performers who are lost there count as off stage, and no loss is reported.',
    ]);
    expect(words(`${SAFE}watchdog: { trackerSilent: { after: 500 } }\n`)).toEqual([
      '`watchdog.trackerSilent.after` is 500 s. Did you mean milliseconds? That would be 0.5.',
    ]);
  });

  test('a head that follows where it does not get to is not dark for a keep-out', () => {
    const short =
      'profiles: { mine: { optics: { fieldAngle: 12 }, channels: [{ attribute: Pan, range: [-270, 270] }, { attribute: Tilt, range: [-5, 5] }, { attribute: Dimmer }] } }\nfixtures:\n';
    const house = keepOut('house: { point: [3, -9, 1], radius: 1 }');
    const text = house
      .replace('fixtures:\n', short)
      .replace('profile: moving-head', 'profile: mine');
    const words = warningsOf(showOf(text), () => true, undefined);
    expect(words.filter(({ code }) => code === 'keep-out-unlit').map(one => one.message)).toEqual([
      expect.stringContaining(`"stove": it can't reach it within its Pan and Tilt.`),
    ]);
  });

  test.each(['minimal', 'salt-lantern'])('the examples have none: %s', name => {
    expect(warned(configShow(name), MACHINE)).toEqual([]);
  });

  test('says nothing of a machine that is not at hand', () => {
    expect(warned(on('203.0.113.1', '192.0.2.9'))).toEqual([]);
    expect(warned(MINIMAL)).toEqual([]);
  });
});

describe('a safe look without light', () => {
  const DARK = 'safe-dark at fixtures';
  const decided = MINIMAL.replace('address: 1 }', 'address: 1, safe: { Dimmer: 0 } }').replace(
    'address: 11,',
    'address: 11, safe: { Dimmer: 0 },',
  );
  test.each([
    ['that nobody has decided on', MINIMAL, [DARK]],
    [
      'that was decided on for one lamp of two',
      decided.replace(', safe: { Dimmer: 0 } }', ' }'),
      [DARK],
    ],
    ['that was decided on for all', decided, []],
    ['of which one lamp is lit', SAFE, []],
    ['lit by a base', changed('address: 1 }', 'address: 1, base: { Dimmer: 5 } }'), []],
    [
      "whose light is the desk's",
      `${changed('address: 1 }', 'address: 1, ground: safe }')}${STAGE}`,
      [],
    ],
    [
      'in one cue of two',
      cues(
        'address: 1 }',
        'one: { mappings: [stove, follow] }, two: { mappings: [stove, follow], safe: { glow: { Dimmer: 5 } } }',
      ),
      [],
    ],
    [
      'in each cue',
      cues(
        'address: 1 }',
        'one: { mappings: [stove, follow] }, two: { mappings: [stove, follow] }',
      ),
      [DARK],
    ],
    [
      'of a show without a lamp',
      'lampwright: 1\nname: x\nstage: { x: [0, 1], y: [0, 1] }\ninputs: {}\nperformers: {}\nfixtures: {}\noutputs: {}\n',
      [],
    ],
  ])('%s', (_, text, warnings) => {
    expect(allWarned(text).filter(warning => warning.startsWith('safe-dark'))).toEqual(warnings);
  });

  test('names the lamps that it is not said of', () => {
    expect(warningsOf(showOf(MINIMAL), saidIn(MINIMAL), undefined)[0]?.message).toBe(
      'the safe look is dark: no lamp is lit in it, and `safe` doesn\'t say the Dimmer of "glow" and "head". Is there another light by which people find their way out?',
    );
  });
});

describe('what is so of the cells of a batten', () => {
  const COPIES = 'copies: [[4], [7], [10]]';
  const COLOURED = 'base: { colour: laser, Dimmer: 10 }, safe: { colour: laser, Dimmer: 0 }';
  const batten = (more = '', blue = 'copies: [[6], [9], [12]]', looks = 'base: { Dimmer: 10 }') =>
    changed(
      'fixtures:\n',
      `palettes: { colours: { laser: { xy: [0.1, 0.78] } } }
profiles: { batten: { channels: [{ attribute: ColorAdd_R, slots: [1], ${COPIES} }, { attribute: ColorAdd_G, slots: [2], copies: [[5], [8], [11]] }, { attribute: ColorAdd_B, slots: [3], ${blue} }] } }
fixtures:
  bar: { profile: batten, universe: 1, address: 101, ${more} ${looks} }
`,
      SAFE,
    );
  const told = (text: string) =>
    warningsOf(showOf(text), () => true, undefined).map(({ message }) => message);

  test('is said of all of them once, and of some by their names', () => {
    const text = batten('cells: {},', undefined, COLOURED);
    expect(told(text)).toEqual([
      'colour "laser" on fixture "bar": out of reach of its emitters; the nearest is 0.093 away in u\'v\'.',
      'profile "batten" doesn\'t say what colours its emitters are: those of sRGB are assumed.',
      'no mapping drives fixture "bar", so it stays at its `base`.',
    ]);
    const one = text.replace('fixtures: [glow]', 'fixtures: [glow, bar-3]');
    expect(told(one).at(-1)).toMatch(
      /^no mapping drives fixture "bar-1" \(and "bar-2" and "bar-4"\)/,
    );
  });

  test('and copies of which one was forgotten, with cells and without', () => {
    const short = 'copies: [[6], [9]]';
    expect(told(batten('', short))).toContain(
      'profile "batten" of fixture "bar": it has ColorAdd_B 3 times but ColorAdd_R 4 times, so the other cells have none. List each further cell in `copies`.',
    );
    expect(told(batten('cells: {},', short))).toContain(
      'profile "batten" of fixture "bar": it has ColorAdd_B 3 times but ColorAdd_R 4 times, so no cell has its own. List each further cell in `copies`.',
    );
    // One for two cells each is meant.
    expect(told(batten('', 'copies: [[6]]')).join()).not.toContain('times');
  });
});
