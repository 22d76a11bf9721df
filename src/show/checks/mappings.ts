import { nameMeant } from '../names.js';
import type { Finding, Path } from '../problem.js';
import { profileFor, profilesOf } from '../profiles.js';
import type { MappingFile, ShowFile } from '../schema.js';
import { type FixtureFault, together } from './fixture-faults.js';
import { hasPanAndTilt } from './fixtures.js';
import { checkFollowOptics, heldBy } from './follow-optics.js';
import { checkValues } from './looks.js';

/** Names, values and conflicts of the mappings. */
export function checkMappings(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  const profiles = profilesOf(show);
  const followed = new Map<string, string>();
  /** Attributes of fixtures that come from following: "fixture/attribute". */
  const held = new Set<string>();
  show.mappings.forEach((mapping, index) => {
    const path = ['mappings', index];
    findings.push(...checkNames(show, mapping, path));
    if ('curve' in mapping && typeof mapping.curve !== 'string') {
      findings.push(...checkGrowth(mapping.curve, [...path, 'curve']));
    }
    const faults: FixtureFault[] = [];
    mapping.fixtures.forEach((name, at) => {
      const fixture = show.fixtures[name];
      const profile = fixture && profileFor(profiles, fixture);
      if (fixture === undefined || profile === undefined) return;
      faults.push(...checkValues(mapping.set, profile, name, [...path, 'set']));
      if (!('follow' in mapping)) return;
      const other = followed.get(name);
      if (other !== undefined) {
        findings.push({
          code: 'follow-conflict',
          message: `fixture "${name}" follows "${other}" already; a head can follow one performer.`,
          path: [...path, 'fixtures', at],
        });
      }
      followed.set(name, mapping.follow);
      for (const attribute of heldBy(mapping)) held.add(`${name}/${attribute}`);
      // What is no head at all is said once.
      if (hasPanAndTilt(profile)) findings.push(...checkFollowOptics(mapping, profile, name, path));
    });
    findings.push(...together(faults));
    if ('follow' in mapping && mapping.focus !== undefined) {
      findings.push(...checkGrowth(mapping.focus, [...path, 'focus']));
    }
  });

  show.mappings.forEach((mapping, index) => {
    for (const attribute of Object.keys(mapping.set)) {
      const head = mapping.fixtures.find(name => held.has(`${name}/${attribute}`));
      if (head === undefined) continue;
      findings.push({
        code: 'follow-conflict',
        message: `${attribute} of fixture "${head}" comes from following "${followed.get(head)}" and can't be set as well.`,
        path: ['mappings', index, 'set', attribute],
        atKey: true,
      });
    }
  });
  return findings;
}

/** The first numbers of points must grow. */
function checkGrowth(points: readonly (readonly [number, number])[], path: Path): Finding[] {
  const back = points.findIndex(([x], i) => i > 0 && x <= (points[i - 1]?.[0] as number));
  if (back <= 0) return [];
  const what = path.at(-1) === 'curve' ? 'the curve' : 'the focus';
  return [
    {
      code: 'curve-order',
      message: `point ${back + 1} of ${what} isn't after point ${back}; the first number must grow from point to point.`,
      path: [...path, back],
    },
  ];
}

const ONE_IS_FOLLOWED =
  ' A head follows one performer, who is named; write a follow mapping for each that has a head of their own.';

function checkNames(show: ShowFile, mapping: MappingFile, path: Path): Finding[] {
  const findings: Finding[] = [];
  const known = (kind: 'performer' | 'zone' | 'fixture', name: string, at: Path, hint = '') => {
    const there = Object.entries(show[`${kind}s`]).map(([key, one]) => {
      return { name: key, label: one.label };
    });
    if (there.some(one => one.name === name)) return;
    findings.push({
      code: 'unknown-name',
      message: `there is no ${kind} "${name}".${nameMeant(name, there)}${hint}`,
      path: at,
    });
  };
  if ('follow' in mapping) {
    const hint = /^(any|all|everybody)$/.test(mapping.follow) ? ONE_IS_FOLLOWED : '';
    known('performer', mapping.follow, [...path, 'follow'], hint);
  } else {
    known('zone', mapping.zone, [...path, 'zone']);
    if (mapping.performers !== 'any') {
      mapping.performers.forEach((name, i) => {
        known('performer', name, [...path, 'performers', i]);
      });
    }
  }
  mapping.fixtures.forEach((name, i) => {
    known('fixture', name, [...path, 'fixtures', i]);
    if (show.fixtures[name]?.unpatched !== true) return;
    findings.push({
      code: 'fixture-unpatched',
      message: `fixture "${name}" is unpatched, so nothing would be sent to it: give it a universe and an address and take unpatched away, or leave it out here.`,
      path: [...path, 'fixtures', i],
    });
  });
  return findings;
}
