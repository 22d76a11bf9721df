import { own } from '../../stage/own.js';
import { attributesOf } from '../palettes/look-values.js';
import type { Finding, Path } from '../problems/problem.js';
import {
  groupOf,
  kindOfGroup,
  type Member,
  membersOf,
  namesOf,
  peopleOf,
} from '../resolve/groups.js';
import { mastersOf } from '../resolve/mappings.js';
import { profileFor, profilesOf } from '../resolve/profiles.js';
import { signalFigures } from '../resolve/signal-figures.js';
import type { FollowMappingFile, MappingFile } from '../schema/mappings.js';
import type { ShowFile } from '../schema/schema.js';
import { Answers } from './can-be-yes.js';
import { actTogether } from './cues.js';
import { checkGrowth } from './curves.js';
import { checkDriven } from './driven.js';
import { type FixtureFault, together } from './fixture-faults.js';
import { hasPanAndTilt } from './fixtures.js';
import { checkFollowOptics, checkRoom, heldBy } from './follow-optics.js';
import { checkValues } from './looks.js';
import { NameCheck } from './names.js';
import { checkRule } from './rules.js';
import { checkPresence, ownZone } from './signals.js';
import { checkAimedOnce } from './targets.js';

/** Names, values and conflicts of the mappings. */
export function checkMappings(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  const profiles = profilesOf(show);
  /** By fixture, the mappings by which it follows somebody. */
  const followed = new Map<string, { readonly whom: string; readonly index: number }[]>();
  /** Attributes of fixtures that come from following: "fixture/attribute", and by which mappings. */
  const held = new Map<string, number[]>();
  const names = new NameCheck(show);
  const figures = signalFigures(show);
  const answers = new Answers(show);
  show.mappings.forEach((mapping, index) => {
    const path = ['mappings', index];
    const members = membersOf(show, mapping.fixtures, 'fixtures');
    findings.push(...checkNames(names, mapping, members, path));
    findings.push(...checkDriven(names, figures, answers, mapping, members, path));
    if ('curve' in mapping && typeof mapping.curve !== 'string') {
      findings.push(...checkGrowth(mapping.curve, [...path, 'curve']));
    }
    const faults: FixtureFault[] = [];
    members.forEach(({ name, at }) => {
      const fixture = own(show.fixtures, name);
      const profile = fixture && profileFor(profiles, fixture);
      if (fixture === undefined || profile === undefined) return;
      const from = 'from' in mapping ? mapping.from : undefined;
      for (const [key, look] of Object.entries({ set: mapping.set, ...(from && { from }) })) {
        faults.push(...checkValues(look, profile, name, [...path, key], show.palettes));
        findings.push(...checkAimedOnce(name, look, [...path, key]));
      }
      if (!('follow' in mapping)) return;
      const others = followed.get(name) ?? [];
      const other = others.find(one => actTogether(show, one.index, index));
      if (other !== undefined) {
        findings.push({
          code: 'follow-conflict',
          message: `fixture "${name}" follows "${other.whom}" already; a head can follow only one performer${Object.keys(show.cues).length === 0 ? '' : ' in a cue'}.`,
          path: [...path, 'fixtures', at],
        });
      }
      followed.set(name, [...others, { whom: whomOf(mapping.follow), index }]);
      for (const attribute of heldBy(mapping)) {
        const key = `${name}/${attribute}`;
        held.set(key, [...(held.get(key) ?? []), index]);
      }
      // A fixture that is no head at all is reported once.
      if (hasPanAndTilt(profile)) findings.push(...checkFollowOptics(mapping, profile, name, path));
    });
    findings.push(...together(faults));
    if ('follow' in mapping && mapping.focus !== undefined) {
      findings.push(...checkGrowth(mapping.focus, [...path, 'focus']));
    }
  });

  show.mappings.forEach((mapping, index) => {
    const attributes = Object.keys(mapping.set).flatMap(word =>
      attributesOf(word).map(attribute => ({ word, attribute })),
    );
    const told = new Set<string>();
    for (const { word, attribute } of attributes) {
      const holderOf = (name: string) =>
        held.get(`${name}/${attribute}`)?.find(other => actTogether(show, other, index));
      if (told.has(word)) continue;
      const head = namesOf(show, mapping.fixtures, 'fixtures').find(
        name => holderOf(name) !== undefined,
      );
      if (head === undefined) continue;
      told.add(word);
      const holder = show.mappings[holderOf(head) as number];
      const whom = holder !== undefined && 'follow' in holder ? whomOf(holder.follow) : '';
      findings.push({
        code: 'follow-conflict',
        message: `${attribute} of fixture "${head}" comes from following "${whom}" and can't be set as well${word === attribute ? '' : `, as ${word} does`}.`,
        path: ['mappings', index, 'set', word],
        atKey: true,
      });
    }
  });
  return [...names.findings, ...findings];
}

/** Masters over fixtures, which are mappings of their own. */
export function checkMasters(show: ShowFile): Finding[] {
  const whole = { ...show, mappings: mastersOf(show) };
  return checkMappings(whole).map(finding => {
    const [, index = 0, key] = finding.path;
    // Nobody has written what it sets.
    const isUnsaid = key === 'set' || key === 'from';
    const path = ['masters', index, ...finding.path.slice(2)];
    return isUnsaid
      ? { ...finding, path: ['masters', index, 'fixtures'], atKey: false }
      : { ...finding, path };
  });
}

/** A performer, or those a rule chooses from. */
function whomOf(follow: FollowMappingFile['follow']): string {
  if (typeof follow === 'string') return follow;
  const { nearest, first, order, middle, share } = follow;
  return [nearest ?? first ?? order ?? share ?? middle ?? []].flat().join(', ');
}

const ONE_IS_FOLLOWED =
  ' A head follows one performer, who is named, or chooses one: follow: { share: any }.';

/** @param members the fixtures that it names, groups taken apart */
function checkNames(
  names: NameCheck,
  mapping: MappingFile,
  members: readonly Member[],
  path: Path,
): Finding[] {
  const { show } = names;
  const findings: Finding[] = [];
  if ('follow' in mapping) {
    const { follow, beam } = mapping;
    findings.push(...checkRoom(mapping, path));
    if (typeof follow === 'string') {
      const isGroup = kindOfGroup(show, follow) === 'performers' && groupOf(show, follow);
      const hint = /^(any|all|everybody)$/.test(follow)
        ? ONE_IS_FOLLOWED
        : isGroup
          ? ` Heads that choose among them: follow: { share: ${follow} }.`
          : '';
      names.one('performers', follow, [...path, 'follow'], hint);
    } else {
      const hasCover = beam?.cover !== undefined;
      findings.push(...checkRule(names, follow, members.length, hasCover, [...path, 'follow']));
    }
  }
  if ('zone' in mapping) {
    const { zone, performers } = mapping;
    findings.push(...checkPresence(names, zone, undefined, undefined, path, 'zone'));
    if (performers !== 'any') names.people(performers, [...path, 'performers']);
    findings.push(...ownZone(show, zone, peopleOf(show, performers), [...path, 'performers']));
  }
  names.list('fixtures', mapping.fixtures, [...path, 'fixtures']);
  for (const { name, at } of members) {
    if (own(show.fixtures, name)?.unpatched !== true) continue;
    findings.push({
      code: 'fixture-unpatched',
      message: `fixture "${name}" is unpatched, so nothing would be sent to it: give it a universe and an address and remove unpatched, or leave it out here.`,
      path: [...path, 'fixtures', at],
    });
  }
  return findings;
}
