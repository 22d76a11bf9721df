import { partAboveM } from '../../fixtures/optics.js';
import { vec3 } from '../../stage/vector.js';
import type { FixturePlan, FollowMappingPlan, FollowRule, PerformerPlan } from '../model/model.js';
import type { RuleFile } from '../schema/follow.js';
import type { FollowMappingFile } from '../schema/mappings.js';
import type { ShowFile } from '../schema/schema.js';
import { peopleOf } from './groups.js';
import { certain } from './look.js';
import { placeOf } from './targets.js';

/** What a follow mapping asks of aim and optics. */
export function followOptionsOf(
  { offset, part, ahead, beam, compensate, focus }: FollowMappingFile,
  { heightM, wornAtM }: Pick<PerformerPlan, 'heightM' | 'wornAtM'>,
): Pick<FollowMappingPlan, 'offset' | 'aheadS' | 'optics'> {
  const [x, y, z] = offset;
  return {
    offset: vec3(x, y, z + (part === undefined ? 0 : partAboveM(part, heightM, wornAtM))),
    aheadS: ahead,
    optics: {
      beam: beam && { diameterM: beam.diameter, by: beam.by, coverM: beam.cover },
      compensate: compensate && {
        referenceM: compensate.reference,
        least: compensate.least,
        most: compensate.most,
      },
      focus,
    },
  };
}

type Follower = Omit<FollowMappingPlan, 'values' | 'fade' | 'name' | 'always'>;

/** A rule for the heads of a mapping: a mapping for each. */
export function followersOf(
  file: ShowFile,
  mapping: FollowMappingFile,
  rule: RuleFile,
  { at, when, targets }: { at: number; when: number | undefined; targets: readonly number[] },
  fixtures: readonly FixturePlan[],
  performers: readonly PerformerPlan[],
): Follower[] {
  const people = peopleOfRule(file, rule).map(name =>
    performers.findIndex(one => one.name === name),
  );
  const optionsOf = (p: number) => followOptionsOf(mapping, certain(performers[p]));
  if (rule.order !== undefined) {
    return targets.slice(0, people.length).map((head, i): Follower => {
      const performer = certain(people[i]);
      return { kind: 'follow', performer, when, heads: [head], ...optionsOf(performer) };
    });
  }
  const choice = {
    rule: ruleOf(file, rule, at, fixtures, performers),
    people,
    offsets: people.map(p => optionsOf(p).offset),
    holdS: rule.hold,
    change: rule.change,
  };
  const performer = certain(people[0]);
  return targets.map(head => ({
    kind: 'follow',
    performer,
    choice,
    when,
    heads: [head],
    ...optionsOf(performer),
  }));
}

/** Names of those of whom a rule chooses. */
export function peopleOfRule(file: ShowFile, rule: RuleFile): string[] {
  const { nearest, first, order, middle, share } = rule;
  const people = nearest ?? first ?? order ?? middle ?? share;
  return people === undefined ? [] : peopleOf(file, people);
}

function ruleOf(
  file: ShowFile,
  { nearest, to, first, in: zone, middle }: RuleFile,
  at: number,
  fixtures: readonly FixturePlan[],
  performers: readonly PerformerPlan[],
): FollowRule {
  if (middle !== undefined) return { kind: 'middle' };
  if (first !== undefined) {
    return { kind: 'first', zone: Object.keys(file.zones).indexOf(certain(zone)) };
  }
  if (nearest === undefined) return { kind: 'share', pool: at };
  const place = certain(to);
  if (typeof place !== 'string') return { kind: 'nearest', to: vec3(...place) };
  const performer = performers.findIndex(({ name }) => name === place);
  if (performer >= 0) return { kind: 'nearest', to: performer };
  const { palettes } = file;
  if (Object.hasOwn(palettes.points, place)) {
    return { kind: 'nearest', to: vec3(...placeOf(certain(palettes.points[place]))) };
  }
  const fixture = fixtures.find(({ name }) => name === place);
  return { kind: 'nearest', to: certain(fixture?.position) };
}
