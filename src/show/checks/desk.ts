import { attributeClass } from '../../fixtures/attributes.js';
import type { ProfileOptions } from '../../fixtures/profile.js';
import { enumerated } from '../../stage/enumerated.js';
import { BEAM, COLOUR, meantBy, TARGET } from '../palettes/look-values.js';
import { type Finding, listed, type Path, suggestion } from '../problems/problem.js';
import { channelHazards } from '../resolve/hazards.js';
import { profileFor, profilesOf } from '../resolve/profiles.js';
import { universesOf } from '../resolve/universes.js';
import { CUE_NUMBER, type DeskInputFile, EVERYBODY, type GroundFile } from '../schema/desk.js';
import type { FixtureFile, ShowFile } from '../schema/schema.js';
import { NameCheck } from './names.js';
import { WIRE_RANGE } from './outputs.js';

/** Universes that are heard from a desk, and what fixtures take from them. */
export function checkDesk(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  const heard = new Map<string, string>();
  const grounds = new Map<number, string>();
  for (const [name, input] of Object.entries(show.desk)) {
    const path = ['desk', name];
    findings.push(...checkUniverse(show, name, input, path));
    const key = `${input.protocol} ${input.universe} ${addressed(input.interface)}`;
    const before = heard.get(key);
    if (before !== undefined) {
      findings.push({
        code: 'desk-heard-twice',
        message: `"${name}" and "${before}" are the same universe on the same interface; one of them is enough, and its slots may be used in many places.`,
        path: [...path, 'universe'],
      });
    } else heard.set(key, name);
    findings.push(...checkGroundOf(show, name, input, grounds, path));
  }
  // If the `ground` itself is wrong, nobody knows which universe was meant.
  const inDoubt = findings.some(({ path }) => path[2] === 'ground');
  return [...findings, ...checkFixtureGrounds(show, grounds, inDoubt), ...checkOrders(show)];
}

/** The loopback has one name on each machine. */
function addressed(on: string): string {
  return on === 'lo' ? '127.0.0.1' : on;
}

/** Names in the orders by slots, and slots that would give two orders. */
function checkOrders(show: ShowFile): Finding[] {
  const names = new NameCheck(show);
  const findings: Finding[] = [];
  const taken = new Map<string, number>();
  for (const [index, order] of show.orders.entries()) {
    const path = ['orders', index];
    const [desk, slot] = order.slot;
    names.one('desk', desk, [...path, 'slot', 0]);
    const key = `${desk} ${slot}`;
    const before = taken.get(key);
    if (before !== undefined) {
      findings.push({
        code: 'slot-orders-twice',
        message: `slot ${slot} of "${desk}" already gives an order in entry ${before + 1}; give each order a slot of its own.`,
        path: [...path, 'slot', 1],
      });
    } else taken.set(key, index);
    if ('cue' in order) {
      const { cue } = order;
      const isWord = cue === 'next' || cue === 'back' || cue === CUE_NUMBER;
      if (!isWord) names.one('cues', cue, [...path, 'cue']);
      else if (Object.keys(show.cues).length === 0) {
        findings.push({
          code: 'unknown-name',
          message: 'a slot brings cues on, but the show has no cues.',
          path: [...path, 'cue'],
        });
      }
    }
    for (const key of ['stop', 'resume', 'off', 'on'] as const) {
      const whom = (order as Partial<Record<typeof key, string | string[]>>)[key];
      if (whom !== undefined && whom !== EVERYBODY) names.people(whom, [...path, key]);
    }
  }
  return [...names.findings, ...findings];
}

function checkUniverse(
  { outputs }: ShowFile,
  name: string,
  { protocol, universe, interface: on }: DeskInputFile,
  path: Path,
): Finding[] {
  const [low, high] = WIRE_RANGE[protocol];
  const called = protocol === 'sacn' ? 'sACN' : 'Art-Net';
  if (universe < low || universe > high) {
    return [
      {
        code: 'universe-range',
        message: `"${name}" is universe ${universe}; ${called} has ${low} to ${high}.`,
        path: [...path, 'universe'],
      },
    ];
  }
  const own = Object.entries(outputs).find(
    ([, output]) =>
      output.protocol === protocol &&
      addressed(output.interface) === addressed(on) &&
      universesOf(output)?.includes(universe - output.offset) === true,
  );
  if (own === undefined) return [];
  return [
    {
      code: 'desk-own-universe',
      message: `"${name}" would hear ${called} universe ${universe} on ${on}, which output "${own[0]}" sends there, so desk and show would be two sources of one universe. Have the desk send another universe, and put ours on top of it with \`ground\`.`,
      path: [...path, 'universe'],
    },
  ];
}

