import type { DeskInputPlan, Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { type Check, pass, warn } from './check.js';
import type { NetworkFacts } from './facts.js';
import type { Source } from './sources.js';
import type { OurSelves } from './universe-checks.js';

/** Whether the universes of the desk were heard, and from whom. */
export function checkDesk(show: Show, facts: NetworkFacts, our: OurSelves): Check[] {
  return show.desk.map(input => {
    const sources = [...facts.sources.values()].filter(
      source =>
        source.protocol === input.protocol &&
        source.universes.has(input.universe) &&
        source.name !== our.name &&
        source.name !== our.standbyName,
    );
    return judge(input, sources, facts.seconds);
  });
}

function judge(input: DeskInputPlan, sources: readonly Source[], seconds: number): Check {
  const { protocol, universe } = input;
  const name = `desk ${input.name}`;
  const called = protocol === 'sacn' ? 'sACN' : 'Art-Net';
  if (sources.length === 0) {
    return warn(
      'sources',
      name,
      `${called} universe ${universe} was not heard on ${input.interface} in ${seconds} s.`,
      protocol === 'sacn'
        ? 'Is the desk on, and does it send this universe, by multicast or to our address, on this network? A switch with IGMP snooping needs a querier.'
        : 'Is the desk on, and does it send this Port-Address on this network? A desk that sends only to nodes that answer its polls finds this machine only while the show runs.',
    );
  }
  const who = sources.map(one => whoIs(one, universe));
  const what = `${called} universe ${universe} is heard from ${enumerated(who)}.`;
  if (sources.length === 1) return pass('sources', name, what);
  const priorities = sources.map(one => one.universes.get(universe) ?? 0);
  const highest = Math.max(...priorities);
  if (protocol === 'sacn' && priorities.filter(one => one === highest).length === 1) {
    return pass('sources', name, `${what} The highest priority counts.`);
  }
  return warn(
    'sources',
    name,
    `${what} The highest level of each slot counts.`,
    protocol === 'sacn'
      ? 'Give the higher priority to the desk that should win, or stop the other one.'
      : 'Stop all but one: of more than two the third is ignored.',
  );
}

function whoIs({ name, address, universes }: Source, universe: number): string {
  const priority = universes.get(universe);
  const who = name === address ? address : `"${name}" at ${address}`;
  return priority === undefined ? who : `${who} (priority ${priority})`;
}
