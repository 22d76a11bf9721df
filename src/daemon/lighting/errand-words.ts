import type { Errand } from './events.js';

/** What it means that it can't be sent. */
export const ERRAND_WORDS: Readonly<Record<Errand, string>> = {
  ArtPoll: 'Art-Net nodes that the show does not list are not found',
  ArtPollReply: 'Other controllers do not see this one',
  ArtSync: 'Nodes put out each universe as it comes, after 4 s',
  'E1.31 synchronization': 'Receivers take each universe as it comes, after 2.5 s',
  'Per-address priority': 'Receivers take the priority of the universe for all of its slots',
  'Universe Discovery': 'Others do not see which sACN universes are sent',
};
