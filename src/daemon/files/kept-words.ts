import type { KeptThing } from './kept-file.js';

export const KEPT_WORDS: Readonly<Record<KeptThing, string>> = {
  'accepted-show': 'the show',
  identity: 'the identity by which receivers know this machine',
  'last-look': 'the levels sent last',
};

/** What it means for the light. */
export const UNKEPT_WORDS: Readonly<Record<KeptThing, string>> = {
  'accepted-show': 'A restart over a broken show file would fail',
  identity: 'After a restart receivers may see another source',
  'last-look': 'A restart after a crash would jump to the safe look',
};
