import type { Attribute } from '../../fixtures/attributes.js';
import { isStepped } from '../../fixtures/scales.js';
import { enumerated } from '../../stage/enumerated.js';
import { basisOfCondition, mappingsOf, performersOf, touches } from '../model/basis.js';
import { mappingTitle } from '../model/mapping-words.js';
import type { CuePlan, FixturePlan, FollowMappingPlan, MappingPlan, Show } from '../model/model.js';
import type { Finding } from '../problems/problem.js';

/** What was probably not meant in the cues. */
export function cueWarnings(show: Show): Finding[] {
  const { cues, mappings } = show;
  if (cues.length === 0) return [];
  return [
    ...mappings.flatMap(({ name, place }, index): Finding[] => {
      if (cues.some(({ levels }) => (levels[index] ?? 0) > 0)) return [];
      const what = name === undefined ? `mapping ${index + 1}, which has no name,` : `"${name}"`;
      const message = `${what} acts in no cue.`;
      return [{ code: 'mapping-unused', message, path: ['mappings', place ?? index] }];
    }),
    ...cues.flatMap(cue => litWarnings(show, cue)),
    ...wheelWarnings(show),
    ...cues.flatMap((cue, index) => fireWarnings(show, cue, index)),
    ...cues.flatMap(cue => fireByNumberWarnings(show, cue)),
  ];
}

/** If one condition takes two cues, it is always the first in the file. */
function fireWarnings({ cues, signals }: Show, { name, fire }: CuePlan, index: number): Finding[] {
  if (fire === undefined) return [];
  const first = cues.findIndex(one => one.fire === fire);
  if (first === index) return [];
  const condition = signals.conditions[fire]?.name;
  const message = `"${condition}" already brings on cue "${cues[first]?.name}", so it never brings on cue "${name}".`;
  return [{ code: 'cue-fire', message, path: ['cues', name, 'fire'] }];
}

/** A sender that speaks only when something changes: unknown in between, and from unknown to yes nothing fires. */
function fireByNumberWarnings(show: Show, { name, fire }: CuePlan): Finding[] {
  if (fire === undefined) return [];
  const { signals, conditions } = show.signals;
  const numbers = [...basisOfCondition(show, fire).signals].flatMap(index => {
    const { source, name: number } = signals[index] ?? {};
    return source?.kind === 'osc' && Number.isFinite(source.timeoutS)
      ? [`"${number}" (${Number(source.timeoutS.toFixed(3))} s)`]
      : [];
  });
  if (numbers.length === 0) return [];
  const message = `"${conditions[fire]?.name}" depends on ${enumerated(numbers)} by OSC. If the sender sends only changes, the number is unknown after that time, and a change from unknown to yes does not bring the cue on. Write \`timeout: never\` for such a sender.`;
  return [{ code: 'cue-fire-number', message, path: ['cues', name, 'fire'] }];
}

/** Mappings that have nothing to scale, and yet bring up the safe value when their performers are lost. */
export function scaleWarnings(show: Show): Finding[] {
  const { cues, mappings } = show;
  const looks: readonly (CuePlan | undefined)[] = cues.length === 0 ? [undefined] : cues;
  return mappings.flatMap((mapping, index): Finding[] => {
    if (!isScale(mapping) || performersOf(show, mapping).length === 0) return [];
    const lamps = new Set<string>();
    const where = looks.filter(cue => {
      if (cue !== undefined && (cue.levels[index] ?? 0) === 0) return false;
      const alone = [...new Set(mapping.values.map(one => one.fixture))].filter(light =>
        scalesAlone(show, cue, light),
      );
      for (const light of alone) lamps.add(`"${show.fixtures[light]?.name}"`);
      return alone.length > 0;
    });
    if (where.length === 0) return [];
    const inCues = cues.length === 0 ? '' : ` in ${where.length === 1 ? 'cue' : 'cues'}`;
    const names = where.flatMap(cue => (cue === undefined ? [] : [`"${cue.name}"`]));
    const message = `${mappingTitle(show, index)} scales ${enumerated([...lamps])}, which nothing else lights${inCues}${names.length === 0 ? '' : ` ${enumerated(names)}`}: there is nothing to scale, but if a performer whom it depends on is lost, the safe value comes up.`;
    return [{ code: 'scale-alone', message, path: ['mappings', mapping.place ?? index] }];
  });
}

