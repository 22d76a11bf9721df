import type { Finding, Path } from '../problem.js';
import { peopleOfRule } from '../resolve-follow.js';
import { carrierOf } from '../schema.js';
import type { RuleFile } from '../schema-follow.js';
import type { NameCheck } from './names.js';

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
  if (kind === undefined) return fault(`a rule to follow by has one of ${RULES.join(', ')}.`);
  if (said.length > 1) {
    return fault(`a rule to follow by has ${said.join(' and ')}; it takes one of them.`);
  }
  const { to, in: zone, change } = rule;
  if (kind === 'nearest' && to === undefined) {
    return fault('nearest to what? Say `to`: a fixture, a performer or [x, y, z].');
  }
  if (kind === 'first' && zone === undefined) return fault('first in what? Say `in`: a zone.');
  if (kind !== 'nearest' && to !== undefined) return fault(`${kind} has no \`to\`.`);
  if (kind !== 'first' && zone !== undefined) return fault(`${kind} has no \`in\`.`);
  if (change === 'cross' && kind !== 'share') {
    return fault('only heads that share can cross over: change is dark or lit here.');
  }
  if (kind === 'middle' && !hasCover) {
    return fault(
      'a beam on the middle of several has to hold them: beam: { diameter: 1.8, cover: 5 }.',
    );
  }
  const { show } = names;
  names.people(rule[kind], [...path, kind]);
  if (zone !== undefined) names.one('zones', zone, [...path, 'in']);
  if (carrierOf(show.zones[zone ?? '']) !== undefined) {
    return fault(`zone "${zone}" moves with somebody; first takes one that stays where it is.`);
  }
  const people = peopleOfRule(show, rule).length;
  if (kind === 'order' && people !== heads) {
    return fault(`${heads} heads follow ${people} performers in order: give one for each.`);
  }
  if (typeof to !== 'string' || Object.hasOwn(show.performers, to)) return [];
  const fixture = show.fixtures[to];
  if (fixture === undefined) names.unknownPlace(to, [...path, 'to']);
  else if (fixture.position === undefined) {
    return fault(`fixture "${to}" has no position, so nothing can be near it.`);
  } else if (fixture.unpatched) return fault(`fixture "${to}" is unpatched.`);
  return [];
}
