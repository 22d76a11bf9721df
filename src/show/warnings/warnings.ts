import { isEmitter } from '../../fixtures/attributes.js';
import { compileTemplate, matchTemplate } from '../../protocols/osc/address.js';
import type { RouteOptions, RouteRole } from '../../protocols/osc/route.js';
import { enumerated } from '../../stage/enumerated.js';
import { isFarOff, metresAway, unitHint } from '../../stage/unit-guess.js';
import { basisOfAll, touches } from '../model/basis.js';
import { addressesOf } from '../model/destinations.js';
import type { FixturePlan, MappingPlan, Show } from '../model/model.js';
import { isShut } from '../model/shutter.js';
import type { Finding, Path } from '../problems/problem.js';
import type { WarningCode } from '../problems/warning-codes.js';
import { NAME_PATTERN } from '../schema/parts.js';
import { allowWarnings } from './allow-warnings.js';
import { cellWarnings, wholeNames } from './cell-warnings.js';
import { colourWarnings } from './colour-warnings.js';
import { cueWarnings, scaleWarnings } from './cue-warnings.js';
import { exitWarnings } from './exit-warnings.js';
import { followWarnings } from './follow-warnings.js';
import { highlightWarnings } from './highlight-warnings.js';
import { keepOutWarnings } from './keep-out-warnings.js';
import { paletteWarnings } from './palette-warnings.js';
import { safeColourWarnings, safeDarkWarnings } from './safe-warnings.js';
import { unitWarnings } from './unit-warnings.js';

/** This machine, as far as a show can be checked against it. */
export interface MachineAddresses {
  /** Name of the interface with this address or name; undefined where there is none. */
  interfaceOf(wanted: string): string | undefined;
  /** Broadcast address of the network that it is on; undefined where there is none such. */
  broadcastOf(wanted: string): string | undefined;
  /** It is there, but not up; left out: nobody knows. */
  isDown?(wanted: string): boolean;
  /** The interfaces there are, in words. */
  readonly there: string;
}

/**
 * Valid but probably not what was meant. A show runs with it.
 * @param says whether the file itself says what stands at a path, or leaves it to its default
 * @param machine undefined: not held against one
 */
export function warningsOf(
  show: Show,
  says: (path: Path) => boolean,
  machine: MachineAddresses | undefined,
): Finding[] {
  const findings = [
    ...sizeWarnings(show),
    ...wornWarnings(show),
    ...unitWarnings(show),
    ...useWarnings(show),
    ...exitWarnings(show),
    ...routeWarnings(show),
    ...stampWarnings(show),
    ...allowWarnings(show),
    ...cueWarnings(show),
    ...scaleWarnings(show),
    ...colourWarnings(show),
    ...paletteWarnings(show),
    ...followWarnings(show),
    ...keepOutWarnings(show),
    ...highlightWarnings(show),
    ...cellWarnings(show),
    ...safeDarkWarnings(show, says),
    ...broadcastWarnings(show, machine),
    ...show.fixtures.flatMap((fixture, index) => [
      ...placeWarnings(show, fixture),
      ...lightWarnings(show, fixture, index, says(['fixtures', fixture.inFile, 'safe', 'Dimmer'])),
      ...safeColourWarnings(show, fixture, index, says),
    ]),
    ...(machine === undefined ? [] : machineWarnings(show, machine)),
  ];
  return atFixtures(findings, show);
}

/** What is true for several cells of a fixture is reported once, for all of them. */
function atFixtures(findings: readonly Finding[], show: Show): Finding[] {
  const known = new Map<string, OfCells>();
  const told = findings.flatMap((finding): (Finding | OfCells)[] => {
    const [block, name, ...rest] = finding.path;
    const plan = show.fixtures.find(one => block === 'fixtures' && one.name === name);
    if (plan === undefined || plan.inFile === plan.name) return [finding];
    const path = ['fixtures', plan.inFile, ...rest];
    const key = JSON.stringify([finding.code, path]);
    const words = finding.message.replace(`"${plan.name}"`, '""');
    const before = known.get(key);
    // Another figure of another cell is another matter, and the first of them stands for it.
    if (before !== undefined) {
      if (before.words === words) before.cells.push(plan.name);
      return [];
    }
    const one = { finding: { ...finding, path }, words, cells: [plan.name] };
    known.set(key, one);
    return [one];
  });
  return told.map(one => {
    if (!('cells' in one)) return one;
    return {
      ...one.finding,
      message: one.words.replace('""', () => cellsInWords(show, one.cells)),
    };
  });
}

