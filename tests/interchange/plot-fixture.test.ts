import { describe, expect, test } from 'vitest';
import { stringify } from 'yaml';
import { type Imported, importArchive } from '../../src/interchange/import.js';
import { partText, showOf } from '../../src/interchange/show-text.js';
import { parseShow } from '../../src/show/parse.js';
import { fixtureXml, groupXml, headGdtf, layerXml, plot, sceneXml, zip } from './make.js';

function imported(inside: string, gdtf = headGdtf()): Imported {
  const result = importArchive(plot(layerXml(inside), gdtf), 'plot.mvr');
  if (!result.ok) throw new Error(result.fault);
  return result;
}

const said = ({ remarks }: Imported) => remarks.map(({ kind, what }) => `${kind}: ${what}`);

/** By way of the text that the user gets. */
function checked(result: Imported) {
  const { profiles, fixtures, ...rest } = showOf(result) as Record<string, unknown>;
  return parseShow(`${stringify(rest)}${partText(result, 'plot.mvr')}`, 'imported.show.yaml');
}

const at = (x: number) => `{1,0,0}{0,1,0}{0,0,1}{${x},2000,5370}`;

test('a scene of 76 fixtures without addresses is a show of 76 fixtures, none of them sent anything', () => {
  const names = Array.from({ length: 76 }, (_, i) => `Spot ${i + 1}`);
  const result = imported(
    names.map((name, i) => fixtureXml({ name, address: '', matrix: at(1000 * i) })).join(''),
  );
  expect(Object.keys(result.fixtures)).toHaveLength(76);
  expect(result.fixtures['spot-76']).toEqual({
    label: 'Spot 76',
    profile: 'test-head',
    unpatched: true,
    position: [75, 2, 5],
  });
  expect(result.remarks.filter(({ kind }) => kind === 'error')).toEqual([]);
  expect(partText(result, 'plot.mvr')).toContain('# 76 of its 76 fixtures are unpatched');
  const show = checked(result);
  if (!show.ok) throw new Error(show.problems.map(({ message }) => message).join());
  expect([show.show.fixtures.length, show.show.unpatched.length]).toEqual([0, 76]);
  expect(show.show.unpatched[75]).toMatchObject({ name: 'spot-76', position: { x: 75 } });
});

test('a fixture whose GDTF file can not be read keeps its name, place, turn and address', () => {
  const turned = '{0,1,0}{-1,0,0}{0,0,1}{2000,3000,5000}';
  const result = imported(
    fixtureXml({ name: 'Far spot', spec: 'gone', address: '7.101', matrix: turned }),
  );
  expect(result.fixtures).toEqual({
    'far-spot': {
      label: 'Far spot',
      profile: 'placeholder',
      unpatched: true,
      universe: 7,
      address: 101,
      position: [2, 3, 5],
      orientation: { x: 0, y: 0, z: 90 },
    },
  });
  expect(result.remarks.filter(({ kind }) => kind === 'error')).toMatchObject([
    { where: 'GDTF file "gone"' },
    { where: 'fixture "Far spot" (1)' },
  ]);
  expect(checked(result)).toMatchObject({ ok: true });
});

describe('a place that can not be read is an error of the fixture, and no place is made up', () => {
  const numbers = 'is not 4 rows of 3 finite numbers';
  test.each([
    ['NaN', '{1,0,0}{0,1,0}{0,0,1}{NaN,0,0}', numbers],
    ['infinite', '{1,0,0}{0,1,0}{0,0,1}{0,Infinity,0}', numbers],
    ['too large for a number', '{1,0,0}{0,1,0}{0,0,1}{0,1e999,0}', numbers],
    ['a row short', '{1,0,0}{0,1,0}{0,0,1}', numbers],
    ['singular', '{1,0,0}{1,0,0}{0,0,1}{0,0,0}', 'its matrix shears it'],
    ['all zero', '{0,0,0}{0,0,0}{0,0,0}{0,0,0}', 'its matrix flattens it'],
    ['mirrored', '{1,0,0}{0,1,0}{0,0,-1}{0,0,0}', 'its matrix mirrors it'],
    ['out of this world', '{1,0,0}{0,1,0}{0,0,1}{1e30,0,0}', 'more than 10000 m away'],
  ])('%s', (_, matrix, why) => {
    const result = imported(fixtureXml({ matrix }));
    expect(result.fixtures.spot).toEqual({
      label: 'Spot',
      profile: 'test-head',
      universe: 1,
      address: 1,
    });
    const errors = result.remarks.filter(({ kind }) => kind === 'error');
    expect(errors).toMatchObject([{ where: 'fixture "Spot" (1)' }]);
    expect(errors[0]?.what).toContain(why);
    expect(checked(result)).toMatchObject({ ok: true });
  });

  test('of a group: each fixture in it', () => {
    const inside = fixtureXml({ name: 'a' }) + fixtureXml({ name: 'b', address: '21' });
    const result = imported(groupXml('{1,0,0}{0,1,0}{0,0,1}{0,NaN,0}', inside));
    expect(Object.values(result.fixtures).map(({ position }) => position)).toEqual([
      undefined,
      undefined,
    ]);
    expect(result.remarks.filter(({ kind }) => kind === 'error')).toHaveLength(2);
    expect(said(result).join()).toContain('the Matrix of GroupObject "Bar"');
  });
});

