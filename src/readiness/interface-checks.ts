import { multicastGroup } from '../protocols/sacn/multicast.js';
import { addressesOf, isMulticast } from '../show/model/destinations.js';
import type { InputPlan, OutputPlan, Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { ipv4, isIn, type Network, networkText, overlap } from '../stage/ipv4.js';
import { type Check, fail, pass, unknown, warn } from './check.js';
import type { InterfaceFact, NetworkFacts } from './facts.js';
import { routeTo } from './routing.js';

const LOOPBACK: Network = { address: 0x7f000000, mask: 0xff000000 };
/** What can be seen of a machine's networks without listening to them. */
type Seen = Pick<NetworkFacts, 'interfaces' | 'routes' | 'down'>;
/** Listening to every interface. */
const ANY = '0.0.0.0';

/** The interfaces of the show, whether tracking and light are apart, and where levels go. */
export function checkInterfaces(show: Show, facts: Seen): Check[] {
  return [
    ...show.inputs.map(input => heardBy(facts, input, isOfPair(show))),
    ...show.outputs.map(output =>
      present(facts, `output ${output.name}`, output.interface, 'interface'),
    ),
    ...show.desk.map(input => present(facts, `desk ${input.name}`, input.interface, 'interface')),
    ...told(show).map(({ name, interface: wanted }) =>
      present(facts, `receiver ${name}`, wanted, 'interface'),
    ),
    apart(show, facts),
    ranges(show, facts),
    ...show.outputs.flatMap(output => destinations(facts, output)),
    ...multicast(show, facts),
    ...groupsOf(show).flatMap(one => withoutMulticast(facts, one)),
  ];
}

/** Receivers that something is sent to. */
function told({ receivers, positions, actions }: Show): Show['receivers'] {
  const named = new Set([...positions, ...actions].map(one => one.receiver));
  return receivers.filter(({ name }) => named.has(name));
}

/** The interface that an address or a name stands for; undefined where there is none. */
export function interfaceOf(facts: Seen, wanted: string): InterfaceFact | undefined {
  const address = ipv4(wanted);
  if (address !== undefined && isIn(LOOPBACK, address)) {
    return facts.interfaces.find(one => one.loopback);
  }
  return facts.interfaces.find(one => one.name === wanted || one.address === wanted);
}

function networkOf({ address, netmask }: InterfaceFact): Network {
  return { address: ipv4(address) ?? 0, mask: ipv4(netmask) ?? 0xffffffff };
}

/** Both machines of a pair have one file, and each an address of its own. */
function isOfPair({ operator }: Show): boolean {
  return operator !== undefined && operator.main.length + operator.standby.length > 0;
}

/** @param ofPair no address of one machine may be asked for */
function heardBy(facts: Seen, { name, listen, psn, allow }: InputPlan, ofPair: boolean): Check {
  const key = psn === undefined ? 'listen' : 'interface';
  if (listen !== ANY) return present(facts, `input ${name}`, listen, key);
  if (allowed(allow) !== undefined && allow !== 'any') {
    const from = `takes only what comes from ${enumerated(allow)}`;
    return pass('networks', `input ${name}`, `listens on every interface, and ${from}.`);
  }
  const whom = 'Set `allow` to the addresses of those who send';
  return warn(
    'networks',
    `input ${name}`,
    'listens on every interface, and takes what anybody sends, on the lighting network too.',
    ofPair
      ? `${whom}: both machines of a pair have this file, so \`${key}\` stays as it is.`
      : `${whom}; or, if the file is not that of two machines, \`${key}\` to the address of the interface by which they send.`,
  );
}

/** Networks of those who may send; undefined: anybody may. */
function allowed(allow: InputPlan['allow']): readonly Network[] | undefined {
  if (allow === 'any') return undefined;
  const all = allow.map((entry): Network => {
    const [first = '', bits = '32'] = entry.split('/');
    const mask = bits === '0' ? 0 : (-1 << (32 - Number(bits))) >>> 0;
    return { address: ipv4(first) ?? 0, mask };
  });
  return all.some(({ mask }) => mask === 0) ? undefined : all;
}

function present(facts: Seen, name: string, wanted: string, key: string): Check {
  const found = interfaceOf(facts, wanted);
  if (found === undefined) {
    if (facts.down?.includes(wanted) === true) {
      return fail(
        'networks',
        name,
        `interface ${wanted} is there, but down.`,
        `Set it up (as root: ip link set ${wanted} up), and give it its address.`,
      );
    }
    const there = facts.interfaces.map(one => `${one.name} (${one.address})`);
    return fail(
      'networks',
      name,
      there.length === 0
        ? `this machine has no interface ${wanted}; it has no network interface that is up.`
        : `this machine has no interface ${wanted}; it has ${enumerated(there)}.`,
      `Plug in and set up the interface, or set \`${key}\` to one that is there.`,
    );
  }
  const where = `${found.name}, ${found.address}, network ${networkText(networkOf(found))}`;
  if (found.carrier === false) {
    return fail(
      'networks',
      name,
      `${where}: no link; the cable is out or the switch is off.`,
      'Follow the cable to the switch.',
    );
  }
  return pass('networks', name, `${where}.`);
}

function used(show: Show, facts: Seen) {
  const of = (wanted: readonly string[]) => {
    const found = wanted.map(one => interfaceOf(facts, one));
    return [...new Set(found.filter(one => one !== undefined))];
  };
  /** Of what listens to all: those on whose networks somebody may send. */
  const sentBy = ({ allow }: InputPlan) => {
    const senders = allowed(allow) ?? [];
    const isNear = (one: InterfaceFact) => senders.some(it => overlap(it, networkOf(one)));
    return facts.interfaces.filter(one => !one.loopback && isNear(one));
  };
  const positions = show.inputs.filter(one => one.carries === 'positions');
  const toAll = positions.filter(one => one.listen === ANY);
  return {
    // Orders come from a desk, which is at home on the lighting network.
    tracking: [...new Set([...of(positions.map(one => one.listen)), ...toAll.flatMap(sentBy)])],
    isOpen: toAll.some(one => allowed(one.allow) === undefined),
    lighting: of([...show.outputs, ...show.desk].map(one => one.interface)),
  };
}

function apart(show: Show, facts: Seen): Check {
  const name = 'two networks';
  const { tracking, lighting, isOpen } = used(show, facts);
  if (isOpen) {
    return unknown(
      'networks',
      name,
      'an input takes positions from anybody on every interface: whether tracking and light are apart is not known.',
    );
  }
  if (tracking.length === 0 || lighting.length === 0) {
    const none = [
      ...(tracking.length === 0 ? ['tracking'] : []),
      ...(lighting.length === 0 ? ['light'] : []),
    ];
    return unknown(
      'networks',
      name,
      `this machine has no interface of the show for ${enumerated(none)}: whether they are apart can't be seen.`,
    );
  }
  const shared = tracking.filter(one => lighting.includes(one));
  if (shared.some(one => one.loopback)) {
    return warn(
      'networks',
      name,
      'tracking and light are both on loopback: a rehearsal on one machine.',
      'For a theatre, set `listen` and `interface` to the addresses of two interfaces.',
    );
  }
  if (shared.length > 0) {
    return warn(
      'networks',
      name,
      `tracking and light share ${enumerated(shared.map(one => one.name))}.`,
      'Give each its own interface, switch and address range (common practice): a flood on one must not stop the other.',
    );
  }
  return pass('networks', name, 'tracking and light each have their own interface.');
}

function ranges(show: Show, facts: Seen): Check {
  const name = 'address ranges';
  const { tracking, lighting } = used(show, facts);
  const ours = new Set([...tracking, ...lighting]);
  const real = facts.interfaces.filter(one => !one.loopback);
  const pairs = real.flatMap((one, i) =>
    real
      .slice(i + 1)
      .filter(other => other.name !== one.name && overlap(networkOf(one), networkOf(other)))
      .map(other => ({ one, other, both: ours.has(one) && ours.has(other) })),
  );
  const words = pairs.map(
    ({ one, other }) =>
      `${one.name} (${networkText(networkOf(one))}) and ${other.name} (${networkText(networkOf(other))})`,
  );
  const act =
    'Give them ranges that have no address in common, such as 10.1.0.0/16 and 10.2.0.0/16: the system may reply through the wrong one.';
  if (pairs.some(({ both }) => both)) {
    return fail('networks', name, `overlap: ${enumerated(words)}.`, act);
  }
  if (pairs.length > 0) {
    return warn('networks', name, `overlap: ${enumerated(words)}.`, act);
  }
  return pass('networks', name, 'no two interfaces have a range in common.');
}

function destinations(facts: Seen, output: OutputPlan): Check[] {
  const name = `output ${output.name}`;
  const found = interfaceOf(facts, output.interface);
  const addresses = addressesOf(output);
  if (found === undefined || addresses.length === 0) return [];
  const network = found.loopback ? LOOPBACK : networkOf(found);
  const outside = addresses.filter(to => !isIn(network, ipv4(to) ?? 0));
  if (outside.length === 0) {
    return [
      pass('networks', `${name} to`, `${enumerated(addresses)}: on the network of ${found.name}.`),
    ];
  }
  return [
    warn(
      'networks',
      `${name} to`,
      `${enumerated(outside)} ${outside.length === 1 ? 'is' : 'are'} not on the network of ${found.name} (${networkText(network)}).`,
      "Correct the address or the interface's mask; or make sure that a router forwards it.",
    ),
  ];
}

interface Group {
  readonly name: string;
  readonly on: string;
  readonly group: string;
  /** What helps beside the interface. */
  readonly or: string;
}

/** Groups in which the show listens. */
function groupsOf({ inputs, desk }: Show): Group[] {
  return [
    ...inputs.flatMap(({ name, listen, psn }): Group[] =>
      psn?.group === undefined
        ? []
        : [
            {
              name: `input ${name} multicast`,
              on: listen,
              group: psn.group,
              or: 'have the tracking server send to our address (`group: none`)',
            },
          ],
    ),
    ...desk.flatMap(({ name, protocol, universe, interface: on }): Group[] =>
      protocol === 'artnet'
        ? []
        : [
            {
              name: `desk ${name} multicast`,
              on,
              group: multicastGroup(universe),
              or: 'have the desk send to our address (unicast)',
            },
          ],
    ),
  ];
}

/** Linux joins a group there all the same, and says nothing; on the loopback it works. */
function withoutMulticast(facts: Seen, { name, on, group, or }: Group): Check[] {
  const found = interfaceOf(facts, on);
  if (found === undefined || found.loopback || found.multicast !== false) return [];
  return [
    warn(
      'networks',
      name,
      `${withoutFlag(found)}: the group ${group} can be joined there, but its packets may never arrive.`,
      `${switchedOn(found)}; or choose another interface, or ${or}.`,
    ),
  ];
}

const withoutFlag = ({ name }: InterfaceFact) => `multicast is switched off on ${name}`;
const switchedOn = ({ name }: InterfaceFact) =>
  `Switch it on (as root: ip link set ${name} multicast on)`;

/** Where the system would send multicast, for the other programs; ours leaves by the interface named. */
function multicast(show: Show, facts: Seen): Check[] {
  return show.outputs.flatMap(output => {
    if (!isMulticast(output)) return [];
    const name = `output ${output.name} multicast`;
    const found = interfaceOf(facts, output.interface);
    if (found === undefined) return [];
    if (found.multicast === false) {
      return [
        warn(
          'networks',
          name,
          `${withoutFlag(found)}: what is sent to groups may not leave by it.`,
          `${switchedOn(found)}; or choose another interface, or name the receivers in \`to\`.`,
        ),
      ];
    }
    const first = output.universes[0]?.onWire ?? 1;
    const group = 0xefff0000 + first; // 239.255.0.0 and the universe, E1.31 table 9-10
    const route = facts.routes === undefined ? undefined : routeTo(facts.routes, group >>> 0);
    const ours = `leaves through ${found.name}, whatever the routes say`;
    if (facts.routes === undefined || route?.interface === found.name) {
      return [pass('networks', name, `${ours}.`)];
    }
    return [
      pass(
        'networks',
        name,
        `${ours}; other programs on this machine would send it by ${route?.interface ?? 'no interface at all'}.`,
      ),
    ];
  });
}