function isScale(mapping: MappingPlan): boolean {
  return mapping.kind === 'signal' && mapping.mix === 'scale';
}

/** Dark by its base, lit in the safe look, and all that acts on its intensity scales. */
function scalesAlone(show: Show, cue: CuePlan | undefined, light: number): boolean {
  const plan = show.fixtures[light];
  const dimmer = plan?.profile.channels.findIndex(({ attribute }) => attribute === 'Dimmer') ?? -1;
  if (plan === undefined || dimmer < 0 || plan.ground[dimmer] !== 'ours') return false;
  const [base, safe] = [cue?.base[light] ?? plan.base, cue?.safe[light] ?? plan.safe];
  if ((base[dimmer] ?? 0) > 0 || (safe[dimmer] ?? 0) === 0) return false;
  const acting = mappingsOf(show.mappings, light).filter(of => {
    if (cue !== undefined && (cue.levels[of] ?? 0) === 0) return false;
    const values = show.mappings[of]?.values ?? [];
    return values.some(one => one.fixture === light && one.channel === dimmer);
  });
  return acting.length > 0 && acting.every(of => isScale(show.mappings[of] as MappingPlan));
}

/** Of the channels that jump, wheels; a shutter opens on purpose. */
const WHEEL = /^(Color|Gobo|AnimationWheel|Prism)\d+$/;

function isWheel(attribute: Attribute): boolean {
  return isStepped(attribute) && WHEEL.test(attribute);
}

/**
 * What can be lit in a cue and in the next, with a wheel in another place: it is seen to go there. Each fixture once, and
 * those of the same two cues together.
 */
function wheelWarnings(show: Show): Finding[] {
  const { cues, fixtures } = show;
  const told = new Map<string, { readonly at: number; readonly key: string; names: string[] }>();
  fixtures.forEach(({ name, profile: { channels } }, light) => {
    if (!channels.some(({ attribute }) => isWheel(attribute))) return;
    for (let at = 0; at + 1 < cues.length; at++) {
      const key = wheelJump(show, cues[at] as CuePlan, cues[at + 1] as CuePlan, light);
      if (key === undefined) continue;
      const one = told.get(`${at} ${key}`) ?? { at, key, names: [] };
      one.names.push(`"${name}"`);
      told.set(`${at} ${key}`, one);
      return;
    }
  });
  return [...told.values()].map(({ at, key, names }): Finding => {
    const [cue, next] = [cues[at], cues[at + 1]];
    const [of, is] = names.length === 1 ? ['fixture', 'is'] : ['fixtures', 'are'];
    const lit = key === 'base' ? is : 'can be';
    const subject = names.length === 1 ? 'the fixture' : 'they';
    const message = `a wheel of ${of} ${enumerated(names)} changes visibly between cues "${cue?.name}" and "${next?.name}": ${subject} ${lit} lit in both, and a wheel jumps.`;
    return { code: 'cue-wheel', message, path: ['cues', next?.name ?? '', key] };
  });
}

/** Which part of the next cue has it elsewhere. */
function wheelJump(
  show: Show,
  cue: CuePlan,
  next: CuePlan,
  light: number,
): 'base' | 'mappings' | undefined {
  const { profile } = show.fixtures[light] as FixturePlan;
  const { channels } = profile;
  const indices = (is: (attribute: Attribute) => boolean) =>
    channels.flatMap(({ attribute }, c) => (is(attribute) ? [c] : []));
  const [dimmer = -1] = indices(one => one === 'Dimmer');
  const [wheels, moves] = [indices(isWheel), indices(one => one === 'Pan' || one === 'Tilt')];
  const differs = (c: number) => cue.base[light]?.[c] !== next.base[light]?.[c];
  // A head that has to turn goes dark for it, and its wheels go then.
  const [follow, after] = [followOf(show, cue, light), followOf(show, next, light)];
  if (!goesOnLit(follow, after) || (follow === undefined && moves.some(differs))) return undefined;
  const isLit = (one: CuePlan) => (one.base[light]?.[dimmer] ?? 0) > 0;
  if (isLit(cue) && isLit(next) && wheels.some(differs)) return 'base';
  const jumps = wheels.some(c => {
    const from = litPlaces(show, cue, light, dimmer, c);
    const to = litPlaces(show, next, light, dimmer, c);
    // A position that both may have may be the one that shows.
    return from.length > 0 && to.length > 0 && !from.some(one => to.includes(one));
  });
  return jumps ? 'mappings' : undefined;
}

