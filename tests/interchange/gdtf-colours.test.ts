import { expect, test } from 'vitest';
import { importArchive } from '../../src/interchange/import.js';
import { profileText, showOf } from '../../src/interchange/show-text.js';
import { findingsIn, parseProfile } from '../../src/show/parse.js';
import { headXml, zip } from './make.js';

/*
 * Emitters, filters and wheels as DIN SPEC 15800:2022-02 has them: PhysicalDescriptions/Emitters/Emitter Color (CIE xyY),
 * ChannelFunction Emitter, Filter and Wheel, Wheels/Wheel/Slot Color, ChannelSet WheelSlotIndex from 1.
 */

const channel = (offset: number, attribute: string, rest: string, sets = '') =>
  `<DMXChannel DMXBreak="1" Offset="${offset}" Geometry="Base"><LogicalChannel Attribute="${attribute}"><ChannelFunction Name="f" Attribute="${attribute}" DMXFrom="0/1" PhysicalFrom="0" PhysicalTo="1" ${rest}>${sets}</ChannelFunction></LogicalChannel></DMXChannel>`;

function profile(channels: string, beam = '') {
  const described = `<Wheels><Wheel Name="Glass"><Slot Name="Open" Color="0.3127,0.3290,100"/><Slot Name="Rose" Color="0.45,0.27,20"/><Slot Name="Card"/></Wheel></Wheels>
<PhysicalDescriptions>
  <Emitters><Emitter Name="Red LED" Color="0.69, 0.306, 20.5"/><Emitter Name="Dark" Color="0.17,0.01,0"/><Emitter Name="Odd" Color="2,0.3,7"/></Emitters>
  <Filters><Filter Name="Cyan flag" Color="0.2,0.29,60"/></Filters>
</PhysicalDescriptions>`;
  const xml = headXml({
    modes: `<DMXMode Name="one" Geometry="Base"><DMXChannels>${channels}</DMXChannels></DMXMode>`,
    ...(beam === '' ? {} : { beamAttributes: beam }),
  }).replace('<Geometries>', `${described}<Geometries>`);
  const result = importArchive(zip({ 'description.xml': xml }), 'lamp.gdtf');
  if (!result.ok) throw new Error(result.fault);
  expect(findingsIn(showOf(result))).toEqual([]);
  const [draft] = Object.values(result.profiles);
  if (draft === undefined) throw new Error('no profile');
  expect(parseProfile(profileText(draft, 'lamp.gdtf'), 'a.profile.yaml')).toMatchObject({
    ok: true,
  });
  return { draft, channels: draft.modes.one?.channels ?? [] };
}

test('an emitter that the file states comes with its channel', () => {
  const { channels } = profile(
    channel(1, 'ColorAdd_R', 'Emitter="Red LED"') +
      channel(2, 'ColorAdd_G', 'Emitter="None there"'),
  );
  expect(channels[0]?.emitter).toEqual({ xy: [0.69, 0.306], luminance: 20.5 });
  expect(channels[1]).not.toHaveProperty('emitter');
});

test('what is no colour of a light, or gives none, is left out', () => {
  const { channels } = profile(
    channel(1, 'ColorAdd_UV', 'Emitter="Dark"') +
      channel(2, 'ColorAdd_B', 'Emitter="Odd"') +
      channel(3, 'Iris', 'Emitter="Red LED"'),
  );
  for (const one of channels) expect(one).not.toHaveProperty('emitter');
});

test('a filter, and the colour of the lamp behind it', () => {
  const { draft, channels } = profile(
    channel(1, 'ColorSub_C', 'Filter="Cyan flag"'),
    'ColorTemperature="7200"',
  );
  expect(channels[0]?.filter).toEqual({ xy: [0.2, 0.29], luminance: 60 });
  expect(draft.optics).toEqual({ colourTemperature: 7200 });
});

test('the places of a wheel of colours', () => {
  const sets =
    '<ChannelSet Name="Open" DMXFrom="0/1" WheelSlotIndex="1"/><ChannelSet Name="Rose" DMXFrom="10/1" WheelSlotIndex="2"/><ChannelSet Name="Card" DMXFrom="20/1" WheelSlotIndex="3"/><ChannelSet Name="Spin" DMXFrom="30/1"/>';
  const { channels } = profile(channel(1, 'Color1', 'Wheel="Glass"', sets));
  expect(channels[0]?.values).toEqual({
    open: { levels: [0, 9], xy: [0.3127, 0.329], luminance: 100 },
    rose: { levels: [10, 19], xy: [0.45, 0.27], luminance: 20 },
    card: [20, 29],
    spin: [30, 255],
  });
});
