import { nameMeant } from '../problems/names.js';
import type { Finding } from '../problems/problem.js';
import type { ShowFile } from '../schema/schema.js';
import { ANYBODY, EACH } from '../schema/signals.js';

/** Groups: each is of performers or of fixtures, and has a name of its own. */
export function checkGroups(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  const isPerformer = (name: string) => Object.hasOwn(show.performers, name);
  const isFixture = (name: string) => Object.hasOwn(show.fixtures, name);
  const all = [...Object.entries(show.performers), ...Object.entries(show.fixtures)].map(
    ([name, { label }]) => ({ name, label }),
  );
  for (const [group, members] of Object.entries(show.groups)) {
    const path = ['groups', group];
    const taken = isPerformer(group) ? 'a performer' : isFixture(group) ? 'a fixture' : undefined;
    const reserved = [ANYBODY, EACH].includes(group);
    if (taken !== undefined || reserved) {
      findings.push({
        code: 'group-name',
        message: reserved
          ? `a group can't be called "${group}", which has a meaning of its own in a show file; give it another name.`
          : `group "${group}" has the name of ${taken}; give it a name of its own.`,
        path,
        atKey: true,
      });
    }
    members.forEach((name, i) => {
      const at = [...path, i];
      if (members.indexOf(name) < i) {
        findings.push({
          code: 'group-members',
          message: `"${name}" is in group "${group}" twice.`,
          path: at,
        });
      }
      if (isPerformer(name) || isFixture(name)) return;
      const isGroup = Object.hasOwn(show.groups, name);
      findings.push({
        code: isGroup ? 'group-members' : 'unknown-name',
        message: isGroup
          ? `"${name}" is a group, and groups hold performers or fixtures; list them here.`
          : `there is no performer or fixture "${name}".${nameMeant(name, all)}`,
        path: at,
      });
    });
    const known = members.filter(name => isPerformer(name) || isFixture(name));
    const [performers, fixtures] = [known.filter(isPerformer), known.filter(isFixture)];
    if (performers.length === known.length || fixtures.length === known.length) continue;
    const odd = known.find(name => isPerformer(name) !== isPerformer(known[0] as string)) as string;
    findings.push({
      code: 'group-members',
      message: `group "${group}" has performers and fixtures: "${known[0]}" is a ${isPerformer(known[0] as string) ? 'performer' : 'fixture'} and "${odd}" a ${isPerformer(odd) ? 'performer' : 'fixture'}. Make it two groups.`,
      path: [...path, members.indexOf(odd)],
    });
  }
  return findings;
}
