import type { Show } from '../show/model/model.js';
import type { Check } from './check.js';
import { warn } from './check.js';
import { checkDesk } from './desk-checks.js';
import type { NetworkFacts } from './facts.js';
import { checkFeeds } from './feed-checks.js';
import { checkInterfaces } from './interface-checks.js';
import { checkPositions } from './position-checks.js';
import { checkNodes, checkSources, checkUniverses, type OurSelves } from './universe-checks.js';

/** All that can be said of the two networks of a show from what was seen and heard. */
/** @param known trackers that are there for another purpose, such as on floor markers */
export function checkNetworks(
  show: Show,
  facts: NetworkFacts,
  our: OurSelves,
  known: readonly string[] = [],
): Check[] {
  return [
    ...checkInterfaces(show, facts),
    ...facts.deaf.map(what =>
      warn('networks', 'listening', what, 'Close the other program for this check.'),
    ),
    ...checkUniverses(show),
    ...checkSources(show, facts, our),
    ...checkDesk(show, facts, our),
    ...checkNodes(show, facts),
    ...checkFeeds(show, facts, known),
    ...checkPositions(show, facts),
  ];
}
