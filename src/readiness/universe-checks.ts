import type { OutputPlan, Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { type Check, fail, pass, unknown, warn } from './check.js';
import type { NetworkFacts, NodeFact } from './facts.js';
import type { Source } from './sources.js';

/** Who we are on the lighting network, so that we know ourselves, and the other machine of a pair. */
export interface OurSelves {
  /** Addresses of this machine. */
  readonly addresses: readonly string[];
  /** Source name of the show on this machine. */
  readonly name: string;
  readonly standbyName: string;
  /** Whether a source may be that machine with a show of another name: renamed on one before the other. */
  mayBeStandby(name: string): boolean;
}

/** The second machine of our show; `other`: by another name of the show. */
export function standbyIs(source: Source, our: OurSelves): 'ours' | 'other' | undefined {
  if (source.name === our.standbyName) return 'ours';
  return source.protocol === 'sacn' && our.mayBeStandby(source.name) ? 'other' : undefined;
}

/** Universes against outputs and fixtures. */
export function checkUniverses(show: Show): Check[] {
  return show.outputs.map(output => {
    const name = `output ${output.name}`;
    const list = output.universes.map(({ index, onWire }) => {
      const fixtures = show.fixtures.filter(one => one.universe === index).length;
      return { universe: show.universes[index] ?? 0, onWire, fixtures };
    });
    const words = list.map(
      ({ universe, onWire, fixtures }) =>
        `${universe}${universe === onWire ? '' : ` as ${onWire}`} (${fixtures} ${fixtures === 1 ? 'fixture' : 'fixtures'})`,
    );
    const to = output.to === 'multicast' ? 'multicast' : enumerated(output.to, 4);
    const what = `${output.protocol} ${enumerated(words)} to ${to}, ${output.rateHz} a second${output.protocol === 'sacn' ? `, priority ${output.priority}` : ''}.`;
    const empty = list.filter(({ fixtures }) => fixtures === 0).map(one => String(one.universe));
    if (empty.length === 0) return pass('universes', name, what);
    return warn(
      'universes',
      name,
      `${what} Nothing is patched to ${enumerated(empty)}: whole universes of zeros are sent.`,
      'Take it out of `universes`, unless you want zeros to be sent.',
    );
  });
}

/** Who else sends on our universes, and who wins. */
export function checkSources(show: Show, facts: NetworkFacts, our: OurSelves): Check[] {
  const checks: Check[] = [];
  for (const source of facts.sources.values()) {
    for (const output of show.outputs) {
      if (output.protocol !== source.protocol) continue;
      const shared = output.universes
        .map(one => one.onWire)
        .filter(one => source.universes.has(one) || source.announced.has(one));
      if (shared.length > 0) checks.push(judge(source, output, shared, our));
    }
  }
  const elsewhere = [...facts.sources.values()].filter(
    source => !checks.some(one => one.name === nameOf(source)),
  );
  if (checks.length === 0) {
    const others =
      elsewhere.length === 0
        ? ''
        : ` On other universes: ${enumerated(elsewhere.map(source => `${nameOf(source)} (${source.address})`))}.`;
    checks.push(
      pass(
        'sources',
        'our universes',
        `nobody else was heard on them in ${facts.seconds} s; what is sent straight to a gateway's address can't be heard from here.${others}`,
      ),
    );
  }
  return checks;
}

function nameOf({ name, address }: Source): string {
  return name === '' ? address : name;
}

function judge(
  source: Source,
  output: OutputPlan,
  shared: readonly number[],
  our: OurSelves,
): Check {
  const name = nameOf(source);
  const universes = `${shared.length === 1 ? 'universe' : 'universes'} ${enumerated(shared.map(String))}`;
  const heard = shared.filter(one => source.universes.has(one));
  if (source.name === our.name && our.addresses.includes(source.address)) {
    return pass('sources', name, `this show itself, running at ${source.address}: ${universes}.`);
  }
  const standby = standbyIs(source, our);
  if (standby !== undefined) {
    const priority = Math.max(...heard.map(one => source.universes.get(one) ?? 0));
    if (output.protocol === 'sacn' && heard.length > 0 && priority >= output.priority) {
      return fail(
        'sources',
        name,
        `the standby at ${source.address} sends ${universes} at priority ${priority}, which is not below our ${output.priority}.`,
        'Both machines need the same show file; start the second with `run --standby`.',
      );
    }
    if (standby === 'ours') {
      return pass('sources', name, `the standby at ${source.address}: ${universes}.`);
    }
    return warn(
      'sources',
      name,
      `the standby at ${source.address} runs a show of another name: ${universes}.`,
      'Load the same show file on both machines.',
    );
  }
  if (heard.length === 0) {
    return warn(
      'sources',
      name,
      `says that it sends ${universes} (${source.address}), to where we can't hear it.`,
      'Find out whose it is, and give it or us other universes.',
    );
  }
  if (output.protocol === 'artnet') {
    if (our.addresses.includes(source.address)) {
      return warn(
        'sources',
        name,
        `this machine itself sends Art-Net ${universes}.`,
        'That is right if it is the running show; otherwise find the program.',
      );
    }
    // Gateways don't send levels: of those that we send to, only the other machine does.
    if (output.to.includes(source.address)) {
      return pass(
        'sources',
        name,
        `the other machine of the pair, at ${source.address}: ${universes}.`,
      );
    }
    return fail(
      'sources',
      name,
      `sends Art-Net ${universes} as we do: a node merges two senders, and ignores a third.`,
      'Stop it, or give one of the two other Port-Addresses.',
    );
  }
  const priorities = heard.map(one => source.universes.get(one) ?? 0);
  const highest = Math.max(...priorities);
  const what = `sends ${universes} from ${source.address} at priority ${highest}, we at ${output.priority}`;
  if (highest > output.priority) {
    return fail(
      'sources',
      name,
      `${what}: receivers take it and ignore us.`,
      'Agree with the desk operator: lower its priority, raise ours, or use separate universes.',
    );
  }
  if (highest === output.priority) {
    return warn(
      'sources',
      name,
      `${what}: most receivers merge the two, the highest level of each slot; pan and tilt then fight.`,
      'Use separate universes, or give one of the two a lower priority.',
    );
  }
  return pass('sources', name, `${what}: it is heard only when we stop.`);
}

/** Which nodes answer, and whether they put out what we send. */
export function checkNodes(show: Show, facts: NetworkFacts): Check[] {
  const asked = new Set(facts.polled);
  const checks: Check[] = [];
  for (const output of show.outputs) {
    if (output.protocol !== 'artnet') continue;
    const name = `output ${output.name}`;
    if (!asked.has(output.interface)) {
      checks.push(
        unknown('nodes', name, `not asked on ${output.interface} (see \`poll\` of the output).`),
      );
      continue;
    }
    for (const ip of output.to) checks.push(nodeCheck(facts.nodes, output, ip));
  }
  const wanted = new Set(show.outputs.flatMap(one => (one.to === 'multicast' ? [] : one.to)));
  const others = facts.nodes.filter(one => !wanted.has(one.ip));
  if (others.length > 0) {
    const ours = new Set(
      show.outputs
        .filter(one => one.protocol === 'artnet' && asked.has(one.interface))
        .flatMap(({ universes }) => universes.map(({ onWire }) => onWire)),
    );
    // Each says what it puts out; Art-Net 4 sends levels to all who put them out.
    const words = others.map(({ name, ip, outputs }) => {
      const gets = outputs.filter(one => ours.has(one));
      return gets.length === 0
        ? `${name} (${ip}) answers too, outputs none of our universes, and gets nothing from us`
        : `${name} (${ip}) answers too, and gets Port-Address ${enumerated(gets.map(String))} from us, as it puts that out`;
    });
    checks.push(pass('nodes', 'others', `${words.join('; ')}.`));
  }
  return checks;
}

function nodeCheck(nodes: readonly NodeFact[], output: OutputPlan, ip: string): Check {
  const name = `node ${ip}`;
  const answers = nodes.filter(one => one.ip === ip);
  const first = answers[0];
  if (first === undefined) {
    return warn(
      'nodes',
      name,
      `does not answer; output ${output.name} sends to it.`,
      'Check its power, its cable and its address. A few old nodes never answer.',
    );
  }
  const puts = new Set(answers.flatMap(one => one.outputs));
  const missing = output.universes.map(one => one.onWire).filter(one => !puts.has(one));
  if (missing.length > 0) {
    return warn(
      'nodes',
      name,
      `${first.name} does not put out Port-Address ${enumerated(missing.map(String))}, which we send it; it puts out ${enumerated([...puts].map(String))}.`,
      'Set the ports of the node, or `offset` of the output: some count universes from 0, some from 1.',
    );
  }
  return pass('nodes', name, `${first.name} answers and puts out what we send it.`);
}