function checkGroundOf(
  { outputs }: ShowFile,
  name: string,
  { ground, gone }: DeskInputFile,
  grounds: Map<number, string>,
  path: Path,
): Finding[] {
  if (ground === undefined) return [];
  const findings: Finding[] = [];
  const lists = Object.values(outputs).map(universesOf);
  const sent = [...new Set(lists.flatMap(list => list ?? []))].sort((a, b) => a - b);
  if (!lists.includes(undefined) && !sent.includes(ground)) {
    findings.push({
      code: 'universe-unreachable',
      message: `no output sends universe ${ground}, the ground of which is "${name}"; ${sent.length === 0 ? 'the show has no outputs' : `outputs send ${enumerated(sent.map(String))}`}.`,
      path: [...path, 'ground'],
    });
  }
  const before = grounds.get(ground);
  if (before !== undefined) {
    findings.push({
      code: 'ground-twice',
      message: `universe ${ground} would lie on "${before}" and on "${name}"; a universe has one ground.`,
      path: [...path, 'ground'],
    });
  } else grounds.set(ground, name);
  if (gone === 'unknown') {
    findings.push({
      code: 'bad-value',
      message: `"${name}" is a ground, whose levels are sent, and "unknown" is not a level. Write gone: hold, or gone: NUMBER.`,
      path: [...path, 'gone'],
    });
  }
  return findings;
}

/** @param inDoubt a wrong `ground` may have meant a universe that has none */
function checkFixtureGrounds(
  show: ShowFile,
  grounds: ReadonlyMap<number, string>,
  inDoubt: boolean,
): Finding[] {
  const profiles = profilesOf(show);
  return Object.entries(show.fixtures).flatMap(([name, fixture]): Finding[] => {
    const { ground, universe, unpatched } = fixture;
    if (ground === undefined) return [];
    const path = ['fixtures', name, 'ground'];
    if (unpatched || universe === undefined) return [];
    if (!grounds.has(universe) && !inDoubt) {
      return [
        {
          code: 'ground-missing',
          message: `fixture "${name}" takes levels from the desk, but its universe ${universe} has no ground. Write desk: { stage: { protocol: ..., universe: ..., interface: ..., ground: ${universe} } }.`,
          path,
          atKey: true,
        },
      ];
    }
    const profile = profileFor(profiles, fixture);
    return profile === undefined ? [] : checkWords(show, name, fixture, profile, ground, path);
  });
}

function checkWords(
  show: ShowFile,
  name: string,
  fixture: FixtureFile,
  profile: ProfileOptions,
  ground: GroundFile,
  path: Path,
): Finding[] {
  const attributes = profile.channels.map(({ attribute }) => attribute);
  if (ground === 'safe') return [];
  if (ground === 'scale') {
    return attributes.some(one => attributeClass(one) === 'intensity')
      ? []
      : [withoutIntensity(name, path)];
  }
  const hazards = channelHazards(show, fixture, attributes);
  const isVirtual = profile.channels.some(one => one.virtual === true);
  const lists = 'map' in ground ? [[path, ground, 'desk'] as const] : listsOf(ground, path);
  if (lists.every(([, words]) => words.length === 0)) {
    return [
      {
        code: 'bad-value',
        message: `the ground of fixture "${name}" names no attribute; the fixture has ${listed(attributes)}. Without a ground the show controls all of them.`,
        path,
      },
    ];
  }
  const seen = new Set<string>();
  return lists.flatMap(([at, words, use]) =>
    words.flatMap((word, i): Finding[] => {
      const place = [...at, i];
      const meant = meantBy(word, attributes);
      const twice = meant.find(one => seen.has(one));
      for (const one of meant) seen.add(one);
      if (twice !== undefined) {
        const by = twice === word ? '' : ` (${word} is ${enumerated(meant)})`;
        return [
          {
            code: 'bad-value',
            message: `${twice} of fixture "${name}" is in its ground twice${by}; once is enough.`,
            path: place,
          },
        ];
      }
      if (meant.length === 0) {
        const words = [COLOUR, BEAM, TARGET].filter(one => meantBy(one, attributes).length > 0);
        const has = [...attributes, ...words];
        return [
          {
            code: 'unknown-name',
            message: `fixture "${name}" has no ${word}.${suggestion(word, has)} It has ${listed(has)}.`,
            path: place,
          },
        ];
      }
      if (use === 'scale' && meant.some(one => attributeClass(one) !== 'intensity')) {
        return [withoutIntensity(name, place)];
      }
      const isByEmitters = word === 'Dimmer' && use !== 'scale' && isVirtual;
      if (isByEmitters && !words.includes(COLOUR)) {
        return [
          {
            code: 'bad-value',
            message: `fixture "${name}" has no slot of its own for Dimmer: its emitters are its intensity, and its colour. Write [Dimmer, ${COLOUR}] for both, or scale for an intensity that scales the desk's.`,
            path: place,
          },
        ];
      }
      if (meant.some(one => hazards[attributes.indexOf(one)] !== 'ordinary')) {
        return [
          {
            code: 'ground-hazard',
            message: `${word} of fixture "${name}" is hazardous: it is on only while its enable is held, and never takes the level of the desk. Leave it out.`,
            path: place,
          },
        ];
      }
      return [];
    }),
  );
}

function listsOf(ground: Exclude<GroundFile, string | string[]>, path: Path) {
  return (['desk', 'safe', 'scale'] as const).map(
    use => [[...path, use], ground[use] ?? [], use] as const,
  );
}

function withoutIntensity(name: string, path: Path): Finding {
  return {
    code: 'bad-value',
    message: `only an intensity can scale the desk's, and fixture "${name}" has ${path.length > 3 ? 'others here' : 'none'}: scale takes Dimmer.`,
    path,
  };
}
