import { describe, expect, test } from 'vitest';
import { encodeFixture } from '../../src/fixtures/encode.js';
import { compileProfile } from '../../src/fixtures/profile.js';
import { type Imported, importArchive } from '../../src/interchange/import.js';
import { profileText, showOf } from '../../src/interchange/show-text.js';
import { findingsIn, parseProfile } from '../../src/show/parse.js';
import { profilesOf } from '../../src/show/resolve/profiles.js';
import { ShowFileSchema } from '../../src/show/schema/schema.js';
import { headGdtf, headXml, IDENTITY_4, zip } from './make.js';

function imported(bytes: Uint8Array): Imported {
  const result = importArchive(bytes, 'head.gdtf');
  if (!result.ok) throw new Error(result.fault);
  return result;
}
const remarks = (bytes: Uint8Array) =>
  imported(bytes).remarks.map(({ kind, where, what }) => `${kind}: ${where}: ${what}`);

/** The profile as a show has it, by way of the text that the user gets. */
function compiled(bytes: Uint8Array, mode: string) {
  const result = imported(bytes);
  const [[name, draft] = ['', undefined]] = Object.entries(result.profiles);
  if (draft === undefined) throw new Error('no profile');
  const text = profileText(draft, 'head.gdtf');
  expect(parseProfile(text, 'head.profile.yaml')).toMatchObject({ ok: true });
  const show = ShowFileSchema.parse(showOf(result));
  const options = profilesOf(show).get(name)?.get(mode);
  if (options === undefined) throw new Error('no mode');
  return compileProfile(options);
}

describe('a moving head', () => {
  const head = headGdtf();

  test('comes as a profile that a show takes', () => {
    const { profiles } = imported(head);
    expect(profiles).toEqual({
      'test-head': {
        label: 'Test head, long',
        optics: { beamAngle: 12.5, fieldAngle: 15, luminousFlux: 9000, beamRadius: 0.06 },
        // 540 degrees in 3 s, full speed after 0.5 s; 34 degrees in 2 s.
        motion: { pan: { speed: 180, acceleration: 360 }, zoom: { speed: 17 } },
        modes: {
          'mode-1-fine': {
            channels: [
              // 128/1 is mirrored: 0x8080 of 0xffff.
              {
                attribute: 'Pan',
                bits: 16,
                slots: [1, 3],
                range: [-270, 270],
                default: 1.05882353,
              },
              // 128/1s is shifted: 0x8000, half a step off the middle.
              {
                attribute: 'Tilt',
                bits: 16,
                slots: [2, 4],
                range: [135, -135],
                default: -0.00205996796,
              },
              { attribute: 'Dimmer', slots: [5], highlight: 100 },
              {
                attribute: 'Shutter1',
                slots: [6],
                levels: [0, 31],
                values: {
                  closed: [0, 9],
                  open: [10, 29],
                  // 1 to 20 Hz, as the function beside the main one says.
                  strobe: { levels: [32, 255], range: [1, 20], unit: 'hertz' },
                },
                default: 'open',
                highlight: 'open',
              },
              { attribute: 'Zoom', slots: [7], range: [8, 42], default: 21.3333333 },
              {
                attribute: 'Gobo1',
                slots: [8],
                values: { 'open-clear': [0, 63], leaves: [64, 127], warme: [128, 255] },
                default: 'open-clear',
              },
            ],
            fixed: [{ slot: 9, level: 77 }],
          },
        },
      },
    });
  });

  test('at its defaults it sends what its maker says', () => {
    const profile = compiled(head, 'mode-1-fine');
    const slots = new Uint8Array(9);
    encodeFixture(
      profile,
      profile.channels.map(channel => channel.default),
      slots,
      0,
    );
    for (const { offset, level } of profile.fixed) slots[offset] = level;
    // Pan 0x8080, Tilt 0x8000, coarse bytes first; dimmer 0; shutter open (15 asked, 19 the middle of
    // open); zoom 100; gobo in the middle of open; 77 held.
    expect([...slots]).toEqual([0x80, 0x80, 0x80, 0x00, 0, 19, 100, 31, 77]);
    expect(profile.channels.map(({ highlight }) => highlight)[2]).toBe(100);
  });

  test('and says what it could not use', () => {
    expect(remarks(head)).toEqual([
      'left-out: head.gdtf, mode "Mode 1 (fine)", channel 7 (Special9): the attribute is not one that a mapping can set; its slots are held at their default',
    ]);
  });
});

