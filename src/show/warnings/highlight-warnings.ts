import type { FixturePlan, Show } from '../model/model.js';
import { isShut, isShutter } from '../model/shutter.js';
import type { Finding } from '../problems/problem.js';

/** Profiles whose highlight nobody would see because a shutter stays closed: reported for the first fixture that has it. */
export function highlightWarnings({ fixtures }: Pick<Show, 'fixtures'>): Finding[] {
  const told = new Set<string>();
  return fixtures.flatMap((plan): Finding[] => {
    const { inFile, profileInFile } = plan;
    const why = shutBy(plan);
    if (why === undefined || told.has(profileInFile.name)) return [];
    told.add(profileInFile.name);
    const message = `fixture "${inFile}" stays dark when it is highlighted: ${why}.`;
    return [{ code: 'highlight-shut', message, path: ['fixtures', inFile], atKey: true }];
  });
}

function shutBy({ profile, profileInFile, base, hazards }: FixturePlan): string | undefined {
  const { name } = profileInFile;
  for (const [c, channel] of profile.channels.entries()) {
    // Hazardous outputs stay off anyway.
    if (!isShutter(channel) || hazards[c] !== 'ordinary') continue;
    const { attribute, highlight } = channel;
    if (highlight !== undefined) {
      if (isShut(channel, highlight))
        return `the \`highlight\` of its profile "${name}" leaves ${attribute} closed`;
    } else if (isShut(channel, base[c] ?? channel.default)) {
      return `its ${attribute} is closed in base, and its profile "${name}" has no \`highlight\` for it`;
    }
  }
  return undefined;
}
