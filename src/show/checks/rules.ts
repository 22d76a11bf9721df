import { own } from '../../stage/own.js';
import { nameMeant } from '../problems/names.js';
import type { Finding, Path } from '../problems/problem.js';
import { peopleOfRule } from '../resolve/follow.js';
import { groupOf } from '../resolve/groups.js';
import { DEFAULT_HOLD_S, type RuleFile } from '../schema/follow.js';
import { carrierOf, type ShowFile } from '../schema/schema.js';
import type { PeopleFile } from '../schema/signals.js';
import type { NameCheck } from './names.js';

function counted(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}

const RULES = ['nearest', 'first', 'order', 'middle', 'share'] as const;

/** A rule by which heads choose whom to follow. */
export function checkRule(
  names: NameCheck,
  rule: RuleFile,
  heads: number,
  hasCover: boolean,
  path: Path,
): Finding[] {
  const fault = (message: string): Finding[] => [
    { code: 'follow-rule', message, path, atKey: true },
  ];
  const said = RULES.filter(key => rule[key] !== undefined);
  const [kind] = said;
  if (kind === undefined) return fault(`a rule to follow by needs one of ${RULES.join(', ')}.`);
  if (said.length > 1) {
    return fault(`a rule to follow by has ${said.join(' and ')}; keep one of them.`);
  }
  const { to, in: zone, change, hold } = rule;
  if (kind === 'nearest' && to === undefined) {
    return fault(
      'nearest to what? Add `to`: a fixture, a performer, a point of the palette or [x, y, z].',
    );
  }
  if (kind === 'first' && zone === undefined)
    return fault('first in which zone? Add `in`: a zone.');
  if (kind !== 'nearest' && to !== undefined) return fault(`${kind} has no \`to\`.`);
  if (kind !== 'first' && zone !== undefined) return fault(`${kind} has no \`in\`.`);
  if (change === 'cross' && kind !== 'share') {
    return fault('only heads that share can cross over: change is dark or lit here.');
  }
  if (change === 'cross' && heads === 1) {
    return fault('one head has nobody to cross over to: change is dark or lit here.');
  }
  if ((kind === 'order' || kind === 'middle') && change !== 'dark') {
    return fault(`${kind} never changes whom a head is on, so it has no \`change\`.`);
  }
  if (kind !== 'nearest' && kind !== 'share' && hold !== DEFAULT_HOLD_S && hold > 0) {
    return fault(`${kind} never changes its choice, so it has no \`hold\`.`);
  }
  if (kind === 'middle' && !hasCover) {
    return fault(
      'a beam on the middle of several performers has to cover them all: beam: { diameter: 1.8, cover: 5 }.',
    );
  }
  const { show } = names;
  names.people(rule[kind], [...path, kind]);
  if (zone !== undefined) names.one('zones', zone, [...path, 'in']);
  if (carrierOf(own(show.zones, zone ?? '')) !== undefined) {
    return fault(`zone "${zone}" moves with a performer; first needs a zone that does not move.`);
  }
  const people = peopleOfRule(show, rule);
  const twice = kind === 'order' || kind === 'middle' ? inGroupToo(show, rule[kind]) : undefined;
  if (twice !== undefined) {
    return fault(
      `"${twice.name}" is in group "${twice.group}", which ${kind} also names; name each performer once.`,
    );
  }
  if (kind === 'order' && people.length !== heads) {
    return fault(
      `${counted(heads, 'head')} can't follow ${counted(people.length, 'performer')} in order: it needs one head for each performer.`,
    );
  }
  if (kind === 'nearest' && people.every(name => name === to)) {
    return fault(`nobody is left to choose from: "${to}" can't be the nearest to "${to}".`);
  }
  if (typeof to !== 'string') return [];
  const isPoint = Object.hasOwn(show.palettes.points, to);
  if (Object.hasOwn(show.performers, to)) {
    if (!isPoint) return [];
    const message = `"${to}" is the name of a performer and of a point, so \`to\` could mean either; rename one of them.`;
    return [{ code: 'name-shared', message, path: [...path, 'to'] }];
  }
  if (isPoint) return [];
  const fixture = own(show.fixtures, to);
  if (fixture === undefined) {
    const is = names.whatIs(to);
    const what =
      is === undefined
        ? ''
        : ` "${to}" is ${is}: give one fixture, one performer, a point of the palette or a place, [x, y, z] in metres.`;
    const guess =
      is === undefined
        ? nameMeant(
            to,
            [
              ...Object.entries(show.performers),
              ...Object.entries(show.fixtures),
              ...Object.entries(show.palettes.points),
            ].map(([name, one]) => ({ name, label: 'label' in one ? one.label : undefined })),
          )
        : '';
    const message = `there is no performer, fixture or point "${to}".${guess}${what}`;
    return [{ code: 'unknown-name', message, path: [...path, 'to'] }];
  }
  if (fixture.position === undefined) {
    return fault(`fixture "${to}" has no position, so nothing can be near it.`);
  }
  return fixture.unpatched ? fault(`fixture "${to}" is unpatched.`) : [];
}

/** Somebody who is named, and is also in a group that is named. */
function inGroupToo(show: ShowFile, people: PeopleFile | undefined) {
  const words = people === undefined || typeof people === 'string' ? [] : people;
  for (const name of words) {
    const group = words.find(word => word !== name && groupOf(show, word)?.includes(name));
    if (group !== undefined) return { name, group };
  }
  return undefined;
}
