import type { ChannelOptions, ProfileOptions } from '../../fixtures/profile.js';

/** Kinds of fixture that need no definition in a show file. A profile of the same name replaces one. */
export const BUILTIN_PROFILES: readonly ProfileOptions[] = [
  { name: 'dimmer', channels: [percent('Dimmer', 0, 0)] },
  {
    name: 'rgb',
    channels: [
      percent('Dimmer', 0, 0),
      percent('ColorAdd_R', 1, 100),
      percent('ColorAdd_G', 2, 100),
      percent('ColorAdd_B', 3, 100),
    ],
  },
  {
    name: 'moving-head',
    // 540 and 270 degrees are the commonest travels of real heads (standards say nothing of it).
    channels: [
      { attribute: 'Pan', bits: 16, offsets: [0, 1], from: -270, to: 270, default: 0 },
      { attribute: 'Tilt', bits: 16, offsets: [2, 3], from: -135, to: 135, default: 0 },
      { attribute: 'Dimmer', bits: 16, offsets: [4, 5], from: 0, to: 100, default: 0 },
      { attribute: 'Zoom', bits: 8, offsets: [6], from: 10, to: 45, default: 20 },
    ],
  },
];

/** Profile of an unpatched fixture whose slots nobody knows yet. No other fixture may have it. */
export const PLACEHOLDER = 'placeholder';

function percent(
  attribute: ChannelOptions['attribute'],
  offset: number,
  byDefault: number,
): ChannelOptions {
  return { attribute, bits: 8, offsets: [offset], from: 0, to: 100, default: byDefault };
}
