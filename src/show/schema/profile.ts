import { z } from 'zod';
import { PLANCKIAN_KELVIN } from '../../colour/temperature.js';
import { PHYSICAL_UNITS } from '../../fixtures/attributes.js';
import { Label, Name, Range } from './parts.js';
import { HazardKey } from './safety.js';

const Angle = z.number().positive().max(180);

const MOST_LEVEL = 2 ** 32 - 1;
const Level = z.int().min(0).max(MOST_LEVEL);
const Levels = z.tuple([Level, Level]);
export const Chromaticity = z
  .tuple([z.number().min(0).max(0.8), z.number().min(0.001).max(0.9)])
  // Of one that is beyond its own bound that has been said.
  .refine(
    ([x, y]) => x > 0.8 || y > 0.9 || x + y <= 1,
    'x and y of a colour are 1 together at most',
  );
const Luminance = z.number().min(1e-6).max(1e9);
const PerCentOfOpen = z.number().positive().max(100);
const LevelsWithRange = z.strictObject({
  levels: Levels.meta({ description: 'First and last level.' }),
  range: Range.optional().meta({
    description: 'Physical values at the first and at the last level; the first may be the larger.',
  }),
  unit: z.enum(PHYSICAL_UNITS).optional().meta({ description: 'Unit of `range`.' }),
  xy: Chromaticity.optional().meta({
    description:
      'For a slot of a colour wheel: CIE 1931 x and y of the light. A `colour` uses the nearest one.',
  }),
  luminance: PerCentOfOpen.optional().meta({
    description: 'For a slot of a colour wheel: light output, per cent of that of the open wheel.',
  }),
});
/** A number in the unit of the channel, or the name of one of its values. */
export const ChannelValue = z.union([z.number(), Name]);

const Channel = z.strictObject({
  attribute: Name.meta({ description: 'GDTF attribute name: Dimmer, Pan, Tilt, ColorAdd_R ...' }),
  bits: z
    .union([z.literal(8), z.literal(16), z.literal(24), z.literal(32)])
    .default(8)
    .meta({ description: 'Width: 8, 16 (coarse and fine), 24 or 32, one slot for each 8.' }),
  slots: z.array(z.int().min(1).max(512)).min(1).max(4).optional().meta({
    description:
      'Which slots of the fixture, counted from 1, coarse first; by default those after the channel above.',
  }),
  copies: z
    .array(z.array(z.int().min(1).max(512)).min(1).max(4))
    .max(511)
    .optional()
    .meta({
      description:
        'Further slots with the same levels, each as in `slots`: the other cells of a batten that is driven as one.',
    }),
  range: Range.optional().meta({
    description:
      'Physical values at the lowest and the highest level, in `unit`. Default [0, 100]; required ' +
      'for units other than per cent. The first may be the larger: the channel is then inverted.',
  }),
  unit: z.enum(PHYSICAL_UNITS).optional().meta({
    description:
      'Unit of the physical values. By default degrees for Pan, Tilt and Zoom, and per cent for the rest.',
  }),
  levels: Levels.optional().meta({
    description:
      'Levels at which `range` begins and ends, if that is not the whole channel: `[8, 255]`; counted in the full ' +
      'width of the channel, 0 to 255, 65535, 16777215 or 4294967295.',
  }),
  values: z
    .record(Name, z.union([Level, Levels, LevelsWithRange]))
    .optional()
    .meta({
      description:
        'Names for levels, or for ranges `[first, last]` of them: `{ closed: [0, 9], open: [10, 19] }`. With ' +
        '`Shutter1: open` a look gets the middle of that range. A range may also have physical values: ' +
        '`{ levels: [32, 255], range: [1, 20], unit: hertz }`.',
    }),
  snap: z
    .boolean()
    .optional()
    .meta({
      description:
        'Jumps from value to value instead of fading, because levels in between mean something else. On by default ' +
        'for a channel with `values`.',
    }),
  default: ChannelValue.optional().meta({
    description:
      'Physical value, or one of `values`, while nothing else is asked. By default 0, or the nearest to it in ' +
      'the range; full for a colour of a fixture without a Dimmer, which gets a virtual one.',
  }),
  highlight: ChannelValue.optional().meta({
    description:
      'Physical value, or one of `values`, that shows the beam while somebody looks for it: open, full, white.',
  }),
  emitter: z
    .strictObject({
      xy: Chromaticity.meta({ description: 'CIE 1931 x and y.' }),
      luminance: Luminance.meta({
        description: 'At full, in any unit, but the same for all emitters of the profile.',
      }),
    })
    .optional()
    .meta({
      description:
        'For a ColorAdd_ or ColorRGB_ attribute: the light of this emitter alone at full, measured or as stated by the manufacturer. `colour` in a look is mixed from these values.',
    }),
  filter: z
    .strictObject({
      xy: Chromaticity.meta({ description: 'CIE 1931 x and y of the light.' }),
      luminance: PerCentOfOpen.meta({
        description: 'Light output, per cent of that without the filter.',
      }),
    })
    .optional()
    .meta({
      description:
        'For a ColorSub_ attribute: the light with this filter fully in and the others out.',
    }),
  hazard: HazardKey.optional(),
});