const channel = (attribute: string, offset: string, inside = '', attributes = '') =>
  `<DMXChannel DMXBreak="1" Offset="${offset}" Geometry="Base" ${attributes}><LogicalChannel Attribute="${attribute}">${
    inside ||
    `<ChannelFunction Name="f" Attribute="${attribute}" DMXFrom="0/1" Default="0/1" PhysicalFrom="0" PhysicalTo="1"/>`
  }</LogicalChannel></DMXChannel>`;
const mode = (channels: string, name = 'M') =>
  `<DMXMode Name="${name}" Geometry="Base"><DMXChannels>${channels}</DMXChannels></DMXMode>`;
const only = (channels: string, geometries?: string) =>
  headGdtf({ modes: mode(channels), ...(geometries === undefined ? {} : { geometries }) });
const channelsOf = (bytes: Uint8Array) => imported(bytes).profiles['test-head']?.modes.m?.channels;

describe('channels', () => {
  test('32 bits at slots in any order', () => {
    const bytes = only(channel('Dimmer', '7,2,9,4'));
    expect(imported(bytes).profiles['test-head']?.modes.m).toEqual({
      channels: [{ attribute: 'Dimmer', bits: 32, slots: [7, 2, 9, 4] }],
    });
    expect(remarks(bytes)).toEqual([]);
    const slots = new Uint8Array(9);
    // A third of 2^32 - 1 is 0x55555555.
    encodeFixture(compiled(bytes, 'm'), [100 / 3], slots, 0);
    expect([slots[6], slots[1], slots[8], slots[3]]).toEqual([0x55, 0x55, 0x55, 0x55]);
    encodeFixture(compiled(bytes, 'm'), [100], slots, 0);
    expect([slots[6], slots[1], slots[8], slots[3]]).toEqual([255, 255, 255, 255]);
  });

  test('a byte more than a value of GDTF has is told', () => {
    const bytes = only(channel('Dimmer', '1,2,3,4,5'));
    expect(channelsOf(bytes)).toEqual([{ attribute: 'Dimmer', bits: 32, slots: [1, 2, 3, 4] }]);
    expect(remarks(bytes)).toEqual([expect.stringMatching(/40 bits, and GDTF gives .* of 32/)]);
  });

  test('a dimmer over part of its channel, its rest by name', () => {
    const functions = `<ChannelFunction Name="Off" Attribute="NoFeature" DMXFrom="0/1"/>
      <ChannelFunction Name="Dim" Attribute="Dimmer" DMXFrom="16/1" Default="16/1" PhysicalFrom="0" PhysicalTo="1"/>
      <ChannelFunction Name="Full" Attribute="NoFeature" DMXFrom="240/1"/>`;
    const bytes = only(
      channel('Dimmer', '1', functions, 'InitialFunction="Base_Dimmer.Dimmer.Dim"'),
    );
    expect(channelsOf(bytes)).toEqual([
      {
        attribute: 'Dimmer',
        slots: [1],
        levels: [16, 239],
        values: { off: [0, 15], full: [240, 255] },
        snap: false,
      },
    ]);
    expect(compiled(bytes, 'm').channels[0]).toMatchObject({
      rawAtFrom: 16,
      rawAtTo: 239,
      snap: false,
    });
  });

  test('a default that has no name gets one', () => {
    const functions = `<ChannelFunction Name="Dim" Attribute="Dimmer" DMXFrom="0/1" PhysicalFrom="0" PhysicalTo="1"/>
      <ChannelFunction Name="" Attribute="Dimmer" DMXFrom="200/1" Default="210/1" PhysicalFrom="0" PhysicalTo="0"/>`;
    const bytes = only(
      channel('Dimmer', '1', functions, 'InitialFunction="Base_Dimmer.Dimmer.Nope" Default="5/1"'),
    );
    expect(channelsOf(bytes)?.[0]).toMatchObject({
      levels: [0, 199],
      values: { dimmer: [200, 255] },
      default: 2.51256281,
    });
  });

  test('kelvin stay kelvin, and what depends on another channel is told', () => {
    const functions = `<ChannelFunction Name="T" Attribute="CTO" DMXFrom="0/1" Default="255/1" PhysicalFrom="3200" PhysicalTo="6500"/>
      <ChannelFunction Name="U" Attribute="CTO" DMXFrom="0/1" ModeMaster="Base_X" ModeFrom="0/1" ModeTo="1/1"/>`;
    const bytes = only(channel('CTO', '1', functions));
    expect(channelsOf(bytes)).toEqual([
      { attribute: 'CTO', slots: [1], range: [3200, 6500], unit: 'kelvin', default: 6500 },
    ]);
    expect(remarks(bytes)).toEqual([expect.stringMatching(/depend on another channel/)]);
  });

  test('relations are told', () => {
    const relation =
      '<Relations><Relation Name="r" Master="a" Follower="b" Type="Multiply"/></Relations>';
    const modes = mode(channel('Dimmer', '1')).replace('</DMXMode>', `${relation}</DMXMode>`);
    expect(remarks(headGdtf({ modes }))).toEqual([expect.stringMatching(/1 of its Relations/)]);
  });

  test('pan without degrees is held where it stands, not guessed', () => {
    const bytes = only(channel('Pan', '1,2') + channel('Dimmer', '3'));
    expect(channelsOf(bytes)).toEqual([{ attribute: 'Dimmer', slots: [3] }]);
    expect(remarks(bytes)).toEqual([expect.stringMatching(/gives no angles/)]);
  });

  test('the same colour again is driven as one; slots of another are not taken', () => {
    const bytes = only(
      channel('ColorAdd_R', '1') +
        channel('ColorAdd_R', '2') +
        channel('ColorAdd_G', '2') +
        channel('ColorAdd_B', '600'),
    );
    expect(channelsOf(bytes)).toEqual([{ attribute: 'ColorAdd_R', slots: [1], copies: [[2]] }]);
    expect(remarks(bytes)).toEqual([
      expect.stringMatching(/is no list of slots/),
      expect.stringMatching(/second ColorAdd_R; both are driven as one/),
      expect.stringMatching(/its slot 2 is in use already/),
    ]);
  });

  test('a fixture of colours alone gets its virtual dimmer from the show, not from the file', () => {
    const virtual = channel('Dimmer', 'None');
    const bytes = only(
      ['R', 'G', 'B'].map((c, i) => channel(`ColorAdd_${c}`, String(i + 1))).join('') + virtual,
    );
    expect(remarks(bytes)).toEqual([]);
    const profile = compiled(bytes, 'm');
    expect(profile.virtualDimmer).toBe(3);
    const slots = new Uint8Array(3);
    encodeFixture(profile, [100, 50, 0, 40], slots, 0);
    expect([...slots]).toEqual([102, 51, 0]);
  });
});