/** The same of several cells. */
interface OfCells {
  readonly finding: Finding;
  /** Of the message, with nothing for the name of the cell. */
  readonly words: string;
  readonly cells: string[];
}

/** `"bar"` of all its cells, `"bar-2"` of one, `"bar-2" (and "bar-3")` of some. */
function cellsInWords(show: Show, cells: readonly string[]): string {
  const [first = '', ...others] = wholeNames(show, cells).map(name => `"${name}"`);
  return others.length === 0 ? first : `${first} (and ${enumerated(others)})`;
}

function placeWarnings({ bounds }: Show, { name, position }: FixturePlan): Finding[] {
  if (position === undefined) return [];
  const { x, y, z } = position;
  if (!isFarOff(position, bounds)) return [];
  const isBeside = isFarOff({ x, y, z: 0 }, bounds);
  const where = isBeside
    ? `${Math.round(metresAway(x, y, bounds))} m from the stage`
    : `at a height of ${Math.round(z)} m`;
  const unit = unitHint([position], bounds);
  return [
    {
      code: 'position-far',
      message: `fixture "${name}" hangs ${where}, outside any building.${unit}`,
      path: ['fixtures', name, 'position'],
    },
  ];
}

function sizeWarnings({ bounds, zones, mappings }: Show): Finding[] {
  const stageM = Math.max(bounds.max.x - bounds.min.x, bounds.max.y - bounds.min.y);
  const findings: Finding[] = [];
  for (const { name, edge } of zones) {
    if (edge.featherM <= stageM) continue;
    findings.push({
      code: 'larger-than-stage',
      message: `the feather of zone "${name}" is ${edge.featherM} m wide, but the stage is ${Number(stageM.toFixed(2))} m.`,
      path: ['zones', name, 'feather'],
    });
  }
  const places = new Set<number>();
  mappings.forEach((mapping, index) => {
    const diameterM = mapping.kind === 'follow' ? mapping.optics.beam?.diameterM : undefined;
    if (diameterM === undefined || diameterM <= stageM) return;
    // A rule is a mapping for each head.
    if (places.has(mapping.place ?? index)) return;
    places.add(mapping.place ?? index);
    findings.push({
      code: 'larger-than-stage',
      message: `the beam is ${diameterM} m wide, but the stage is ${Number(stageM.toFixed(2))} m.`,
      path: ['mappings', mapping.place ?? index, 'beam'],
    });
  });
  return findings;
}

function wornWarnings({ performers }: Show): Finding[] {
  return performers.flatMap(({ name, heightM, wornAtM }) =>
    wornAtM <= heightM
      ? []
      : [
          {
            code: 'worn-too-high',
            message: `"${name}" is ${heightM} m tall and wears a tracker at ${wornAtM} m, above their head.`,
            path: ['performers', name, 'wornAt'],
          },
        ],
  );
}

/** Messages that match a route are positions, and are used for nothing else. */
function routeWarnings({ signals: { signals }, inputs }: Show): Finding[] {
  return signals.flatMap(({ name, source }): Finding[] => {
    if (source.kind !== 'osc') return [];
    const input = inputs[source.input];
    const routes = input?.carries === 'positions' ? input.routes : [];
    const route = routes.find(({ address }) => {
      const compiled = compileTemplate(address);
      return compiled.ok && matchTemplate(compiled.template, source.address) !== undefined;
    });
    if (route === undefined) return [];
    const message = `signal "${name}" listens to ${source.address}, but positions of trackers arrive there, so the number is never heard.`;
    return [{ code: 'signal-on-route', message, path: ['signals', name, 'osc', 'address'] }];
  });
}

/** Where some positions of an input have a stamp, one without is that of a tracking system whose clock is gone. */
function stampWarnings({ inputs }: Show): Finding[] {
  return inputs.flatMap(({ name, routes }): Finding[] => {
    const has = (route: RouteOptions, ...roles: readonly RouteRole[]) =>
      [...route.arguments, ...(route.each ?? [])].filter(({ role }) => roles.includes(role)).length;
    const stamped = routes.find(route => has(route, 'stamp') > 0);
    if (stamped === undefined) return [];
    return routes.flatMap((route, index): Finding[] => {
      // An axis that comes by itself belongs to a position of which another message may have the stamp.
      if (has(route, 'stamp') > 0 || has(route, 'x', 'y', 'z') < 2) return [];
      const message = `the positions at ${route.address} have no stamp, but those at ${stamped.address} of the same input do. Without a stamp the clock of the tracking system counts as gone, and the position is not used.`;
      return [{ code: 'stamp-missing', message, path: ['inputs', name, 'routes', index] }];
    });
  });
}

