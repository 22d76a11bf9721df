import { describe, expect, test } from 'vitest';
import { encodeFixture } from '../../src/fixtures/encode.js';
import { compileProfile } from '../../src/fixtures/profile.js';
import { type Imported, importArchive } from '../../src/interchange/import.js';
import { profileText, showOf } from '../../src/interchange/show-text.js';
import { findingsIn, parseProfile } from '../../src/show/parse.js';
import { profilesOf } from '../../src/show/resolve/profiles.js';
import { ShowFileSchema } from '../../src/show/schema/schema.js';
import { headGdtf } from './make.js';

function imported(channels: string, geometries?: string): Imported {
  const modes = `<DMXMode Name="M" Geometry="Base"><DMXChannels>${channels}</DMXChannels></DMXMode>`;
  const bytes = headGdtf({ modes, ...(geometries === undefined ? {} : { geometries }) });
  const result = importArchive(bytes, 'head.gdtf');
  if (!result.ok) throw new Error(result.fault);
  expect(findingsIn(showOf(result))).toEqual([]);
  return result;
}
const channelsIn = (result: Imported, mode = 'm') =>
  result.profiles['test-head']?.modes[mode]?.channels;
const said = ({ remarks }: Imported) => remarks.map(({ kind, what }) => `${kind}: ${what}`);

const fn = (attribute: string, from: string, more = '') =>
  `<ChannelFunction Name="${attribute} f" Attribute="${attribute}" DMXFrom="${from}" ${more}/>`;
const PAN = fn('Pan', '0/1', 'Default="128/1s" PhysicalFrom="-270" PhysicalTo="270"');
const logical = (attribute: string, inside: string) =>
  `<LogicalChannel Attribute="${attribute}">${inside}</LogicalChannel>`;
const channel = (inside: string, more = 'Offset="1,2"') =>
  `<DMXChannel Geometry="Base" ${more}>${inside}</DMXChannel>`;

/**
 * DIN SPEC 15800, table 60: a function ends where the next one begins, less 1; logical channels of one DMX
 * channel are mutually exclusive. It does not say what holds where two begin at the same value.
 */
describe('functions that begin at the same value', () => {
  const pan = { attribute: 'Pan', bits: 16, slots: [1, 2], range: [-270, 270] };

  test.each([
    ['a NoFeature before it', logical('Pan', fn('NoFeature', '0/1') + PAN)],
    ['a NoFeature behind it', logical('Pan', PAN + fn('NoFeature', '0/1'))],
    [
      'a NoFeature as a logical channel of its own',
      logical('NoFeature', fn('NoFeature', '0/1')) + logical('Pan', PAN),
    ],
    [
      'a logical channel that is called NoFeature',
      logical('NoFeature', fn('NoFeature', '0/1') + PAN),
    ],
  ])('a Pan with %s is a Pan over the whole channel', (_, inside) => {
    const result = imported(channel(inside));
    // 128/1s is 0x8000, half a step off the middle.
    expect(channelsIn(result)).toEqual([{ ...pan, default: 0.00411993591 }]);
    expect(said(result)).toEqual([
      'note: its functions "Pan f" and "NoFeature f" begin at the same value; it is driven as the first',
    ]);
  });

  test('a Pan that depends on another channel, beside a NoFeature that does not', () => {
    const master = 'ModeMaster="Base_Control1" ModeFrom="0/1" ModeTo="9/1"';
    const inside = logical('Pan', fn('NoFeature', '0/1') + PAN.replace('/>', ` ${master}/>`));
    const result = imported(channel(inside));
    expect(channelsIn(result)).toMatchObject([pan]);
    expect(said(result)).toEqual([
      'note: 1 of its functions ("NoFeature f") are not Pan, which depends on another channel (ModeMaster "Base_Control1"); they are not used, and it is driven as if that channel let it',
    ]);
  });

  test('an initial function that is named gives the default, whatever it is', () => {
    const inside = logical('Pan', fn('NoFeature', '0/1', 'Default="64/1s"') + PAN);
    const named = channel(inside, 'Offset="1,2" InitialFunction="Base_Pan.Pan.NoFeature f"');
    expect(channelsIn(imported(named))?.[0]?.default).toBeCloseTo(
      -270 + (540 * 0x4000) / 0xffff,
      6,
    );
  });
});

/** The split of DIN SPEC 15800 between logical channels: a dimmer below, a strobe in hertz above. */
test('a dimmer and a strobe on one channel, the strobe with its hertz', () => {
  const dimmer = logical('Dimmer', fn('Dimmer', '0/1', 'PhysicalFrom="0" PhysicalTo="1"'));
  const strobe = logical(
    'Shutter1Strobe',
    fn('Shutter1Strobe', '140/1', 'PhysicalFrom="1" PhysicalTo="20"'),
  );
  const result = imported(channel(dimmer + strobe, 'Offset="1"'));
  expect(channelsIn(result)).toEqual([
    {
      attribute: 'Dimmer',
      slots: [1],
      levels: [0, 139],
      values: { 'shutter1strobe-f': { levels: [140, 255], range: [1, 20], unit: 'hertz' } },
      snap: false,
    },
  ]);
  expect(said(result)).toEqual([]);
  const draft = result.profiles['test-head'];
  if (draft === undefined) throw new Error('no profile');
  expect(parseProfile(profileText(draft, 'head.gdtf'), 'x')).toMatchObject({ ok: true });
});

