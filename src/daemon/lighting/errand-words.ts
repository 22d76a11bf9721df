import type { Errand } from './events.js';

/** What it means that it can't be sent. */
export const ERRAND_WORDS: Readonly<Record<Errand, string>> = {
  ArtPoll: 'Art-Net nodes that the show does not list are not found',
  ArtPollReply: 'Other controllers do not see this one',
  'Universe Discovery': 'Others do not see which sACN universes are sent',
};