test('a fixture on a part of another is told, for that part is not followed', () => {
  const more = '<ChildPosition>Base.Yoke.Head</ChildPosition>';
  expect(said(imported(fixtureXml({ more }))).join()).toMatch(/fixed to the part "Base.Yoke.Head"/);
});

describe('a fixture of two DMX addresses', () => {
  const channel = (attribute: string, dmxBreak: number) =>
    `<DMXChannel DMXBreak="${dmxBreak}" Offset="1" Geometry="Base"><LogicalChannel Attribute="${attribute}"><ChannelFunction Name="f" Attribute="${attribute}" DMXFrom="0/1"/></LogicalChannel></DMXChannel>`;
  const gdtf = headGdtf({
    modes: `<DMXMode Name="M" Geometry="Base"><DMXChannels>${channel('Dimmer', 1)}${channel('Color1', 2)}</DMXChannels></DMXMode>`,
  });
  const with_ = (addresses: string) =>
    fixtureXml({ mode: 'M', address: '', more: `<Addresses>${addresses}</Addresses>` });
  const patchOf = (addresses: string, others = '') => {
    const result = imported(with_(addresses) + others, gdtf);
    expect(checked(result)).toMatchObject({ ok: true });
    return { result, fixtures: result.fixtures };
  };

  test.each([
    ['0', '1'],
    ['1', '2'],
  ])('is two fixtures in one place (breaks %s and %s)', (first, second) => {
    const { result, fixtures } = patchOf(
      `<Address break="${second}">2.7</Address><Address break="${first}">1.5</Address>`,
    );
    expect(fixtures).toEqual({
      spot: {
        label: 'Spot',
        profile: 'test-head',
        mode: 'm',
        universe: 1,
        address: 5,
        position: [0, 0, 0],
      },
      'spot-break-2': {
        label: 'Spot break 2',
        profile: 'test-head',
        mode: 'm-break-2',
        universe: 2,
        address: 7,
        position: [0, 0, 0],
      },
    });
    expect([result.fixturesFound, ...result.further]).toEqual([1, ['spot-break-2', 'spot']]);
  });

  test('without its second address the second part is unpatched', () => {
    const { fixtures, result } = patchOf('<Address break="0">1.5</Address>');
    expect(fixtures['spot-break-2']).toMatchObject({ mode: 'm-break-2', unpatched: true });
    expect(said(result)).toContain(
      'note: it has no DMX address for its DMX break 2; written as unpatched',
    );
  });

  test('an address that no channel has is an error', () => {
    const { result } = patchOf(
      '<Address break="0">1.5</Address><Address break="1">2.7</Address><Address break="2">3.9</Address>',
    );
    expect(said(result).join()).toMatch(/error: its address 3.9 \(break 2\) has no channels/);
  });
});

test('fixtures are found in holders of any kind, and in every list of layers', () => {
  const held = `<Gantry name="g"><ChildList>${fixtureXml({ name: 'a' })}</ChildList></Gantry>`;
  const scene = sceneXml(layerXml(held)).replace(
    '</Layers>',
    `</Layers><Layers>${layerXml(fixtureXml({ name: 'b', address: '21' }))}</Layers>`,
  );
  const bytes = zip({ 'GeneralSceneDescription.xml': scene, 'Test@Head.gdtf': headGdtf() });
  const result = importArchive(bytes, 'plot.mvr');
  if (!result.ok) throw new Error(result.fault);
  expect(Object.keys(result.fixtures)).toEqual(['a', 'b']);
  expect(said(result)).toContain('left-out: 1 x Gantry: only fixtures are imported');
});

test('GDTF files that no fixture names are counted', () => {
  const bytes = zip({
    'GeneralSceneDescription.xml': sceneXml(layerXml(fixtureXml())),
    'Test@Head.gdtf': headGdtf(),
    'spare.gdtf': headGdtf(),
  });
  const result = importArchive(bytes, 'plot.mvr');
  if (!result.ok) throw new Error(result.fault);
  expect(said(result)).toContain('left-out: 1 GDTF file that no fixture names: "spare.gdtf"');
});