test('the third wheel of its kind is a channel like the first', () => {
  const sets = '<ChannelSet Name="Open" DMXFrom="0/1"/><ChannelSet Name="Leaves" DMXFrom="64/1"/>';
  const wheel = fn('Gobo3', '0/1').replace('/>', `>${sets}</ChannelFunction>`);
  const result = imported(channel(logical('Gobo3', wheel), 'Offset="1"'));
  expect(channelsIn(result)).toMatchObject([
    { attribute: 'Gobo3', values: { open: [0, 63], leaves: [64, 255] } },
  ]);
  expect(said(result)).toEqual([]);
});

describe('DMX breaks', () => {
  const dimmer = logical('Dimmer', fn('Dimmer', '0/1'));
  const scroller = logical('Color1', fn('Color1', '0/1'));

  test('a dimmer with a scroller, as in the example of the standard, is two modes', () => {
    // The example for breaks that goes with DIN SPEC 15800: the dimmer has no DMXBreak, which is 1.
    const result = imported(
      channel(dimmer, 'Offset="1"') + channel(scroller, 'DMXBreak="2" Offset="1"'),
    );
    expect(channelsIn(result)).toEqual([{ attribute: 'Dimmer', slots: [1] }]);
    expect(channelsIn(result, 'm-break-2')).toMatchObject([{ attribute: 'Color1', slots: [1] }]);
    expect(said(result)).toEqual([
      'note: it has 2 DMX addresses (breaks); each is a mode of its own, for a fixture of its own: break 1 is "m", break 2 is "m-break-2"',
    ]);
  });

  test('four dimmers with scrollers on a bar, by references with two breaks each', () => {
    const bar = `<Geometry Name="Base">${[1, 2, 3, 4]
      .map(
        n =>
          `<GeometryReference Name="Head${n}" Geometry="Head"><Break DMXOffset="${n}"/><Break DMXBreak="2" DMXOffset="${n}"/></GeometryReference>`,
      )
      .join('')}</Geometry><Geometry Name="Head"/>`;
    const on = (inside: string, more: string) =>
      channel(inside, more).replace('Geometry="Base"', 'Geometry="Head"');
    const result = imported(
      on(dimmer, 'Offset="1"') + on(scroller, 'DMXBreak="2" Offset="1"'),
      bar,
    );
    const four = { slots: [1], copies: [[2], [3], [4]] };
    expect(channelsIn(result)).toEqual([{ attribute: 'Dimmer', ...four }]);
    expect(channelsIn(result, 'm-break-2')).toMatchObject([{ attribute: 'Color1', ...four }]);
  });

  test('a mode whose only channels are in its second break', () => {
    const result = imported(channel(dimmer, 'DMXBreak="2" Offset="1"'));
    expect(channelsIn(result)).toEqual([{ attribute: 'Dimmer', slots: [1] }]);
    expect(said(result)).toEqual([]);
  });

  test('a head whose pan and tilt have an address each is told', () => {
    const tilt = logical('Tilt', fn('Tilt', '0/1', 'PhysicalFrom="-135" PhysicalTo="135"'));
    const result = imported(
      channel(logical('Pan', PAN)) + channel(tilt, 'DMXBreak="2" Offset="1"'),
    );
    expect(said(result).join()).toMatch(/Pan and Tilt have DMX addresses of their own/);
  });
});

test('the limits of movement are those of the function that moves', () => {
  const pan = PAN.replace('/>', ' RealFade="3"/>');
  const result = imported(channel(logical('Pan', fn('NoFeature', '0/1') + pan)));
  expect(result.profiles['test-head']?.motion).toEqual({ pan: { speed: 180 } });
});

test('32 bits of pan: every byte is sent', () => {
  const result = imported(channel(logical('Pan', PAN), 'Offset="1,2,3,4"'));
  const options = profilesOf(ShowFileSchema.parse(showOf(result)))
    .get('test-head')
    ?.get('m');
  if (options === undefined) throw new Error('no mode');
  const slots = new Uint8Array(4);
  // 90 of 540 degrees above the middle: two thirds of 2^32 - 1 are 0xaaaaaaaa.
  encodeFixture(compileProfile(options), [90], slots, 0);
  expect([...slots]).toEqual([0xaa, 0xaa, 0xaa, 0xaa]);
});

describe('numbers that are none are errors, and nothing is made of half of them', () => {
  test.each(['NaN', 'Infinity', '1e999', 'wide'])('a physical end of %s', text => {
    const dimmer = channel(logical('Dimmer', fn('Dimmer', '0/1')), 'Offset="3"');
    const pan = PAN.replace('"-270"', `"${text}"`);
    const result = imported(channel(logical('Pan', pan)) + dimmer);
    expect(channelsIn(result)?.map(({ attribute }) => attribute)).toEqual(['Dimmer']);
    expect(said(result)).toEqual([
      `error: its PhysicalFrom "${text}" is no finite number; not used`,
      expect.stringMatching(/^left-out: it gives no angles/),
    ]);
  });

  test('a DMX value that is wider than its bytes', () => {
    const result = imported(channel(logical('Dimmer', fn('Dimmer', '300/1')), 'Offset="1"'));
    expect(channelsIn(result)).toEqual([{ attribute: 'Dimmer', slots: [1] }]);
    expect(said(result)).toEqual([
      'error: its DMXFrom "300/1" is no DMX value, such as 128/1; not used',
    ]);
  });

  test('the place of a yoke', () => {
    const bytes = headGdtf({ yoke: '{1,0,0,0}{0,1,0,0}{0,0,1,NaN}{0,0,0,1}' });
    const result = importArchive(bytes, 'head.gdtf');
    if (!result.ok) throw new Error(result.fault);
    expect(said(result)).toContainEqual(expect.stringMatching(/^error: its Position .*calibrate/));
  });
});