const Fixed = z.strictObject({
  slot: z.int().min(1).max(512).meta({ description: 'Which slot of the fixture, counted from 1.' }),
  level: z.int().min(0).max(255).meta({ description: 'Its fixed level, 0 to 255.' }),
});

const Optics = z
  .strictObject({
    beamAngle: Angle.optional().meta({
      description:
        'Full angle between the directions of half the peak intensity, degrees; for a fixture without Zoom.',
    }),
    fieldAngle: Angle.optional().meta({
      description: 'Full angle between the directions of a tenth of the peak intensity, degrees.',
    }),
    luminousFlux: z.number().positive().max(1e7).optional().meta({
      description: 'Luminous flux of the whole beam at full, lumens.',
    }),
    beamRadius: z.number().min(0).max(10).optional().meta({
      description: 'Radius of the beam where it leaves the fixture, metres.',
    }),
    colourTemperature: z
      .number()
      .min(PLANCKIAN_KELVIN.least)
      .max(PLANCKIAN_KELVIN.most)
      .optional()
      .meta({ description: 'Correlated colour temperature of the open lamp, kelvin.' }),
  })
  .meta({ description: 'The light of the fixture, as stated by the manufacturer.' });

/** Far beyond what any head does: nearer to 0 the times of a movement are beyond all numbers. */
export const SPEED = { least: 0.001, most: 1e5 } as const;
export const ACCELERATION = { least: 0.001, most: 1e7 } as const;

const Limit = z.strictObject({
  speed: z.number().min(SPEED.least).max(SPEED.most).meta({
    description: 'Highest speed, in the unit of the attribute per second (degrees/s).',
  }),
  acceleration: z.number().min(ACCELERATION.least).max(ACCELERATION.most).optional().meta({
    description:
      'Highest acceleration, per second squared (degrees/s2); by default it reaches its speed at once.',
  }),
});

const Motion = z
  .strictObject({
    pan: Limit.optional().meta({ description: 'Limits of Pan.' }),
    tilt: Limit.optional().meta({ description: 'Limits of Tilt.' }),
    zoom: Limit.optional().meta({ description: 'Limits of Zoom.' }),
    iris: Limit.optional().meta({ description: 'Limits of Iris.' }),
    focus: Limit.optional().meta({ description: 'Limits of Focus1.' }),
  })
  .meta({ description: 'How fast it can move, measured or as stated by the manufacturer.' });

const profileCommon = {
  label: Label.optional(),
  hazard: HazardKey.optional(),
  optics: Optics.optional(),
  motion: Motion.optional(),
};

const modeKeys = {
  channels: z.array(Channel).min(1).max(512).meta({
    description: 'What its slots do, in order.',
  }),
  fixed: z.array(Fixed).max(512).default([]).meta({
    description: 'Fixed levels of slots that no channel drives; by default 0.',
  }),
};

const Mode = z.strictObject(modeKeys);

const SingleProfile = z
  .strictObject({ ...profileCommon, ...modeKeys })
  .meta({ title: 'profile of one mode' });

const ModesProfile = z
  .strictObject({
    ...profileCommon,
    modes: z.record(Name, Mode).meta({
      description: 'Its modes, by name; `mode` of a fixture says which is set.',
    }),
  })
  .meta({ title: 'profile of several modes' });

/** One kind of fixture, as it stands in a show. */
const Profile = z.union([SingleProfile, ModesProfile]);

const ProfileReference = z
  .strictObject({
    file: z.string().min(1).max(1024).meta({
      description: 'Path of a profile file, relative to the folder of the show file.',
    }),
  })
  .meta({ title: 'profile in a file of its own' });

/** What stands under a name in `profiles`. */
export const ProfileEntry = z.union([SingleProfile, ModesProfile, ProfileReference]);

export const PROFILE_FORMAT_VERSION = 1;

const version = z.literal(PROFILE_FORMAT_VERSION).meta({
  description: 'Version of this file format; tells a profile from a show.',
});

/** A profile file as a whole: for editors, and for the reference. */
export const ProfileFileSchema = z
  .union([SingleProfile.extend({ profile: version }), ModesProfile.extend({ profile: version })])
  .meta({ title: 'lampwright profile file' });

export type ProfileFile = z.output<typeof Profile>;
export type ModeFile = z.output<typeof Mode>;
export type ChannelFile = z.output<typeof Channel>;