/** Where a wheel is in a cue while mappings light the fixture, or, where none does, its base. */
function litPlaces(
  { mappings, fixtures }: Show,
  { levels, base }: CuePlan,
  light: number,
  dimmer: number,
  wheel: number,
): number[] {
  const of = mappingsOf(mappings, light).filter(index => (levels[index] ?? 0) > 0);
  const setBy = (index: number, channel: number) =>
    mappings[index]?.values.find(one => one.fixture === light && one.channel === channel)?.value;
  const look = base[light] ?? fixtures[light]?.base ?? [];
  const lit = of.filter(
    index => !isScale(mappings[index] as MappingPlan) && (setBy(index, dimmer) ?? 0) > 0,
  );
  if (lit.length === 0) return (look[dimmer] ?? 0) > 0 ? [look[wheel] ?? 0] : [];
  const set = of.flatMap(index => setBy(index, wheel) ?? []);
  return lit.flatMap(index => setBy(index, wheel) ?? [look[wheel] ?? 0, ...set]);
}

/** By which it follows in a cue. */
function followOf({ mappings }: Show, cue: CuePlan, light: number): FollowMappingPlan | undefined {
  for (const index of mappingsOf(mappings, light)) {
    const mapping = mappings[index];
    if (mapping?.kind !== 'follow' || !mapping.heads.includes(light)) continue;
    if ((cue.levels[index] ?? 0) > 0) return mapping;
  }
  return undefined;
}

/** A head stays lit where it follows the same people in the same way, or nobody in either. */
function goesOnLit(a: FollowMappingPlan | undefined, b: FollowMappingPlan | undefined): boolean {
  if (a === b || a === undefined || b === undefined) return a === b;
  const way = ({ performer, choice, offset, aheadS, optics }: FollowMappingPlan) => {
    // Heads of another shared mapping are a pool of their own.
    const rule = choice?.rule.kind === 'share' ? 'share' : choice?.rule;
    return JSON.stringify([
      performer,
      rule,
      choice?.people,
      choice?.offsets,
      offset,
      aheadS,
      optics,
    ]);
  };
  return way(a) === way(b);
}

/** Lit by its own base in a cue that does not mention it, although other cues drive it: usually forgotten. */
function litWarnings({ cues, mappings, fixtures }: Show, cue: CuePlan): Finding[] {
  const acts = ({ levels }: CuePlan, light: number) =>
    mappings.some((mapping, index) => (levels[index] ?? 0) > 0 && touches(mapping, light));
  const forgotten = fixtures.flatMap(({ name, profile, base }, light) => {
    const dimmer = profile.channels.findIndex(({ attribute }) => attribute === 'Dimmer');
    const isLit = dimmer >= 0 && (base[dimmer] ?? 0) > 0;
    // A cue that gives the fixture's own base gives the very same list.
    const says = cue.base[light] !== base;
    if (!isLit || says || acts(cue, light)) return [];
    return cues.some(other => acts(other, light)) ? [`"${name}"`] : [];
  });
  if (forgotten.length === 0) return [];
  const [subject, verb] = forgotten.length === 1 ? ['fixture', 'stays'] : ['fixtures', 'stay'];
  const message = `${subject} ${enumerated(forgotten)} ${verb} lit in cue "${cue.name}", as in \`base\`: no mapping of this cue touches ${forgotten.length === 1 ? 'it' : 'them'}, and the cue does not mention ${forgotten.length === 1 ? 'it' : 'them'}.`;
  return [{ code: 'cue-lit', message, path: ['cues', cue.name], atKey: true }];
}