describe('geometry', () => {
  const cells = `<Geometry Name="Base" Position="${IDENTITY_4}">
    <GeometryReference Name="c1" Geometry="Cell" Position="${IDENTITY_4}"><Break DMXBreak="1" DMXOffset="1"/></GeometryReference>
    <GeometryReference Name="c2" Geometry="Cell" Position="${IDENTITY_4}"><Break DMXBreak="1" DMXOffset="4"/></GeometryReference>
    <GeometryReference Name="c3" Geometry="Gone" Position="${IDENTITY_4}"/></Geometry>
    <Geometry Name="Cell" Position="${IDENTITY_4}"/>`;
  const onCell = (attribute: string, offset: string) =>
    channel(attribute, offset).replace('Geometry="Base"', 'Geometry="Cell"');

  test('cells that are referred to have the slots of their references', () => {
    const bytes = only(
      ['R', 'G', 'B'].map((c, i) => onCell(`ColorAdd_${c}`, String(i + 1))).join(''),
      cells,
    );
    expect(channelsOf(bytes)).toEqual([
      { attribute: 'ColorAdd_R', slots: [1], copies: [[4]] },
      { attribute: 'ColorAdd_G', slots: [2], copies: [[5]] },
      { attribute: 'ColorAdd_B', slots: [3], copies: [[6]] },
    ]);
    const slots = new Uint8Array(6);
    encodeFixture(compiled(bytes, 'm'), [100, 20, 0, 100], slots, 0);
    expect([...slots]).toEqual([255, 51, 0, 255, 51, 0]);
    expect(remarks(bytes).join()).toMatch(/refers to a geometry that is not there/);
  });

  test('a geometry that holds itself ends', () => {
    const loop = `<Geometry Name="Base"><GeometryReference Name="again" Geometry="Base"/></Geometry>`;
    expect(remarks(only(channel('Dimmer', '1'), loop)).join()).toMatch(/lies too deep/);
  });

  test('a tilt axis beside the pan axis, and a beam that leaves askew, are told', () => {
    const bytes = headGdtf({
      head: '{1,0,0,0.05}{0,1,0,0}{0,0,1,-0.2}{0,0,0,1}',
      beam: '{1,0,0,0}{0,0,-1,0}{0,1,0,0}{0,0,0,1}',
    });
    const text = remarks(bytes).join('\n');
    expect(text).toMatch(/axes pass 0.050 m apart/);
    expect(text).toMatch(/beam does not leave along the pan axis/);
  });

  test('what the file does not say of its beam is not made up', () => {
    expect(
      imported(headGdtf({ beamAttributes: '' })).profiles['test-head']?.optics,
    ).toBeUndefined();
  });
});

