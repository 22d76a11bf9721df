import fc from 'fast-check';
import { Matrix4, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { parse, stringify } from 'yaml';
import { toRaw } from '../../src/fixtures/encode.js';
import { aimAt, beamDirection, compileHead, panTilt } from '../../src/fixtures/kinematics.js';
import { type Imported, importArchive } from '../../src/interchange/import.js';
import { addressOf } from '../../src/interchange/mvr.js';
import { SAME_FRAME } from '../../src/interchange/plot-fixture.js';
import { partText, ranges, showOf } from '../../src/interchange/show-text.js';
import { findingsIn, parseShow } from '../../src/show/parse.js';
import type { Show } from '../../src/show/resolve/resolve.js';
import { type Degrees, type Radians, toRadians } from '../../src/stage/units.js';
import { vec3 } from '../../src/stage/vector.js';
import {
  fixtureXml,
  groupXml,
  HEAD_MODE,
  headGdtf,
  headXml,
  layerXml,
  plot,
  sceneXml,
  zip,
} from './make.js';
import { asGdtf, asMvr, degrees, poses } from './poses.js';

const SEED = 20260113;

function imported(bytes: Uint8Array, place = SAME_FRAME): Imported {
  const result = importArchive(bytes, 'plot.mvr', place);
  if (!result.ok) throw new Error(result.fault);
  return result;
}

/** By way of the text that the user gets. */
function showFrom(bytes: Uint8Array, place = SAME_FRAME): Show {
  const { profiles, fixtures, ...rest } = showOf(imported(bytes, place)) as Record<string, unknown>;
  const parts = partText(imported(bytes, place), 'plot.mvr');
  expect([profiles, fixtures]).toEqual([parse(parts).profiles, parse(parts).fixtures]);
  const result = parseShow(`${stringify(rest)}${parts}`, 'imported.show.yaml');
  if (!result.ok) throw new Error(result.problems.map(({ message }) => message).join('\n'));
  return result.show;
}

const pose = poses(8);
const drop = (metres: number) => new Matrix4().makeTranslation(0, 0, -metres);

describe('a head from a plot aims where the plot hangs it', () => {
  /**
   * The world of the plot by `three` alone: layer, group, fixture, yoke (turns about its Z by pan), head
   * (turns about its X by tilt); the beam leaves along -Z (DIN SPEC 15800 draws the device hanging; the
   * direction of the beam is from memory).
   */
  function world(layer: Matrix4, group: Matrix4, fixture: Matrix4, yoke: Matrix4, head: Matrix4) {
    const base = layer.clone().multiply(group).multiply(fixture).multiply(yoke);
    return (pan: number, tilt: number) => {
      const moved = base
        .clone()
        .multiply(new Matrix4().makeRotationZ(pan))
        .multiply(head)
        .multiply(new Matrix4().makeRotationX(tilt));
      return {
        from: new Vector3().applyMatrix4(moved),
        along: new Vector3(0, 0, -1).transformDirection(moved),
      };
    };
  }

  test('for any group, fixture and yoke, at any pan and tilt', () => {
    fc.assert(
      fc.property(
        fc.tuple(pose, pose, pose),
        fc.tuple(degrees, fc.double({ min: 0.05, max: 0.6, noNaN: true })),
        fc.tuple(degrees, fc.double({ min: -130, max: 130, noNaN: true })),
        ([layer, group, fixture], [yokeTurn, down], [panDegrees, tiltDegrees]) => {
          const yoke = drop(0.1).multiply(new Matrix4().makeRotationZ((yokeTurn * Math.PI) / 180));
          const head = drop(down);
          const gdtf = headGdtf({ yoke: asGdtf(yoke), head: asGdtf(head) });
          const bytes = plot(
            layerXml(
              groupXml(asMvr(group), fixtureXml({ matrix: asMvr(fixture) })),
              `<Matrix>${asMvr(layer)}</Matrix>`,
            ),
            gdtf,
          );
          const plan = showFrom(bytes).fixtures[0];
          if (plan?.head === undefined) throw new Error('no head');
          const pan = toRadians(panDegrees as Degrees);
          const tilt = toRadians(tiltDegrees as Degrees);
          const theirs = world(layer, group, fixture, yoke, head)(pan, tilt);
          const ours = beamDirection(compileHead(plan.head), pan, tilt, vec3(0, 0, 0));
          const { position } = plan.head;
          // Six digits in the plot, four in the show file.
          expect(
            theirs.from.distanceTo(new Vector3(position.x, position.y, position.z)),
          ).toBeLessThan(2e-4);
          expect(theirs.along.angleTo(new Vector3(ours.x, ours.y, ours.z))).toBeLessThan(1e-5);
        },
      ),
      { seed: SEED, numRuns: 60 },
    );
  });

  test('by hand: hung at (2, 3, 5) facing stage left, it looks down, and tilts to where it faces', () => {
    // A quarter turn about z: its front, -y, faces +x.
    const bytes = plot(layerXml(fixtureXml({ matrix: '{0,1,0}{-1,0,0}{0,0,1}{2000,3000,5000}' })));
    const { fixtures } = imported(bytes);
    expect(fixtures).toEqual({
      spot: {
        label: 'Spot',
        profile: 'test-head',
        universe: 1,
        address: 1,
        // 0.12 m of yoke and 0.25 m of head below the clamp.
        position: [2, 3, 4.63],
        orientation: { x: 0, y: 0, z: 90 },
      },
    });
    const head = showFrom(bytes).fixtures[0]?.head;
    if (head === undefined) throw new Error('no head');
    const at = (pan: number, tilt: number) =>
      beamDirection(
        compileHead(head),
        toRadians(pan as Degrees),
        toRadians(tilt as Degrees),
        vec3(0, 0, 0),
      );
    expect(at(0, 0).z).toBeCloseTo(-1, 12);
    // Rx(90) takes -z to y, and the quarter turn takes y to -x.
    expect(at(0, 90).x).toBeCloseTo(-1, 12);
    const aimed = aimAt(compileHead(head), 2, 3, 0, 0, 0, panTilt());
    expect([aimed.reachable, aimed.tilt]).toEqual([true, 0]);
  });

  test('a plot that lies elsewhere and turned in the stage frame', () => {
    const bytes = plot(layerXml(fixtureXml({ matrix: '{1,0,0}{0,1,0}{0,0,1}{1000,0,5370}' })));
    const { fixtures } = imported(bytes, { origin: vec3(5, 4, 0), turn: (Math.PI / 2) as Radians });
    expect(fixtures.spot).toMatchObject({
      position: [5, 5, 5],
      orientation: { x: 0, y: 0, z: 90 },
    });
  });

  test('standing and hanging are said in words', () => {
    const of = (matrix: string) =>
      imported(plot(layerXml(fixtureXml({ matrix })))).fixtures.spot?.orientation;
    expect(of('{1,0,0}{0,1,0}{0,0,1}{0,0,0}')).toBeUndefined();
    expect(of('{1,0,0}{0,-1,0}{0,0,-1}{0,0,0}')).toBe('standing');
  });
});

describe('the patch', () => {
  test.each([
    ['1', 1, 1],
    ['512', 1, 512],
    ['513', 2, 1],
    ['2.1', 2, 1],
    ['7.512', 7, 512],
    [' 1025 ', 3, 1],
  ])('address %s is universe %d, slot %d', (text, universe, address) => {
    expect(addressOf(text)).toEqual({ universe, address });
  });

  test.each(['0', '', '-1', '1.513', '0.1', '1.0', 'x', '1.2.3', '99999.1', '1e3'])(
    '"%s" is none',
    text => {
      expect(addressOf(text)).toBeUndefined();
    },
  );

  test('names are those of the plot, with the number on paper where they are not alone', () => {
    const bytes = plot(
      layerXml(
        [
          fixtureXml({ name: 'Spot', id: '101', address: '1' }),
          fixtureXml({ name: 'Spot', id: '102', address: '21' }),
          fixtureXml({ name: 'Spot', id: '102', address: '41' }),
          fixtureXml({ name: 'Wärme &amp; Glut', id: '7', address: '61' }),
          fixtureXml({ name: '3rd', id: '', address: '81' }),
          fixtureXml({ name: '', id: '', address: '101' }),
        ].join(''),
      ),
    );
    expect(Object.keys(imported(bytes).fixtures)).toEqual([
      'spot-101',
      'spot-102',
      'spot-102-2',
      'warme-glut',
      'fixture-3rd',
      'fixture',
    ]);
    expect(imported(bytes).fixtures['warme-glut']?.label).toBe('Wärme & Glut');
  });

  test('one profile for a kind, with the modes that are in use', () => {
    const other = HEAD_MODE.replace('Mode 1 (fine)', 'Other');
    const unused = HEAD_MODE.replace('Mode 1 (fine)', 'Unused');
    const bytes = plot(
      layerXml(
        fixtureXml({ name: 'a', address: '1' }) +
          fixtureXml({ name: 'b', address: '21', mode: 'Other', spec: 'test@head' }),
      ),
      headGdtf({ modes: HEAD_MODE + other + unused }),
    );
    const { profiles, fixtures } = imported(bytes);
    // The second names the file without its ending and in lower case: the same file, as writers do it.
    expect(Object.keys(profiles)).toEqual(['test-head']);
    expect(Object.keys(profiles['test-head']?.modes ?? {})).toEqual(['mode-1-fine', 'other']);
    expect([fixtures.a?.mode, fixtures.b?.mode]).toEqual(['mode-1-fine', 'other']);
    expect(showFrom(bytes).fixtures.map(one => one.profile.name)).toEqual([
      'test-head/mode-1-fine',
      'test-head/other',
    ]);
  });
});

test('a fixture that has its pan set to run the other way has a profile of its own', () => {
  // DMXInvertPan of MVR 1.6 (from memory): level r then acts as the top less r.
  const inverted = '<DMXInvertPan>true</DMXInvertPan><DMXInvertTilt>false</DMXInvertTilt>';
  const bytes = plot(
    layerXml(
      fixtureXml({ name: 'a', address: '1' }) +
        fixtureXml({ name: 'b', address: '21', more: inverted }) +
        fixtureXml({ name: 'c', address: '41', more: inverted }),
    ),
  );
  expect(Object.keys(imported(bytes).profiles)).toEqual(['test-head', 'test-head-pan-inverted']);
  const [a, b, c] = showFrom(bytes).fixtures.map(({ profile }) => profile);
  expect(b).toBe(c);
  for (const [index, top] of [
    [0, 65535],
    [1, 0],
  ] as const) {
    const [plain, turned] = [a?.channels[index], b?.channels[index]];
    if (plain === undefined || turned === undefined) throw new Error('no channel');
    const raw = toRaw(plain, 37.5);
    expect(toRaw(turned, 37.5)).toBe(top === 0 ? raw : top - raw);
  }
});

test('what a plot says beside that is not used is counted', () => {
  const more = '<Color>0.3,0.3,50</Color><Focus>f</Focus>';
  const { remarks } = imported(
    plot(layerXml(fixtureXml({ more }) + fixtureXml({ more, address: '21' }))),
  );
  expect(remarks.filter(({ where }) => where === 'the scene').map(({ what }) => what)).toEqual([
    '2 fixtures have no Matrix, so they hang at the origin of the layer, group or fixture around, as MVR has it',
    '2 fixtures have a Color, which is not used',
    '2 fixtures have a Focus, which is not used',
  ]);
});

describe('what can not be used is said, every one', () => {
  const bad = plot(
    layerXml(
      [
        fixtureXml({ name: 'good', address: '1' }),
        fixtureXml({ name: 'no file', spec: '', address: '31' }),
        fixtureXml({ name: 'lost file', spec: 'gone.gdtf', address: '61' }),
        fixtureXml({ name: 'no mode', mode: 'Mode 7', address: '91' }),
        fixtureXml({ name: 'no address', address: '' }),
        fixtureXml({ name: 'odd address', address: 'A1', id: '9' }),
        fixtureXml({ name: 'mirrored', address: '121', matrix: '{-1,0,0}{0,1,0}{0,0,1}{0,0,0}' }),
        fixtureXml({ name: 'no matrix', address: '151', matrix: 'here' }),
        fixtureXml({
          name: 'all wrong',
          spec: '',
          mode: '',
          address: '',
          matrix: '{0,0,0}{0,1,0}{0,0,1}{0,0,0}',
        }),
        '<Truss name="Truss 1" uuid="5"><ChildList>',
        fixtureXml({ name: 'on a truss', address: '181' }),
        '</ChildList></Truss><FocusPoint name="f" uuid="6"/>',
      ].join(''),
    ),
  );

  test('and every fixture is there', () => {
    const result = imported(bad);
    const here = [0, 0, 0];
    const placeholder = { profile: 'placeholder', unpatched: true, position: here };
    // 0.37 m of yoke and head below the clamp.
    const head = { profile: 'test-head', position: [0, 0, -0.37] };
    expect(result.fixturesFound).toBe(10);
    expect(result.fixtures).toEqual({
      good: { ...head, universe: 1, address: 1 },
      'no-file': { label: 'no file', ...placeholder, universe: 1, address: 31 },
      'lost-file': { label: 'lost file', ...placeholder, universe: 1, address: 61 },
      'no-mode': { label: 'no mode', ...placeholder, universe: 1, address: 91 },
      'no-address': { label: 'no address', ...head, unpatched: true },
      'odd-address': { label: 'odd address', ...head, unpatched: true },
      mirrored: { profile: 'test-head', universe: 1, address: 121 },
      'no-matrix': { label: 'no matrix', profile: 'test-head', universe: 1, address: 151 },
      'all-wrong': { label: 'all wrong', profile: 'placeholder', unpatched: true },
      'on-a-truss': { label: 'on a truss', ...head, universe: 1, address: 181 },
    });
    const said = result.remarks.map(({ kind, where, what }) => `${kind}: ${where}: ${what}`);
    const without = 'written without a position and an orientation';
    const unknown = 'written as unpatched, with the profile "placeholder"';
    expect(said).toEqual([
      'note: fixture "odd address" (9): "A1" is no DMX address (a number from 1, or universe.address)',
      'note: the scene: 7 fixtures have no Matrix, so they hang at the origin of the layer, group or fixture around, as MVR has it',
      'left-out: the scene: 1 x Truss: only fixtures are imported',
      'left-out: the scene: 1 x FocusPoint: only fixtures are imported',
      'error: GDTF file "gone.gdtf": it is not in the archive',
      'left-out: Test@Head.gdtf, mode "Mode 1 (fine)", channel 7 (Special9): the attribute is not one that a mapping can set; its slots are held at their default',
      `error: fixture "no file" (1): it names no GDTF file; ${unknown}; its address is kept`,
      `error: fixture "lost file" (1): its GDTF file can not be used; ${unknown}; its address is kept`,
      `error: fixture "no mode" (1): its GDTF file has no mode "Mode 7" that can be used; ${unknown}; its address is kept`,
      'note: fixture "no address" (1): it has no DMX address; written as unpatched',
      'note: fixture "odd address" (9): it has no DMX address; written as unpatched',
      `error: fixture "mirrored" (1): its matrix mirrors it; ${without}`,
      `error: fixture "no matrix" (1): its Matrix "here" is not 4 rows of 3 finite numbers; ${without}`,
      `error: fixture "all wrong" (1): its matrix flattens it; ${without}`,
      `error: fixture "all wrong" (1): it names no GDTF file; ${unknown}; it has no DMX address either`,
    ]);
    expect(findingsIn(showOf(result))).toEqual([]);
  });

  test('a GDTF file inside that is broken, or a bomb', () => {
    const bomb = zip({ 'description.xml': new Uint8Array(40 * 2 ** 20) });
    for (const [gdtf, why] of [
      [new TextEncoder().encode('no zip'), /not a ZIP archive/],
      [bomb, /times its size/],
      [zip({ 'description.xml': '<GDTF>' }), /no XML/],
    ] as const) {
      const { remarks, fixtures } = imported(plot(layerXml(fixtureXml()), gdtf));
      expect(fixtures.spot).toMatchObject({ profile: 'placeholder', unpatched: true });
      expect(remarks.map(({ what }) => what).join()).toMatch(why);
    }
  });

  test('kinds that are many and long: read until it is too much, and the rest is told', () => {
    const names = ['a', 'b', 'c', 'd', 'e', 'f'];
    const bytes = zip({
      'GeneralSceneDescription.xml': sceneXml(
        layerXml(
          names
            .map((name, i) => fixtureXml({ name, spec: name, address: String(1 + 20 * i) }))
            .join(''),
        ),
      ),
      ...Object.fromEntries(names.map(name => [`${name}.gdtf`, headGdtf()])),
    });
    const one = headXml().length;
    const result = importArchive(bytes, 'plot.mvr', SAME_FRAME, 5.5 * one);
    if (!result.ok) throw new Error(result.fault);
    const { fixtures, remarks } = result;
    expect(Object.values(fixtures).map(({ profile }) => profile)).toEqual([
      ...['test-head', 'test-head-2', 'test-head-3', 'test-head-4', 'test-head-5'],
      'placeholder',
    ]);
    expect(remarks.map(({ where, what }) => `${where}: ${what}`)).toContainEqual(
      expect.stringMatching(/^GDTF file "f.gdtf": it unpacks to more than/),
    );
  });

  test.each([
    ['no XML', 'GeneralSceneDescription.xml', '<General'],
    ['another root', 'GeneralSceneDescription.xml', '<Scene/>'],
    [
      'an entity',
      'GeneralSceneDescription.xml',
      `<!DOCTYPE x [<!ENTITY y SYSTEM "file:///etc/passwd">]>${sceneXml('')}`,
    ],
  ])('a scene of %s is refused', (_, name, text) => {
    expect(importArchive(zip({ [name]: text }), 'x.mvr')).toMatchObject({
      ok: false,
      fault: expect.stringMatching(/^GeneralSceneDescription.xml: /),
    });
  });

  test('a scene of nothing is imported, and says so', () => {
    expect(imported(zip({ 'GeneralSceneDescription.xml': sceneXml('') }))).toMatchObject({
      fixtures: {},
      remarks: [{ what: 'there is no fixture in it' }],
    });
  });

  test('an overlap in the plot is found by the check of the show', () => {
    const bytes = plot(
      layerXml(fixtureXml({ name: 'a', address: '1' }) + fixtureXml({ name: 'b', address: '9' })),
    );
    expect(findingsIn(showOf(imported(bytes))).map(({ code }) => code)).toEqual(['patch-overlap']);
  });
});

test('the text reads as people write it', () => {
  const bytes = plot(
    layerXml(fixtureXml({ matrix: '{1,0,0}{0,1,0}{0,0,1}{1000,2000,5370}', address: '3.11' })),
  );
  const text = partText(imported(bytes), 'plot.mvr');
  expect(text.split('\n').slice(0, 12)).toEqual([
    '# From plot.mvr: parts of a show file. Look at them, then put them where they belong.',
    '# Its universes, which an output has to send: 3.',
    'profiles:',
    '  test-head:',
    '    label: Test head, long',
    '    optics: { beamAngle: 12.5, fieldAngle: 15, luminousFlux: 9000, beamRadius: 0.06 }',
    '    motion:',
    '      pan: { speed: 180, acceleration: 360 }',
    '      zoom: { speed: 17 }',
    '    modes:',
    '      mode-1-fine:',
    '        channels:',
  ]);
  expect(text).toContain(
    '  spot: { label: Spot, profile: test-head, universe: 3, address: 11, position: [ 1, 2, 5 ] }',
  );
});

test('runs of universes', () => {
  expect(ranges([1, 2, 3, 7, 9, 10])).toBe('1-3, 7, 9-10');
  expect(ranges([])).toBe('');
});
