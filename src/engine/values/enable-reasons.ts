/** Why a hazardous output is off, or latched off while its enable is held. */
export const ENABLE_REASONS = [
  'released',
  'not-repeated',
  'hand-gone',
  'engine-started',
  'engine-stalled',
  'everybody-stopped',
  'desk-lost',
  'safe-look',
  'feed-silent',
  'nobody-tracked',
] as const;
export type EnableReason = (typeof ENABLE_REASONS)[number];

/** Why hazardous outputs are off, one or several, and when pressing again will help. */
export const ENABLE_WORDS: Readonly<Record<EnableReason, string>> = {
  released: 'the enable was released',
  'not-repeated': 'the enable is not held',
  'hand-gone': 'whoever held the enable is no longer heard',
  'engine-started': 'the enable was held already when the engine started. Release, and press again',
  'engine-stalled': 'the engine stood still. Release, and press again',
  'everybody-stopped':
    'everybody is stopped. Release, and press again once everybody has been resumed',
  'desk-lost': 'nothing is heard from the desk. Release, and press again once it is back',
  'safe-look':
    'all light is at the safe look. Release, and press again once the engine has the light',
  'feed-silent': 'tracking is silent. Release, and press again once it is back',
  'nobody-tracked': 'no performer who drives this is live. Release, and press again once one is',
};