function useWarnings(show: Show): Finding[] {
  const { performers, zones, signals, conditions } = basisOfAll(show);
  const unused = (
    code: WarningCode,
    block: string,
    all: readonly { readonly name: string }[],
    used: ReadonlySet<number>,
    words: (name: string) => string,
  ) =>
    all.flatMap(({ name }, index): Finding[] =>
      // Generated signals are not in the file.
      used.has(index) || !NAME_PATTERN.test(name)
        ? []
        : [{ code, message: words(name), path: [block, name], atKey: true }],
    );
  return [
    ...unused(
      'performer-unused',
      'performers',
      show.performers,
      performers,
      name => `no mapping uses the position of "${name}".`,
    ),
    ...unused('zone-unused', 'zones', show.zones, zones, name => `no mapping uses zone "${name}".`),
    ...unused(
      'signal-unused',
      'signals',
      show.signals.signals,
      signals,
      name => `nothing is driven by signal "${name}".`,
    ),
    ...(show.signals.unasked ?? []).map(
      (name): Finding => ({
        code: 'signal-unused',
        message: `nothing is driven by signal "${name}".`,
        path: ['signals', name],
        atKey: true,
      }),
    ),
    ...unused(
      'condition-unused',
      'conditions',
      show.signals.conditions,
      conditions,
      name => `nothing uses condition "${name}".`,
    ),
    ...unused(
      'desk-unused',
      'desk',
      show.desk,
      heardFor(show),
      name => `no signal, order or universe uses "${name}" of the desk.`,
    ),
  ];
}

/** Universes of the desk that are heard for something. */
function heardFor({ desk, orders, signals: { signals } }: Show): ReadonlySet<number> {
  return new Set([
    ...orders.map(order => order.desk),
    ...signals.flatMap(({ source }) => (source.kind === 'slot' ? [source.desk] : [])),
    ...desk.flatMap(({ ground }, index) => (ground === undefined ? [] : [index])),
  ]);
}

/** A master asks for nothing itself. */
function isAsking(mapping: MappingPlan): boolean {
  return !(mapping.kind === 'signal' && mapping.isMaster === true);
}

function lightWarnings(
  { mappings, cues }: Show,
  { name, profile, base, safe, ground, hazards }: FixturePlan,
  index: number,
  saysSafe: boolean,
): Finding[] {
  const path = ['fixtures', name];
  const set = mappings.filter(isAsking).flatMap(one => {
    const values = one.kind === 'signal' ? [...one.values, ...one.from] : one.values;
    return values.filter(({ fixture }) => fixture === index);
  });
  const narrowsByIris = mappings.some(
    one => one.kind === 'follow' && one.heads.includes(index) && one.optics.beam?.by === 'iris',
  );
  /** The desk may have it at any level. */
  const isOfDesk = (channel: number) => ground[channel] === 'desk' || ground[channel] === 'safe';
  const mostOf = (channel: number) =>
    Math.max(
      isOfDesk(channel) ? 1 : 0,
      base[channel] ?? 0,
      safe[channel] ?? 0,
      ...cues.flatMap(cue => [cue.base, cue.safe].map(look => look[index]?.[channel] ?? 0)),
      ...set.filter(one => one.channel === channel).map(({ value }) => value),
    );
  const dimmer = profile.channels.findIndex(({ attribute }) => attribute === 'Dimmer');
  if (dimmer < 0) return [];
  const colours = profile.channels.flatMap(({ attribute }, i) => (isEmitter(attribute) ? [i] : []));
  const findings: Finding[] = [];
  // Emitters behind a virtual dimmer are the intensity.
  const isByEmitters = dimmer === profile.virtualDimmer && colours.some(isOfDesk);
  const isDark = mostOf(dimmer) === 0 && !isByEmitters;
  const isBlack = colours.length > 0 && colours.every(channel => mostOf(channel) === 0);
  const shut = profile.channels.find((channel, c) => {
    const looks = [base, safe, ...cues.flatMap(cue => [cue.base[index], cue.safe[index]])];
    if (isOfDesk(c)) return false;
    if (channel.attribute === 'Iris') return mostOf(c) === 0 && !narrowsByIris;
    // What is hazardous stays off by itself.
    return (
      hazards[c] === 'ordinary' &&
      looks.every(look => look === undefined || isShut(channel, look[c] ?? channel.default)) &&
      set.every(one => one.channel !== c || isShut(channel, one.value))
    );
  });
  if (isDark || isBlack || shut !== undefined) {
    const what = isDark
      ? 'its Dimmer is at 0'
      : isBlack
        ? 'all of its colours are at 0'
        : `its ${shut?.attribute} is ${shut?.attribute === 'Iris' ? 'at 0' : 'closed'}`;
    findings.push({
      code: 'never-lit',
      message: `fixture "${name}" can never be lit: ${what} in base, safe${cues.length === 0 ? ' and each mapping' : ', each mapping and each cue'}.`,
      path,
      atKey: true,
    });
  } else if (
    ground.every(use => use === 'ours') &&
    !mappings.some(mapping => isAsking(mapping) && touches(mapping, index)) &&
    cues.every(cue => cue.base[index]?.[dimmer] === base[dimmer])
  ) {
    findings.push({
      code: 'fixture-unused',
      message: `no mapping drives fixture "${name}", so it stays at its \`base\`.`,
      path,
      atKey: true,
    });
  }
  const full = profile.channels[dimmer]?.to;
  if (!saysSafe && base[dimmer] === full && safe[dimmer] === full) {
    findings.push({
      code: 'safe-full',
      message: `fixture "${name}" is full in the safe look only because its base is; give its Dimmer in \`safe\`.`,
      path,
      atKey: true,
    });
  }
  return findings;
}

