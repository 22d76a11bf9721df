import type { Show } from '../model/model.js';
import type { Finding } from '../problems/problem.js';

/** Names of fixtures, with one name for all cells of a fixture if all of them are listed. */
export function wholeNames(
  { fixtures }: Pick<Show, 'fixtures'>,
  names: readonly string[],
): string[] {
  const given = new Set(names);
  const isAll = (inFile: string) =>
    fixtures.every(
      one => one.inFile !== inFile || one.name === `${inFile}-body` || given.has(one.name),
    );
  const inFileOf = new Map(fixtures.map(({ name, inFile }) => [name, inFile]));
  const wholes = names.map(name => {
    const inFile = inFileOf.get(name) ?? name;
    return inFile !== name && isAll(inFile) ? inFile : name;
  });
  return [...new Set(wholes)];
}

/**
 * Profiles where a channel has fewer copies than there are cells, and not one copy for the same number of cells each:
 * somebody forgot a copy. Reported for the first fixture that has it.
 */
export function cellWarnings({ fixtures }: Pick<Show, 'fixtures'>): Finding[] {
  const seen = new Set<string>();
  return fixtures.flatMap(({ name, inFile, profileInFile: { name: profile, channels } }) => {
    if (seen.has(profile)) return [];
    seen.add(profile);
    const cells = 1 + Math.max(0, ...channels.map(({ copies }) => copies.length));
    const most = channels.find(({ copies }) => copies.length === cells - 1)?.attribute;
    return channels.flatMap(({ attribute, copies }): Finding[] => {
      const count = copies.length + 1;
      if (count === 1 || cells % count === 0) return [];
      const all = name === inFile ? 'so the other cells have none' : 'so no cell has its own';
      const message = `profile "${profile}" of fixture "${inFile}": it has ${attribute} ${count} times but ${most} ${cells} times, ${all}. List each further cell in \`copies\`.`;
      return [{ code: 'copies-uneven', message, path: ['fixtures', inFile], atKey: true }];
    });
  });
}
