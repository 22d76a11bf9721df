import fc from 'fast-check';
import { expect, test } from 'vitest';
import { encodeFixture } from '../../src/fixtures/encode.js';
import { compileProfile } from '../../src/fixtures/profile.js';
import { importArchive } from '../../src/interchange/import.js';
import { profileText, showOf } from '../../src/interchange/show-text.js';
import { findingsIn, parseProfile } from '../../src/show/parse.js';
import { profilesOf } from '../../src/show/resolve/profiles.js';
import { ShowFileSchema } from '../../src/show/schema/schema.js';
import { headGdtf } from './make.js';

const SEED = 20260113;

const dmx = fc
  .tuple(fc.integer({ min: 1, max: 3 }), fc.boolean(), fc.double({ min: 0, max: 1, noNaN: true }))
  .map(
    ([bytes, shifted, share]) =>
      `${Math.floor(share * (256 ** bytes - 1))}/${bytes}${shifted ? 's' : ''}`,
  );
const physical = fc.oneof(
  fc.constantFrom('0', '1', '-270', '270', '0.5', '6500', 'NaN', '', '1e300', '-1e-300'),
  fc.double({ min: -1000, max: 1000, noNaN: true }).map(String),
);
const text = fc.constantFrom(
  'Open',
  'Closed',
  '',
  'Strobe 1',
  'a b',
  '1',
  'Größe',
  '&#x1F4A1;',
  'open',
);
const set = fc.record({ name: text, from: dmx });
const attribute = fc.constantFrom(
  'Dimmer', 'Pan', 'Tilt', 'Zoom', 'Shutter1', 'Gobo1', 'ColorAdd_R', 'ColorAdd_G', 'CTO', 'Iris', 'Made9',
); // biome-ignore format: a list
const oneFunction = fc.record({
  name: text,
  attribute: fc.option(attribute, { nil: undefined }),
  from: dmx,
  byDefault: dmx,
  low: physical,
  high: physical,
  fade: physical,
  sets: fc.array(set, { maxLength: 4 }),
});
const channel = fc.record({
  attribute,
  offset: fc.oneof(
    fc
      .array(fc.integer({ min: 1, max: 40 }), { minLength: 1, maxLength: 4 })
      .map(list => list.join(',')),
    fc.constantFrom('None', '', '0', '1,x', '513'),
  ),
  snap: fc.constantFrom('Yes', 'No', ''),
  highlight: fc.oneof(dmx, fc.constant('None')),
  initial: text,
  functions: fc.array(oneFunction, { maxLength: 4 }),
});

test('whatever a GDTF file says of its channels, what is imported passes the check, and sends its defaults', () => {
  fc.assert(
    fc.property(fc.array(channel, { minLength: 1, maxLength: 6 }), channels => {
      const xml = channels
        .map(
          one =>
            `<DMXChannel DMXBreak="1" Offset="${one.offset}" Highlight="${one.highlight}" Geometry="Head" InitialFunction="x.y.${one.initial}"><LogicalChannel Attribute="${one.attribute}" Snap="${one.snap}">${one.functions
              .map(
                f =>
                  `<ChannelFunction Name="${f.name}" Attribute="${f.attribute ?? one.attribute}" DMXFrom="${f.from}" Default="${f.byDefault}" PhysicalFrom="${f.low}" PhysicalTo="${f.high}" RealFade="${f.fade}">${f.sets
                    .map(s => `<ChannelSet Name="${s.name}" DMXFrom="${s.from}"/>`)
                    .join('')}</ChannelFunction>`,
              )
              .join('')}</LogicalChannel></DMXChannel>`,
        )
        .join('');
      const modes = `<DMXMode Name="M" Geometry="Base"><DMXChannels>${xml}</DMXChannels></DMXMode>`;
      const result = importArchive(headGdtf({ modes }), 'any.gdtf');
      if (!result.ok) {
        expect(result.fault).toBe('none of its modes can be used');
        return;
      }
      expect(findingsIn(showOf(result))).toEqual([]);
      const draft = result.profiles['test-head'];
      if (draft === undefined) throw new Error('no profile');
      expect(parseProfile(profileText(draft, 'any.gdtf'), 'x')).toMatchObject({ ok: true });
      const options = profilesOf(ShowFileSchema.parse(showOf(result)))
        .get('test-head')
        ?.get('m');
      if (options === undefined) throw new Error('no mode');
      const profile = compileProfile(options);
      const slots = new Uint8Array(profile.footprint);
      encodeFixture(
        profile,
        profile.channels.map(one => one.default),
        slots,
        0,
      );
      for (const one of profile.channels) {
        expect(one.defaultRaw).toBeGreaterThanOrEqual(one.leastRaw);
        expect(one.defaultRaw).toBeLessThanOrEqual(one.mostRaw);
      }
    }),
    { seed: SEED, numRuns: 120 },
  );
});