/** With the mask of the network at hand it is known; without, x.x.x.255 may still be a host of a wide one. */
function broadcastWarnings({ outputs }: Show, machine: MachineAddresses | undefined): Finding[] {
  return outputs.flatMap(output => {
    const { name, interface: wanted, to, protocol } = output;
    const broadcast = machine?.broadcastOf(wanted);
    const isOne = (ip: string) =>
      broadcast === undefined ? ip.endsWith('.255') : ip === broadcast;
    const found = addressesOf(output).find(isOne);
    if (found === undefined) return [];
    const right = protocol === 'sacn' ? 'receivers, or `multicast`,' : 'the addresses of nodes';
    const is = broadcast === undefined ? 'looks like' : 'is';
    return [
      {
        code: 'broadcast-address',
        message: `output "${name}" sends to ${found}, which ${is} the broadcast address of a network. Nothing is sent to a broadcast address: list ${right} in \`to\`.`,
        path: ['outputs', name, 'to', to === 'multicast' ? 0 : to.indexOf(found)],
      } as const,
    ];
  });
}

function absentNow(wanted: string, machine: MachineAddresses): string {
  return machine.isDown?.(wanted) === true
    ? `interface ${wanted} is down; bring it up (as root: ip link set ${wanted} up)`
    : `this machine has no interface ${wanted}; it has ${machine.there}`;
}

function machineWarnings({ inputs, outputs }: Show, machine: MachineAddresses): Finding[] {
  const findings: Finding[] = [];
  for (const { name, interface: wanted } of outputs) {
    if (machine.interfaceOf(wanted) !== undefined) continue;
    findings.push({
      code: 'address-missing',
      message: `output "${name}": ${absentNow(wanted, machine)}.`,
      path: ['outputs', name, 'interface'],
    });
  }
  for (const { name, listen, carries, psn } of inputs) {
    if (isEverywhere(listen)) continue;
    const key = psn === undefined ? 'listen' : 'interface';
    const path = carries === 'orders' ? ['operator', 'listen'] : ['inputs', name, key];
    const device = machine.interfaceOf(listen);
    if (device === undefined) {
      findings.push({
        code: 'address-missing',
        message:
          psn !== undefined && machine.isDown?.(listen) === true
            ? `input "${name}": ${absentNow(listen, machine)}.`
            : `input "${name}": this machine has no ${psn === undefined ? 'address' : 'interface'} ${listen} to listen on; it has ${machine.there}.`,
        path,
      });
      continue;
    }
    if (isLoopback(listen) || carries === 'orders') continue;
    const shared = outputs.find(output => machine.interfaceOf(output.interface) === device);
    if (shared === undefined) continue;
    findings.push({
      code: 'one-network',
      message: `positions come in (input "${name}") and levels go out (output "${shared.name}") through the same interface, ${device}.`,
      path,
    });
  }
  return findings;
}

/** Interfaces and addresses that a show uses and this machine doesn't have at present. */
export function missingAddresses(show: Show, machine: MachineAddresses): Finding[] {
  return machineWarnings(show, machine).filter(({ code }) => code === 'address-missing');
}

/** All interfaces, or a group, which is no address of a machine. */
function isEverywhere(address: string): boolean {
  const first = Number(address.split('.')[0]);
  return address === '0.0.0.0' || (first >= 224 && first <= 239);
}

function isLoopback(address: string): boolean {
  return address.startsWith('127.');
}