describe('files that are none', () => {
  const fault = (bytes: Uint8Array) => {
    const result = importArchive(bytes, 'x.gdtf');
    return result.ok ? undefined : result.fault;
  };
  test.each([
    ['without a description', zip({ 'other.xml': '<a/>' }), /neither an MVR nor a GDTF/],
    ['with broken XML', zip({ 'description.xml': '<GDTF>' }), /description.xml: it is no XML/],
    ['of another kind', zip({ 'description.xml': '<X/>' }), /should be one <GDTF>/],
    ['without a fixture', zip({ 'description.xml': '<GDTF/>' }), /no FixtureType/],
    ['without modes', zip({ 'description.xml': headXml({ modes: '' }) }), /no DMXMode/],
    ['whose modes are empty', headGdtf({ modes: mode('') }), /none of its modes/],
    [
      'with an entity in it',
      zip({
        'description.xml': headXml().replace('<GDTF', '<!DOCTYPE GDTF [<!ENTITY x "y">]><GDTF'),
      }),
      /DOCTYPE/,
    ],
  ])('%s', (_, bytes, why) => {
    expect(fault(bytes)).toMatch(why);
  });
});

test('all modes of a file are imported, each under a name of its own', () => {
  const bytes = headGdtf({
    modes:
      mode(channel('Dimmer', '1'), 'Basic!') +
      mode(channel('Dimmer', '1,2'), 'basic') +
      mode('', 'none'),
  });
  const { profiles, remarks: found } = imported(bytes);
  expect(Object.keys(profiles['test-head']?.modes ?? {})).toEqual(['basic', 'basic-2']);
  expect(found).toMatchObject([{ kind: 'left-out', what: 'none of its channels can be used' }]);
  expect(findingsIn(showOf(imported(bytes)))).toEqual([]);
});
